"""Which calibration answers: only one that passed, is whole and is not older than the one before."""

import datetime
from collections.abc import Callable, Iterator

import pytest

from wearfit.errors import Refusal
from wearfit.store.actor import acting_as
from wearfit.store.store import Store

_MARCH, _APRIL = datetime.date(2026, 3, 1), datetime.date(2026, 4, 1)
_BLOB = bytes(range(256)) * 1000


@pytest.fixture
def store(url: str) -> Iterator[Store]:
    with Store.open(url) as store:
        yield store


def _history(raw: Callable) -> list[int]:
    return [calibration_id for (calibration_id,) in raw("SELECT calibration_id FROM current_calibrations ORDER BY id")]


def test_a_calibration_comes_back_as_it_went_in(store: Store, url: str, summary: Callable) -> None:
    given = summary(passed=False, reasons=("R-hat of mu is 1.04.", "ESS of k is 97."))
    before = datetime.datetime.now(datetime.UTC)
    first = store.add_calibration(_BLOB, summary(), make_current=True)
    second = store.add_calibration(b"", given, make_current=False)
    with Store.open(url, must_exist=True) as again:
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
def test_one_that_failed_is_kept_but_never_answers(store: Store, raw: Callable, summary: Callable, override_older: bool) -> None:
    good = store.add_calibration(_BLOB, summary(), make_current=True)
    failed = store.add_calibration(_BLOB, summary(passed=False, reasons=("R-hat of mu is 1.04",)), True, override_older)
    assert store.current_id() == good
    with pytest.raises(Refusal, match=f"Calibration {failed} did not pass the gate.*R-hat of mu is 1.04"):
        store.use(failed)
    assert _history(raw) == [good]
    assert store.calibration(failed).blob == _BLOB


def test_an_older_day_does_not_answer_unless_wanted(store: Store, summary: Callable) -> None:
    april = store.add_calibration(_BLOB, summary(as_of=_APRIL), make_current=True)
    march = store.add_calibration(_BLOB, summary(as_of=_MARCH), make_current=True)
    assert store.current_id() == april
    same_day = store.add_calibration(_BLOB, summary(as_of=_APRIL), make_current=True)
    assert store.current_id() == same_day
    wanted = store.add_calibration(_BLOB, summary(as_of=_MARCH), make_current=True, override_older=True)
    assert store.current_id() == wanted != march


def test_going_back_is_a_line_of_history(store: Store, raw: Callable, summary: Callable) -> None:
    first = store.add_calibration(_BLOB, summary(as_of=_MARCH), make_current=True)
    second = store.add_calibration(_BLOB, summary(as_of=_APRIL), make_current=True)
    kept = store.add_calibration(_BLOB, summary(as_of=_APRIL), make_current=False)
    assert store.current_id() == second
    store.use(first)
    store.use(first)
    assert store.calibration().id == first
    store.use(kept)
    assert [entry.current for entry in store.calibrations()] == [False, False, True]
    assert _history(raw) == [first, second, first, kept]


def test_a_damaged_one_is_named_and_never_served(store: Store, raw: Callable, summary: Callable) -> None:
    good = store.add_calibration(_BLOB, summary(), make_current=True)
    bad = store.add_calibration(_BLOB, summary(), make_current=False)
    one_bit_else = _BLOB[:99_999] + bytes([_BLOB[99_999] ^ 1]) + _BLOB[100_000:]
    raw("UPDATE calibrations SET content = :content WHERE id = :id", {"content": one_bit_else, "id": bad})
    for ask in (store.calibration, store.use):
        with pytest.raises(Refusal, match=f"Calibration {bad}.* is damaged"):
            ask(bad)
    assert store.calibration().id == good
    assert [entry.id for entry in store.calibrations()] == [good, bad]


