"""Which calibration answers: only one that passed, is whole and is not older than the one before."""

import datetime
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from wearfit.errors import Refusal
from wearfit.store.store import Store

_MARCH, _APRIL = datetime.date(2026, 3, 1), datetime.date(2026, 4, 1)
_BLOB = bytes(range(256)) * 1000


@pytest.fixture
def store(path: Path) -> Iterator[Store]:
    with Store.open(str(path)) as store:
        yield store


def _history(path: Path) -> list[int]:
    with sqlite3.connect(path) as raw:
        found = raw.execute("SELECT calibration_id FROM current_calibrations ORDER BY id").fetchall()
    raw.close()
    return [calibration_id for (calibration_id,) in found]


def test_a_calibration_comes_back_as_it_went_in(store: Store, path: Path, summary: Callable) -> None:
    given = summary(passed=False, reasons=("R-hat of mu is 1.04.", "ESS of k is 97."))
    before = datetime.datetime.now(datetime.UTC)
    first = store.add_calibration(_BLOB, summary(), make_current=True)
    second = store.add_calibration(b"", given, make_current=False)
    with Store.open(str(path), must_exist=True) as again:
        back = again.calibration(first)
        assert (back.id, back.blob, back.summary, back.current) == (first, _BLOB, summary(), True)
        assert before <= back.made_at <= datetime.datetime.now(datetime.UTC)
        assert again.calibration(second).summary == given
        assert again.calibration() == back
        listed = again.calibrations()
    assert [(entry.id, entry.summary, entry.current) for entry in listed] == [(first, summary(), True), (second, given, False)]


def test_there_is_none_yet(store: Store, summary: Callable) -> None:
    assert store.current_id() is None
    with pytest.raises(Refusal, match="no calibration yet") as refused:
        store.calibration()
    assert "wearfit recalibrate PATH" in refused.value.repair
    store.add_calibration(_BLOB, summary(passed=False), make_current=True)
    with pytest.raises(Refusal, match="None of the store's calibrations"):
        store.calibration()
    with pytest.raises(Refusal, match="no calibration 8") as refused:
        store.calibration(8)
    assert refused.value.status == 2


@pytest.mark.parametrize("override_older", [False, True])
def test_one_that_failed_is_kept_but_never_answers(store: Store, path: Path, summary: Callable, override_older: bool) -> None:
    good = store.add_calibration(_BLOB, summary(), make_current=True)
    failed = store.add_calibration(_BLOB, summary(passed=False, reasons=("R-hat of mu is 1.04",)), True, override_older)
    assert store.current_id() == good
    with pytest.raises(Refusal, match=f"Calibration {failed} did not pass the gate.*R-hat of mu is 1.04"):
        store.use(failed)
    assert _history(path) == [good]
    assert store.calibration(failed).blob == _BLOB


def test_an_older_day_does_not_answer_unless_wanted(store: Store, summary: Callable) -> None:
    april = store.add_calibration(_BLOB, summary(as_of=_APRIL), make_current=True)
    march = store.add_calibration(_BLOB, summary(as_of=_MARCH), make_current=True)
    assert store.current_id() == april
    same_day = store.add_calibration(_BLOB, summary(as_of=_APRIL), make_current=True)
    assert store.current_id() == same_day
    wanted = store.add_calibration(_BLOB, summary(as_of=_MARCH), make_current=True, override_older=True)
    assert store.current_id() == wanted != march


def test_going_back_is_a_line_of_history(store: Store, path: Path, summary: Callable) -> None:
    first = store.add_calibration(_BLOB, summary(as_of=_MARCH), make_current=True)
    second = store.add_calibration(_BLOB, summary(as_of=_APRIL), make_current=True)
    kept = store.add_calibration(_BLOB, summary(as_of=_APRIL), make_current=False)
    assert store.current_id() == second
    store.use(first)
    store.use(first)
    assert store.calibration().id == first
    store.use(kept)
    assert [entry.current for entry in store.calibrations()] == [False, False, True]
    assert _history(path) == [first, second, first, kept]


def test_a_damaged_one_is_named_and_never_served(store: Store, path: Path, summary: Callable) -> None:
    good = store.add_calibration(_BLOB, summary(), make_current=True)
    bad = store.add_calibration(_BLOB, summary(), make_current=False)
    with sqlite3.connect(path) as raw:  # one bit of 256,000 bytes
        raw.execute(
            "UPDATE calibrations SET content = ? WHERE id = ?", (_BLOB[:99_999] + bytes([_BLOB[99_999] ^ 1]) + _BLOB[100_000:], bad)
        )
    raw.close()
    for ask in (store.calibration, store.use):
        with pytest.raises(Refusal, match=f"Calibration {bad}.* is damaged"):
            ask(bad)
    assert store.calibration().id == good
    assert [entry.id for entry in store.calibrations()] == [good, bad]


def test_not_kept_at_all_if_it_cannot_be_made_current(store: Store, path: Path, summary: Callable) -> None:
    with sqlite3.connect(path) as raw:
        raw.execute("CREATE TRIGGER no BEFORE INSERT ON current_calibrations BEGIN SELECT RAISE(ABORT, 'no'); END")
    raw.close()
    with pytest.raises(Exception, match="no"):
        store.add_calibration(_BLOB, summary(), make_current=True)
    assert store.calibrations() == []


def test_settings(store: Store, path: Path) -> None:
    assert store.setting("tolerance") is None
    store.set_setting("tolerance", "0.2")
    store.set_setting("tolerance", "0.05")
    store.set_setting("currency", "€")
    with Store.open(str(path)) as again:
        assert (again.setting("tolerance"), again.setting("currency")) == ("0.05", "€")
    store.set_setting("tolerance", None)
    assert (store.setting("tolerance"), store.setting("currency")) == (None, "€")
