"""What is sent to a process that has gone."""

import gc
import sys
from multiprocessing import Pipe
from typing import Any

import pytest

from wearfit.workflow.child_process import send


def test_what_could_not_be_sent_is_cleared_away_without_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    """By `Connection.send` it is not: where references go round, as a test's do, another error shows up in any later work."""
    unraisable: list[Any] = []
    monkeypatch.setattr(sys, "unraisablehook", unraisable.append)
    here, there = Pipe()
    there.close()

    def fails() -> None:
        try:
            send(here, "a message" * 10_000)
        except OSError as error:
            around = error  # which its own traceback leads back to
            assert around.__traceback__ is not None
        else:
            pytest.fail("there was somebody to send it to")

    for _ in range(3):
        fails()
    here.close()
    gc.collect()
    assert not unraisable