def test_where_the_current_one_is_damaged_the_last_good_one_answers_and_it_is_said(store: Store, raw: Callable, summary: Callable) -> None:
    for blob in (b"first", b"second", b"third"):
        store.add_calibration(blob, summary(), make_current=True)
    store.add_calibration(b"failed", summary(passed=False), make_current=True)
    raw("UPDATE calibrations SET content = :content WHERE id > 1", {"content": b"spoilt"})
    assert store.instead_of() == ""
    back = store.calibration()
    assert (back.id, back.blob, back.current, store.current_id()) == (1, b"first", True, 1)
    assert "Calibration 3 is damaged in the store; calibration 1, the last good one before it, answers instead" in store.instead_of()
    assert [(line.did, line.about) for line in store.history()][-1] == ("fall back", "3")
    lines = len(store.history())
    with pytest.raises(Refusal, match="Calibration 3"):
        store.calibration(3)
    assert (store.calibration().id, len(store.history())) == (1, lines)
    store.add_calibration(b"fourth", summary(), make_current=True)
    assert store.instead_of() == ""


def test_the_history_says_that_wearfit_itself_fell_back_whoever_asked(store: Store, raw: Callable, summary: Callable) -> None:
    with acting_as("ada"):
        for blob in (b"first", b"second", b"third"):
            store.add_calibration(blob, summary(), make_current=True)
    raw("UPDATE calibrations SET content = :content WHERE id = 3", {"content": b"spoilt"})
    with acting_as("ben"):
        assert store.calibration().id == 2
        raw("UPDATE calibrations SET content = :content WHERE id = 2", {"content": b"spoilt"})
        with pytest.raises(Refusal, match="Calibration 2"):
            store.calibration(2)
        store.use(1)  # which answers already, and leaves no line
        store.set_setting("tolerance", "0.2")
    by_itself = [("wearfit itself", "fall back", "3"), ("wearfit itself", "fall back", "2")]
    assert [(line.by, line.did, line.about) for line in store.history()][3:] == [*by_itself, ("ben", "setting", "tolerance")]


def test_a_page_that_asks_for_the_damaged_one_by_number_is_refused_and_finds_the_good_one_next(
    store: Store, raw: Callable, summary: Callable
) -> None:
    for blob in (b"first", b"second"):
        store.add_calibration(blob, summary(), make_current=True)
    raw("UPDATE calibrations SET content = :content WHERE id = 2", {"content": b"spoilt"})
    with pytest.raises(Refusal, match="Calibration 2"):
        store.calibration(2)
    assert store.current_id() == 1


def test_where_none_is_good_none_answers(store: Store, raw: Callable, summary: Callable) -> None:
    store.add_calibration(b"first", summary(), make_current=True)
    raw("UPDATE calibrations SET content = :content", {"content": b"spoilt"})
    for _ in range(2):
        with pytest.raises(Refusal, match=r"Calibration 1.* is damaged"):
            store.calibration()
    assert [line.did for line in store.history()] == ["calibration"]
    store.add_calibration(b"second", summary(), make_current=True)
    assert store.calibration().blob == b"second"


def test_not_kept_at_all_if_it_cannot_be_made_current(store: Store, url: str, raw: Callable, summary: Callable) -> None:
    if "://" in url:
        raw("ALTER TABLE current_calibrations ADD CONSTRAINT never CHECK (id < 0)")
    else:
        raw("CREATE TRIGGER never BEFORE INSERT ON current_calibrations BEGIN SELECT RAISE(ABORT, 'never'); END")
    with pytest.raises(Exception, match="never"):
        store.add_calibration(_BLOB, summary(), make_current=True)
    assert store.calibrations() == []


def test_settings(store: Store, url: str) -> None:
    assert store.setting("tolerance") is None
    store.set_setting("tolerance", "0.2")
    store.set_setting("tolerance", "0.05")
    store.set_setting("currency", "€")
    with Store.open(url) as again:
        assert (again.setting("tolerance"), again.setting("currency")) == ("0.05", "€")
    store.set_setting("tolerance", None)
    assert (store.setting("tolerance"), store.setting("currency")) == (None, "€")
