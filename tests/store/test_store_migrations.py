"""A store of an earlier version is brought up to date with everything that it held."""

import datetime
import json
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from alembic import command
from sqlalchemy import inspect

from wearfit.records.choices import Choices
from wearfit.records.findings import Finding
from wearfit.records.identity import Row
from wearfit.store.engine import Database
from wearfit.store.schema import HEAD
from wearfit.store.store import Store
from wearfit.store.upgrade import alembic_config

_RUN = {"tool_id": "A1", "plant_id": "north", "resin_id": "abs", "started_on": "2020-01-01", "ended_on": "2020-01-01", "shots": "10"}
_KEY = json.dumps(["A1", "north", "abs", "2020-01-01"])


@pytest.fixture
def first_store(path: Path) -> Path:
    """A store made by the first schema, with one upload whose row has two versions, one finding and one calibration."""
    database = Database(path)
    with database.writing() as connection:
        command.upgrade(alembic_config(connection), "0001")
        assert "source" not in {column["name"] for column in inspect(connection).get_columns("row_versions")}
    database.close()
    with sqlite3.connect(path) as raw:
        raw.execute("INSERT INTO uploads VALUES (1, 'history', 'd', '2026-01-01 00:00:00.000000', '{\"runs\":1}')")
        for version, shots in ((1, "9"), (2, "10")):
            raw.execute("INSERT INTO row_versions VALUES ('runs', ?, 0, ?, ?, 1, 2)", (_KEY, version, json.dumps({**_RUN, "shots": shots})))
        raw.execute("INSERT INTO findings VALUES (1, 1, 'runs', 2, 'shots', '10', 'Few.', 'Check.', 'note')")
        raw.execute(
            "INSERT INTO calibrations VALUES (1, '2026-01-02 00:00:00.000000', '2026-01-01', 'f', 1, '[]', 1, 0, 1, '1', 1, ?, x'')",
            ("e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",),  # SHA-256 of nothing
        )
        raw.execute("INSERT INTO current_calibrations VALUES (1, 1, '2026-01-02 00:00:00.000000')")
    raw.close()
    return path


def _revision(path: Path) -> str:
    with sqlite3.connect(path) as raw:
        (found,) = raw.execute("SELECT version_num FROM alembic_version").fetchone()
    raw.close()
    return str(found)


def test_a_store_of_the_first_version_keeps_what_it_held(first_store: Path) -> None:
    assert _revision(first_store) == "0001"
    with Store.open(str(first_store), must_exist=True) as store:
        assert store.rows() == [Row("runs", _KEY, 0, _RUN, 2, "")]
        assert store.findings(1) == (Finding("runs", 2, "shots", "10", "Few.", "Check.", "note", ""),)
        assert store.calibration().id == 1
        assert store.choices() == Choices()
    assert _revision(first_store) == HEAD
    with sqlite3.connect(first_store) as raw:
        assert raw.execute("SELECT version, withdrawn FROM row_versions ORDER BY 1").fetchall() == [(1, 0), (2, 0)]
        assert raw.execute("PRAGMA foreign_key_check").fetchall() == []
        assert raw.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    raw.close()


def test_what_comes_after_the_upgrade_joins_what_was_there(first_store: Path, runs: Callable, upload_of: Callable) -> None:
    with Store.open(str(first_store)) as store:
        outcome = store.add_upload(upload_of(runs([10, 20])))
        assert (outcome.new, outcome.unchanged) == (1, 1)
        assert [row.values["shots"] for row in store.rows()] == ["10", "20"]


def test_an_upgrade_that_fails_leaves_the_store_as_it_was(first_store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*arguments: object, **named: object) -> None:
        raise RuntimeError("stopped")

    with sqlite3.connect(first_store) as raw:
        before = list(raw.iterdump())
    raw.close()
    with monkeypatch.context() as patch:
        # The table of choices has been made by then.
        patch.setattr("alembic.operations.base.BatchOperations.add_column", fail)
        with pytest.raises(RuntimeError, match="stopped"):
            Store.open(str(first_store))
    with sqlite3.connect(first_store) as raw:
        assert list(raw.iterdump()) == before
    raw.close()
    with Store.open(str(first_store)) as store:
        assert len(store.rows()) == 1


def test_a_withdrawn_row_does_not_come_back_as_an_empty_one_in_the_older_schema(path: Path, runs: Callable, upload_of: Callable) -> None:
    whole = upload_of(runs([10, 20]))
    with Store.open(str(path)) as store:
        store.add_upload(whole)
        store.add_upload(type(whole)(whole.name, whole.digest, whole.files, whole.rows[:1], (), {"runs": 2}))
        assert len(store.rows()) == 1
    database = Database(path)
    with database.writing() as connection:
        command.downgrade(alembic_config(connection), "0001")
    database.close()
    with sqlite3.connect(path) as raw:
        kept = [json.loads(values) for (values,) in raw.execute("SELECT values_json FROM row_versions ORDER BY key")]
    raw.close()
    assert [values["shots"] for values in kept] == ["10", "20"]


def test_times_of_an_earlier_version_are_read(first_store: Path) -> None:
    with Store.open(str(first_store)) as store:
        (stored,) = store.uploads()
    assert stored.at == datetime.datetime(2026, 1, 1, tzinfo=datetime.UTC)
