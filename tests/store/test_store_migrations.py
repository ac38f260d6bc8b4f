"""A store of an earlier version is brought up to date with everything that it held."""

import datetime
import json
from collections.abc import Callable
from dataclasses import replace
from hashlib import sha256

import pytest
from alembic import command
from sqlalchemy import inspect

from wearfit.calibration import STACKED, from_bytes, to_bytes
from wearfit.demo.shipped import shipped_calibration_bytes
from wearfit.law import LAWS
from wearfit.records.choices import Choices
from wearfit.records.findings import Finding
from wearfit.records.identity import Row
from wearfit.store.address import address_of
from wearfit.store.engine import Database
from wearfit.store.schema import HEAD
from wearfit.store.store import Store
from wearfit.store.upgrade import alembic_config

_RUN = {"tool_id": "A1", "plant_id": "north", "resin_id": "abs", "started_on": "2020-01-01", "ended_on": "2020-01-01", "shots": "10"}
_KEY = json.dumps(["A1", "north", "abs", "2020-01-01"])


@pytest.fixture
def first_store(url: str, raw: Callable) -> str:
    """A store made by the first schema, with one upload whose row has two versions, one finding and one calibration."""
    database = Database(address_of(url))
    with database.writing() as connection:
        command.upgrade(alembic_config(connection), "0001")
        assert "source" not in {column["name"] for column in inspect(connection).get_columns("row_versions")}
    database.close()
    zone = "+00" if "://" in url else ""
    first, second = f"'2026-01-01 00:00:00.000000{zone}'", f"'2026-01-02 00:00:00.000000{zone}'"
    raw(f"INSERT INTO uploads VALUES (1, 'history', 'd', {first}, :counts)", {"counts": '{"runs":1}'})
    for version, shots in ((1, "9"), (2, "10")):
        values = {"key": _KEY, "version": version, "values": json.dumps({**_RUN, "shots": shots})}
        raw("INSERT INTO row_versions VALUES ('runs', :key, 0, :version, :values, 1, 2)", values)
    raw("INSERT INTO findings VALUES (1, 1, 'runs', 2, 'shots', '10', 'Few.', 'Check.', 'note')")
    raw(
        f"INSERT INTO calibrations VALUES (1, {second}, '2026-01-01', 'f', true, '[]', 1, 0, 1, '1', 1, :sha256, :content)",
        {"sha256": sha256(b"").hexdigest(), "content": b""},
    )
    raw(f"INSERT INTO current_calibrations VALUES (1, 1, {second})")
    if "://" in url:  # numbers given by hand, which a server's own count does not see
        for table in ("uploads", "findings", "calibrations", "current_calibrations"):
            raw(f"SELECT setval('{table}_id_seq', 1)")
    return url


def _revision(raw: Callable) -> str:
    return str(raw("SELECT version_num FROM alembic_version")[0][0])


def test_a_store_of_the_first_version_keeps_what_it_held(first_store: str, raw: Callable) -> None:
    assert _revision(raw) == "0001"
    with Store.open(first_store, must_exist=True) as store:
        assert store.rows() == [Row("runs", _KEY, 0, _RUN, 2, "")]
        assert store.findings(1) == (Finding("runs", 2, "shots", "10", "Few.", "Check.", "note", ""),)
        assert store.calibration().id == 1
        assert store.choices() == Choices()
    assert _revision(raw) == HEAD
    assert raw("SELECT version, withdrawn FROM row_versions ORDER BY 1") == [(1, False), (2, False)]
    if "://" not in first_store:
        assert raw("PRAGMA foreign_key_check") == []
        assert raw("PRAGMA integrity_check") == [("ok",)]


def test_what_comes_after_the_upgrade_joins_what_was_there(first_store: str, runs: Callable, upload_of: Callable) -> None:
    with Store.open(first_store) as store:
        outcome = store.add_upload(upload_of(runs([10, 20])))
        assert (outcome.new, outcome.unchanged) == (1, 1)
        assert [row.values["shots"] for row in store.rows()] == ["10", "20"]


def test_an_upgrade_that_fails_leaves_the_store_as_it_was(first_store: str, content: Callable, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*arguments: object, **named: object) -> None:
        raise RuntimeError("stopped")

    before = content()
    with monkeypatch.context() as patch:
        # The table of choices has been made by then.
        patch.setattr("alembic.operations.base.BatchOperations.add_column", fail)
        with pytest.raises(RuntimeError, match="stopped"):
            Store.open(first_store)
    assert content() == before
    with Store.open(first_store) as store:
        assert len(store.rows()) == 1


def test_a_withdrawn_row_does_not_come_back_as_an_empty_one_in_the_older_schema(
    url: str, raw: Callable, runs: Callable, upload_of: Callable
) -> None:
    whole = upload_of(runs([10, 20]))
    with Store.open(url) as store:
        store.add_upload(whole)
        store.add_upload(type(whole)(whole.name, whole.digest, whole.files, whole.rows[:1], (), {"runs": 2}))
        assert len(store.rows()) == 1
    database = Database(address_of(url))
    with database.writing() as connection:
        command.downgrade(alembic_config(connection), "0001")
    database.close()
    kept = [json.loads(values) for (values,) in raw("SELECT values_json FROM row_versions ORDER BY key")]
    assert [values["shots"] for values in kept] == ["10", "20"]


@pytest.mark.parametrize("law", [*LAWS, STACKED])
def test_the_law_of_a_calibration_that_was_kept_before_is_told_by_itself(url: str, raw: Callable, summary: Callable, law: str) -> None:
    made = from_bytes(shipped_calibration_bytes())
    blobs = (to_bytes(replace(made, identity=replace(made.identity, wear_law=law))), b"no calibration")
    with Store.open(url) as store:
        for blob in blobs:
            store.add_calibration(blob, summary(law=None), make_current=True)
    database = Database(address_of(url))
    with database.writing() as connection:
        command.downgrade(alembic_config(connection), "0006")
    database.close()
    with Store.open(url) as store:
        assert [entry.summary.law for entry in store.calibrations()] == [law, None]
        assert store.calibration(1).blob == blobs[0]


def test_times_of_an_earlier_version_are_read(first_store: str) -> None:
    with Store.open(first_store) as store:
        (stored,) = store.uploads()
    assert stored.at == datetime.datetime(2026, 1, 1, tzinfo=datetime.UTC)
