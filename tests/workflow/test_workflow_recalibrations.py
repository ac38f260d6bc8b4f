"""Recalibrations under way: one a store, seen by all, and cancelled with everything left as it was."""

import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from ready_worker import Ready

from wearfit.errors import Refusal
from wearfit.store.store import Store
from wearfit.workflow.progress import Progress, Report, silent
from wearfit.workflow.recalibrate import Order, recalibrate
from wearfit.workflow.recalibrations import Recalibrations
from wearfit.workflow.worker import Worker
from wearfit.workflow.worker_process import Fitted, Request

Write = Callable[..., Path]
LONGEST_SECONDS = 120.0  # on a busy machine, before a test gives up


class Held(Ready):
    """Waits in the model until it is let go or stopped, as one that samples for long."""

    def __init__(self) -> None:
        super().__init__()
        self.began, self.go, self.was_stopped = threading.Event(), threading.Event(), False

    def calibrate(self, request: Request, report: Report = silent) -> Fitted:
        report(Progress("sample", 0.25, 30.0))
        self.began.set()
        self.go.wait()
        if self.was_stopped:
            raise Refusal("The calibration was stopped before it was done.", "Run it again.")
        return super().calibrate(request, report)

    def stop(self) -> None:
        self.was_stopped = True
        self.go.set()


@pytest.fixture
def store_url(write_history: Write, tmp_path: Path) -> str:
    """A store with records and one calibration."""
    url = str(tmp_path / "wearfit.db")
    recalibrate(url, Order((write_history(),)), Ready())
    return url


def contents(store_url: str) -> tuple[object, ...]:
    with Store.open(store_url) as store:
        return store.rows(), store.uploads(), store.choices(), store.calibrations()


def test_one_is_done_and_says_so(store_url: str):
    work = Recalibrations(Ready)
    assert work.seen(store_url) is None
    assert work.begin(store_url, Order())
    ended = work.wait(store_url)
    assert (ended.state, ended.under_way) == ("done", False)
    assert (ended.outcome.calibration, ended.outcome.current) == (2, True)
    assert ended.seconds > 0


def test_while_one_is_under_way_all_see_it_and_no_other_begins(store_url: str):
    worker = Held()
    work = Recalibrations(lambda: worker)
    work.begin(store_url, Order())
    assert worker.began.wait(LONGEST_SECONDS)
    seen = work.seen(store_url)
    assert (seen.state, seen.progress) == ("under way", Progress("sample", 0.25, 30.0))
    assert not work.begin(store_url, Order(seed=2))
    worker.go.set()
    assert work.wait(store_url).outcome.identity.seed == 1
    with Store.open(store_url) as store:
        assert [entry.id for entry in store.calibrations()] == [1, 2]


def test_a_cancel_leaves_everything_as_it_was_and_another_can_begin(store_url: str):
    before = contents(store_url)
    worker = Held()
    work = Recalibrations(lambda: worker)
    work.begin(store_url, Order())
    assert worker.began.wait(LONGEST_SECONDS)
    work.cancel(store_url)
    ended = work.wait(store_url)
    assert (ended.state, ended.outcome, ended.refusal) == ("cancelled", None, None)
    assert contents(store_url) == before
    worker.was_stopped = False
    assert work.begin(store_url, Order())
    assert work.wait(store_url).state == "done"


def test_many_that_begin_at_once_are_one(store_url: str):
    worker = Held()
    work, gate = Recalibrations(lambda: worker), threading.Barrier(8)
    began: list[bool] = []

    def begin() -> None:
        gate.wait()
        began.append(work.begin(store_url, Order()))

    threads = [threading.Thread(target=begin) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    worker.go.set()
    work.wait(store_url)
    assert sorted(began) == [False] * 7 + [True]
    with Store.open(store_url) as store:
        assert len(store.calibrations()) == 2


def test_one_waiting_behind_another_stores_is_cancelled_alone(store_url: str, tmp_path: Path, write_history: Write):
    other = str(tmp_path / "other.db")
    recalibrate(other, Order((write_history("other"),)), Ready())
    worker = Held()
    work = Recalibrations(lambda: worker)
    work.begin(store_url, Order())
    assert worker.began.wait(LONGEST_SECONDS)
    work.begin(other, Order())
    work.cancel(other)
    assert not worker.was_stopped
    worker.go.set()
    assert work.wait(store_url).state == "done"
    assert work.wait(other).state == "cancelled"


def test_what_refuses_is_said_and_nothing_changed(tmp_path: Path):
    work = Recalibrations(Ready)
    url = str(tmp_path / "empty.db")
    Store.open(url).close()
    work.begin(url, Order())
    ended = work.wait(url)
    assert ended.state == "refused"
    assert "no records yet" in ended.refusal.problem


def test_a_fault_of_the_program_is_said_and_logged(store_url: str, caplog: pytest.LogCaptureFixture):
    class Faulty(Worker):
        def calibrate(self, request: Request, report: Report = silent) -> Fitted:
            raise ZeroDivisionError

    work = Recalibrations(Faulty)
    work.begin(store_url, Order())
    ended = work.wait(store_url)
    assert "fault of the program: ZeroDivisionError" in ended.refusal.problem
    assert "Traceback" in caplog.text
    with Store.open(store_url) as store:
        assert store.current_id() == 1


class Told(Worker):
    """The real one, that says when it is asked."""

    def __init__(self) -> None:
        super().__init__()
        self.asked = threading.Event()

    def calibrate(self, request: Request, report: Report = silent) -> Fitted:
        self.asked.set()
        return super().calibrate(request, report)


def test_the_real_worker_is_stopped_by_a_cancel(store_url: str):
    """The process of the model itself, ended while it starts; what it would have made is nowhere."""
    before = contents(store_url)
    worker = Told()
    work = Recalibrations(lambda: worker)
    work.begin(store_url, Order())
    assert worker.asked.wait(LONGEST_SECONDS)
    work.cancel(store_url)
    assert work.wait(store_url).state == "cancelled"
    assert contents(store_url) == before
