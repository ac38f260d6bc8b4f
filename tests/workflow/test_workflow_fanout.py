"""A fan-out gives each job's result once, whichever way it is spread, whoever dies, and wherever it was broken off."""

import multiprocessing
import os
import re
import sys
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import pytest
from small_jobs import Squared, settings

from wearfit.errors import Refusal
from wearfit.workflow.fanout import Job, Standing, fan_out
from wearfit.workflow.kept_results import KeptFiles, job_key
from wearfit.workflow.ways import Cluster, Here, Processes, Way, way

NUMBERS = tuple(range(1, 8))
WAYS = (Here(), Processes(1), Processes(2))
posix = pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")


def jobs(numbers: Sequence[int] = NUMBERS) -> list[Job[int]]:
    return [Job(job_key("square", n), f"number {n}", n) for n in numbers]


def kept(folder: Path) -> KeptFiles[int]:
    return KeptFiles(folder, lambda n: str(n).encode(), int, ".txt")


def begun(marks: Path) -> Counter[int]:
    return Counter(int(path.name.split("-")[0]) for path in marks.iterdir())


@pytest.mark.parametrize("spread", WAYS, ids=str)
def test_results_come_in_the_order_of_the_jobs(spread: Way, tmp_path: Path) -> None:
    told: list[Standing] = []
    assert fan_out(Squared(tmp_path), jobs(), spread, tell=told.append) == [n * n for n in NUMBERS]
    assert begun(tmp_path) == dict.fromkeys(NUMBERS, 1)
    assert [s.done for s in told] == list(range(len(NUMBERS) + 1))
    assert (told[0].job, told[-1].job) == ("number 1", "")
    assert not multiprocessing.active_children()


def test_no_jobs_no_processes() -> None:
    assert fan_out(len, [], Processes(2)) == []


def test_processes_have_one_thread_each_and_there_are_as_many_as_asked() -> None:
    before = dict(os.environ)
    told = fan_out(settings, jobs(), Processes(2))
    assert {threads for threads, _ in told} == {"1"}
    assert 1 <= len({process for _, process in told}) <= 2
    assert os.getpid() not in {process for _, process in told}
    assert dict(os.environ) == before


@posix
def test_a_job_whose_process_is_killed_is_done_again_and_counts_once(tmp_path: Path) -> None:
    assert fan_out(Squared(tmp_path, dies=((3, 1), (6, 2))), jobs(), Processes(2)) == [n * n for n in NUMBERS]
    assert begun(tmp_path) == {**dict.fromkeys(NUMBERS, 1), 3: 2, 6: 3}


@posix
def test_a_job_that_kills_every_process_is_given_up_and_the_others_are_kept(tmp_path: Path) -> None:
    marks = tmp_path / "marks"
    marks.mkdir()
    with pytest.raises(Refusal, match=r"Number 4: Its process died 3 times.*kept in") as refused:
        fan_out(Squared(marks, dies=((4, 99),)), jobs(), Processes(2), kept(tmp_path / "kept"))
    assert refused.value.status == 1
    assert begun(marks) == {**dict.fromkeys(NUMBERS, 1), 4: 3}
    assert sorted(int(path.read_text()) for path in (tmp_path / "kept").iterdir()) == [n * n for n in NUMBERS if n != 4]


@pytest.mark.parametrize("spread", WAYS, ids=str)
def test_a_failed_job_is_told_and_the_next_try_does_that_job_alone(spread: Way, tmp_path: Path) -> None:
    marks = tmp_path / "marks"
    marks.mkdir()
    with pytest.raises(Refusal) as refused:
        fan_out(Squared(marks, refuses=(2, 5)), jobs(), spread, kept(tmp_path / "kept"))
    assert refused.value.problem == "Number 2: 2 has no square; 2 of 7 failed."
    assert refused.value.repair.startswith("Give another number. The results of the others are kept in")
    told: list[Standing] = []
    assert fan_out(Squared(marks), jobs(), spread, kept(tmp_path / "kept"), told.append) == [n * n for n in NUMBERS]
    assert begun(marks) == {**dict.fromkeys(NUMBERS, 1), 2: 2, 5: 2}
    assert [s.done for s in told] == [5, 6, 7]


@pytest.mark.parametrize("spread", WAYS, ids=str)
def test_where_nothing_is_kept_the_first_failure_ends_it(spread: Way, tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="Number 1: 1 has no square"):
        fan_out(Squared(tmp_path, refuses=(1,)), jobs(), spread)
    if spread != Processes(2):  # the other process may be done with all the others by then
        assert set(begun(tmp_path)) <= {1, 2}
    assert not multiprocessing.active_children()


@pytest.mark.parametrize("spread", WAYS, ids=str)
def test_a_fault_is_a_sentence_and_its_trace_is_logged(spread: Way, tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    with pytest.raises(Refusal, match="Number 3: It failed by a fault of the program: ArithmeticError: 3 is odd"):
        fan_out(Squared(tmp_path, breaks=(3,)), jobs(), spread)
    assert "Traceback" in caplog.text


@pytest.mark.parametrize("spread", WAYS, ids=str)
def test_an_interrupt_ends_the_processes_and_what_is_done_stays(spread: Way, tmp_path: Path) -> None:
    marks = tmp_path / "marks"
    marks.mkdir()

    def interrupt(standing: Standing) -> None:
        if standing.done == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        fan_out(Squared(marks), jobs(), spread, kept(tmp_path / "kept"), interrupt)
    assert not multiprocessing.active_children()
    done = {int(path.read_text()) for path in (tmp_path / "kept").iterdir()}
    assert len(done) == 3
    before = begun(marks)
    assert fan_out(Squared(marks), jobs(), spread, kept(tmp_path / "kept")) == [n * n for n in NUMBERS]
    again = begun(marks) - before
    assert {n for n in NUMBERS if n * n in done}.isdisjoint(again)


def test_a_result_that_was_damaged_is_worked_out_anew(tmp_path: Path) -> None:
    marks, folder = tmp_path / "marks", tmp_path / "kept"
    marks.mkdir()
    fan_out(Squared(marks), jobs(), Here(), kept(folder))
    (of_three,) = (path for path in folder.iterdir() if path.read_text() == "9")
    of_three.write_text("8")
    assert fan_out(Squared(marks), jobs(), Here(), kept(folder)) == [n * n for n in NUMBERS]
    assert begun(marks)[3] == 2


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="cannot be made"):
        fan_out(Squared(tmp_path), jobs(), Here(), kept(tmp_path / "no" / "such"))


def test_two_jobs_of_one_key_are_a_fault() -> None:
    with pytest.raises(ValueError, match="one key"):
        fan_out(abs, jobs((1, 1)), Here())


def test_keys_follow_the_inputs_alone() -> None:
    assert job_key("a", 1, [2.5]) == job_key("a", 1, [2.5])
    assert len({job_key("a", 1), job_key("a", 2), job_key("b", 1), job_key("a1")}) == 4
    assert re.fullmatch("[0-9a-f]{32}", job_key())


def test_who_spreads_how() -> None:
    assert way("tcp://there:8786") == Cluster("tcp://there:8786")
    assert way(processes=3) == Processes(3)
    assert isinstance(way(), Processes)
    for cluster, processes in (("tcp://there:8786", 2), (None, 0)):
        with pytest.raises(Refusal) as refused:
            way(cluster, processes)
        assert refused.value.status == 2
