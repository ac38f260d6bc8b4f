"""What the user decided is kept until decided otherwise, and so is what held before."""

import sqlite3
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from wearfit.records.choices import Choices, CountChoice
from wearfit.store.store import Store

_FIRST = Choices(
    tables={"Formenliste": "tools"}, dates={"runs": {"started_on": "day month year"}}, counts=(CountChoice("A1", "parts", "north"),)
)
_SECOND = Choices(dates={"runs": {"started_on": "month day year"}}, encodings={"runs.csv": "cp1250"})


def _contents(raw: Callable) -> list[str]:
    return [content for (content,) in raw("SELECT content FROM choices ORDER BY id")]


def test_decisions_stand_until_decided_otherwise_and_their_history_stays(url: str, raw: Callable) -> None:
    with Store.open(url) as store:
        assert store.choices() == Choices()
        assert store.keep_choices(_FIRST) == _FIRST
        both = store.keep_choices(_SECOND)
    with Store.open(url) as store:
        assert store.choices() == both == _FIRST.later(_SECOND)
        assert store.choices().date_order_of("runs", "started_on") == "month day year"
        assert store.choices().counted_in("A1", "north") == "parts"
        store.keep_choices(_SECOND)
        store.keep_choices(Choices())
    assert _contents(raw) == [_FIRST.to_json(), both.to_json()]


def test_uploads_and_their_choices_are_kept_together_or_not_at_all(url: str, runs: Callable, upload_of: Callable) -> None:
    good = upload_of(runs([10]))
    broken = upload_of([replace(runs([1], "south")[0], row=None)])
    with Store.open(url) as store:
        with pytest.raises(Exception, match=r"(?i)not.null"):
            store.add_uploads([good, broken], _FIRST)
        assert store.choices() == Choices()
        assert store.rows() == []
        (outcome,) = store.add_uploads([good], _FIRST)
        assert outcome.new == 1
        assert store.choices() == _FIRST


def test_a_store_that_may_not_be_there(path: Path) -> None:
    assert Store.open_if_there(str(path)) is None
    path.write_bytes(b"")
    assert Store.open_if_there(str(path)) is None
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE t (x)")
        other.execute("DROP TABLE t")
    other.close()
    assert Store.open_if_there(str(path)) is None
    path.unlink()
    Store.open(str(path)).close()
    store = Store.open_if_there(str(path))
    assert store is not None
    store.close()


@pytest.mark.server
def test_a_store_that_may_not_be_in_its_database(database: str) -> None:
    assert Store.open_if_there(database) is None
    Store.open(database).close()
    store = Store.open_if_there(database)
    assert store is not None
    store.close()
