"""Pieces worked on at once: their order, and what becomes of a failure."""

import threading
import time

import pytest

from wearfit import processors
from wearfit.processors import at_once


@pytest.mark.parametrize("workers", [1, 2, 5])
def test_answers_come_in_the_order_of_the_pieces(monkeypatch: pytest.MonkeyPatch, workers: int):
    monkeypatch.setattr(processors, "processors", lambda: workers)
    assert at_once(lambda piece: piece * piece, range(50)) == [piece * piece for piece in range(50)]
    assert at_once(lambda piece: piece, []) == []


@pytest.mark.parametrize("mine", [True, False])
def test_who_asks_hears_of_a_failure_and_what_is_left_is_not_begun(monkeypatch: pytest.MonkeyPatch, mine: bool):
    monkeypatch.setattr(processors, "processors", lambda: 2)
    asker, failed, begun = threading.current_thread(), threading.Event(), []

    def work(piece: int) -> int:
        begun.append(piece)
        if (threading.current_thread() is asker) == mine and not failed.is_set():
            failed.set()
            raise ArithmeticError(piece)
        failed.wait(10.0)
        time.sleep(0.001)
        return piece

    with pytest.raises(ArithmeticError):
        at_once(work, range(1000))
    assert len(begun) < 1000


def test_parts_make_up_all_things_and_of_none_there_is_one() -> None:
    assert processors.parts(7, 3) == [slice(0, 3), slice(3, 6), slice(6, 7)]
    assert processors.parts(6, 3) == [slice(0, 3), slice(3, 6)]
    assert processors.parts(0, 3) == [slice(0, 0)]
