"""Who did what when; and any past state, shown and brought back with nothing lost."""

import datetime
import random
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from set_back import SetBack

from wearfit.errors import Refusal
from wearfit.records.choices import Choices
from wearfit.store import open_store
from wearfit.store.actor import acting_as
from wearfit.store.backtests import BacktestEntry
from wearfit.store.evidence import EvidenceEntry
from wearfit.store.overrides import Override
from wearfit.store.store import Store

_DAY = datetime.date(2026, 3, 1)
_DECIDED = Choices(dates={"runs": {"started_on": "day month year"}})


def test_each_deed_leaves_a_line_with_who_and_when(url: str, runs: Callable, upload_of: Callable, summary: Callable) -> None:
    before = datetime.datetime.now(datetime.UTC)
    with Store.open(url) as store, acting_as("ada"):
        store.add_upload(upload_of(runs([10])))
        store.keep_choices(_DECIDED)
        store.add_calibration(b"one", summary(), make_current=True)
        with acting_as("ben"):
            store.add_calibration(b"two", summary(), make_current=True)
            store.use(1)
        store.set_setting("tolerance", "0.2")
        store.add_override(Override("A1", before, "cy", _DAY, _DAY, None, "Seen."))
        store.add_backtest(BacktestEntry(_DAY, "f", "1", "{}"))
        store.add_evidence(EvidenceEntry("planned", 1, "{}"))
        store.restore(1)
        lines = store.history()
    assert [(line.line, line.by, line.did, line.about, line.back_to) for line in lines] == [
        (1, "ada", "records", "history", None),
        (2, "ada", "choices", "", None),
        (3, "ada", "calibration", "1", None),
        (4, "ben", "calibration", "2", None),
        (5, "ben", "use", "1", None),
        (6, "ada", "setting", "tolerance", None),
        (7, "ada", "judgement", "A1", None),
        (8, "ada", "backtest", "", None),
        (9, "ada", "evidence", "1", None),
        (10, "ada", "restore", "1", 1),
    ]
    assert before <= lines[0].at <= lines[-1].at <= datetime.datetime.now(datetime.UTC)


