"""Pieces shared out among copies of a process: their order, failures, deaths, and where no copy is made."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from wearfit.processors import THREADS

# Run in a process of its own: those of the test run have more threads than one, and none of it is copied then.
BEGIN = """
import json, os, signal, sys, threading, time
from wearfit import processors
from wearfit.processors import one_thread, shared_out
processors.processors = lambda: 3
mine = os.getpid()

def children():
    try:
        os.waitpid(-1, os.WNOHANG)
    except ChildProcessError:
        return False
    return True
"""


def _said(script: str) -> Any:
    done = subprocess.run([sys.executable, "-c", BEGIN + script], capture_output=True, text=True, timeout=60, check=True)
    return json.loads(done.stdout)


only_where_threads_are_told = pytest.mark.skipif(not THREADS.is_dir(), reason="this system does not tell how many threads a process has")


@only_where_threads_are_told
def test_copies_share_the_pieces_and_answers_come_in_their_order():
    answers = _said(
        """
def work(piece):
    time.sleep(0.02)
    return piece * piece, os.getpid()

print(json.dumps(shared_out(work, range(50))))
"""
    )
    assert [answer for answer, _ in answers] == [piece * piece for piece in range(50)]
    assert len({process for _, process in answers}) == 3


@only_where_threads_are_told
@pytest.mark.parametrize("pieces", [3, 8, 999, 1000, 1001, 7_000])
def test_each_of_any_number_of_pieces_is_worked_on_once(pieces: int, tmp_path: Path):
    said = _said(
        f"""
worked_on = os.open({str(tmp_path / "worked_on")!r}, os.O_CREAT | os.O_WRONLY | os.O_APPEND)

def work(piece):
    os.write(worked_on, b".")
    return piece

print(json.dumps(shared_out(work, range({pieces}), enough=1)))
"""
    )
    assert said == list(range(pieces))
    assert (tmp_path / "worked_on").stat().st_size == pieces


@only_where_threads_are_told
@pytest.mark.parametrize("place", [0, 1], ids=["mine", "anybody's"])
def test_who_asks_hears_of_a_failure_and_no_copy_is_left(place: int):
    said = _said(
        f"""
def work(piece):
    if piece == {place}:
        raise ArithmeticError(piece)
    return piece

try:
    shared_out(work, range(50))
    print(json.dumps("nothing"))
except ArithmeticError as error:
    print(json.dumps([str(error), children()]))
"""
    )
    assert said == [str(place), False]


@only_where_threads_are_told
def test_what_a_copy_that_died_had_to_do_is_done():
    said = _said(
        """
processors.processors = lambda: 2
taken = []

def work(piece):
    time.sleep(0.02)
    taken.append(piece)
    if os.getpid() != mine and len(taken) == 3:
        os.kill(os.getpid(), signal.SIGKILL)
    return piece, os.getpid() == mine

print(json.dumps([shared_out(work, range(50)), taken, children()]))
"""
    )
    answers, taken, left = said
    assert answers == [[piece, True] for piece in range(50)]
    assert sorted(taken) == list(range(50))
    assert taken != sorted(taken)  # the three that the copy had taken came last
    assert not left


@pytest.mark.parametrize("why", ["few pieces", "a second thread"])
def test_no_copy_is_made(why: str):
    few = why == "few pieces"
    said = _said(
        f"""
done = threading.Event()
if not {few}:
    threading.Thread(target=done.wait).start()
print(json.dumps([one_thread(), shared_out(lambda piece: (piece, os.getpid() == mine), range({11 if few else 50}))]))
done.set()
"""
    )
    one_thread, answers = said
    assert one_thread is (few and THREADS.is_dir())
    assert answers == [[piece, True] for piece in range(11 if few else 50)]


@only_where_threads_are_told
def test_the_first_of_few_pieces_is_worked_on_by_who_asks():
    said = _said(
        """
def work(piece):
    time.sleep(0.5 * (piece == 0))
    return piece, os.getpid() == mine

print(json.dumps(shared_out(work, range(2), enough=1)))
"""
    )
    assert said == [[0, True], [1, False]]


@only_where_threads_are_told
def test_where_there_is_no_room_for_a_copy_who_asked_does_it_all():
    said = _said(
        """
def no_room():
    raise BlockingIOError

os.fork = no_room
print(json.dumps(shared_out(lambda piece: (piece, os.getpid() == mine), range(50))))
"""
    )
    assert said == [[piece, True] for piece in range(50)]