def test_by_default_it_is_the_user_of_this_machine(url: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LOGNAME", "dora")
    with Store.open(url) as store:
        store.set_setting("seed", "5")
        assert [line.by for line in store.history()] == ["dora"]


def test_what_changes_nothing_leaves_no_line(url: str, runs: Callable, upload_of: Callable, summary: Callable) -> None:
    with Store.open(url) as store:
        store.add_upload(upload_of(runs([10])))
        store.add_calibration(b"one", summary(), make_current=True)
        store.set_setting("seed", "5")
        before = store.history()
        store.add_upload(upload_of(runs([10])))
        store.rows_with([upload_of(runs([11]))])
        store.keep_choices(Choices())
        store.use(1)
        store.set_setting("seed", "5")
        store.set_setting("tolerance", None)
        assert store.restore(before[-1].line).line is None
        assert store.history() == before


def _state(store: Store) -> tuple[Any, ...]:
    setting = {name: value for name in ("seed", "tolerance") if (value := store.setting(name)) is not None}
    return tuple(store.rows()), store.choices().to_json(), setting, store.current_id()


def _shown(store: Store, line: int) -> tuple[Any, ...]:
    past = store.state_after(line)
    return past.rows, past.choices.to_json(), past.settings, past.calibration


@pytest.mark.parametrize("seed", range(4))
def test_any_past_state_is_shown_and_brought_back(url: str, seed: int, runs: Callable, upload_of: Callable, summary: Callable) -> None:
    """Random deeds, the state noted after each; then states brought back in a random order, and all past ones shown again."""
    chance = random.Random(seed)
    noted: dict[int, tuple[Any, ...]] = {}

    def note(store: Store) -> None:
        done = store.history()
        if done:
            noted[done[-1].line] = _state(store)

    with Store.open(url) as store:
        for deed in range(14):
            match chance.randrange(5):
                case 0 | 1:
                    shots = [chance.randrange(5) for _ in range(chance.randrange(1, 6))]
                    store.add_upload(upload_of(runs(shots, chance.choice(["north", "south"]))))
                case 2:
                    known = upload_of(runs([1, 2, 3]))
                    store.add_upload(replace(known, rows=tuple(chance.sample(known.rows, chance.randrange(3)))))
                case 3:
                    store.set_setting(chance.choice(["seed", "tolerance"]), chance.choice([None, str(deed)]))
                case 4:
                    store.add_calibration(str(deed).encode(), summary(passed=chance.random() < 0.7), make_current=True)
            note(store)
        for line in chance.sample(sorted(noted), 4):
            wanted = noted[line]
            store.restore(line)
            back = _state(store)
            assert back[:3] == wanted[:3]
            assert back[3] == wanted[3] or wanted[3] is None
            note(store)
        for line, wanted in noted.items():
            assert _shown(store, line) == wanted, line


def test_versions_of_a_row_say_what_it_was(url: str, runs: Callable, upload_of: Callable) -> None:
    with Store.open(url) as store:
        for shots in (10, 11):
            store.add_upload(upload_of(runs([shots])))
        store.restore(1)
        (row,) = store.rows()
        assert [(was.values["shots"], version.version, version.line) for was, version in store.versions_of(row)] == [
            ("10", 1, 1),
            ("11", 2, 2),
            ("10", 3, 3),
        ]


def test_an_upload_from_after_the_state_is_set_aside_until_it_comes_again(url: str, runs: Callable, upload_of: Callable) -> None:
    good, wrong = upload_of(runs([10])), upload_of(runs([7], "south"), "wrong")
    with Store.open(url) as store:
        store.add_upload(good)
        store.add_upload(wrong)
        store.restore(1)
        assert [stored.set_aside for stored in store.uploads()] == [False, True]
        assert store.files(2) == wrong.files
        assert store.add_upload(wrong).new == 1
        assert [stored.set_aside for stored in store.uploads()] == [False, False]


def test_a_clock_that_is_set_back_changes_no_order(
    url: str, runs: Callable, upload_of: Callable, summary: Callable, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(open_store, "datetime", type("Losing", (SetBack,), {"year_told": 2026}))
    with Store.open(url) as store:
        for shots in (10, 11, 12):
            store.add_upload(upload_of(runs([shots])))
        store.keep_choices(_DECIDED)
        store.keep_choices(Choices(dates={"runs": {"started_on": "month day year"}}))
        for blob in (b"one", b"two"):
            store.add_calibration(blob, summary(), make_current=True)
        assert [row.values["shots"] for row in store.rows()] == ["12"]
        assert store.choices().date_order_of("runs", "started_on") == "month day year"
        assert store.calibration().blob == b"two"
        assert [row.values["shots"] for row in store.state_after(2).rows] == ["11"]
        at = [line.at for line in store.history()]
        assert at == sorted(at, reverse=True)
        assert [upload.id for upload in store.uploads()] == [1, 2, 3]


def test_a_damaged_calibration_does_not_come_back_with_its_state(url: str, raw: Callable, summary: Callable) -> None:
    with Store.open(url) as store:
        store.add_calibration(b"one", summary(), make_current=True)
        store.add_calibration(b"two", summary(), make_current=True)
        raw("UPDATE calibrations SET content = :content WHERE id = 1", {"content": b"0ne"})
        done = store.restore(1)
        assert (done.calibration, store.current_id()) == (2, 2)
        assert "Calibration 1" in done.kept_calibration
        assert "is damaged" in done.kept_calibration


def test_there_is_no_such_line(url: str) -> None:
    with Store.open(url) as store:
        for ask in (store.state_after, store.restore):
            with pytest.raises(Refusal, match="no line 3") as refused:
                ask(3)
            assert refused.value.status == 2


def test_what_a_restoration_would_do_is_told_and_not_done_and_what_was_there_before_it_is_named(
    url: str, runs: Callable, upload_of: Callable
) -> None:
    with Store.open(url) as store:
        store.add_upload(upload_of(runs([10])))
        store.add_upload(upload_of(runs([20, 30])))
        rows, lines = store.rows(), store.history()
        would = store.restoring(1)
        assert (store.rows(), store.history()) == (rows, lines)
        done = store.restore(1)
        assert replace(would, line=done.line) == done
        assert (done.back, done.withdrawn, done.before) == (1, 1, lines[-1].line)
        store.restoring(1)  # a transaction that was rolled back may use a number up
        assert store.restore(done.before).before == done.line
        assert [row.values for row in store.rows()] == [row.values for row in rows]
