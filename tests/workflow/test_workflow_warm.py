"""A real calibration in a worker kept warm: the same draws as in a process of its own, and given up where nobody waits for it."""

import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import fields
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wearfit.calibration.tables import Draws
from wearfit.store.store import Store
from wearfit.workflow import resident_place
from wearfit.workflow.answers import read_current
from wearfit.workflow.recalibrate import Order, Recalibration, recalibrate
from wearfit.workflow.resident import WarmWorker
from wearfit.workflow.resident_workers import end_all, seen
from wearfit.workflow.worker import Worker

pytestmark = [pytest.mark.slow, pytest.mark.skipif(not resident_place.SUPPORTED, reason="there are no workers kept warm here")]

COMMAND = """
import sys
from pathlib import Path
from wearfit.workflow.recalibrate import Order, recalibrate
from wearfit.workflow.resident import WarmWorker

with WarmWorker() as worker:
    recalibrate(sys.argv[1], Order(), worker, lambda progress: print(progress.stage, progress.share, flush=True))
"""


@pytest.fixture
def folder(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path_factory.mktemp("run")))  # a short name: a socket's may not be long
    yield
    end_all()


def calibrated(url: str, worker: Worker, *paths: Path) -> tuple[Recalibration, Draws]:
    with worker:
        done = recalibrate(url, Order(paths, make_current=True), worker)
    with Store.open(url, must_exist=True) as store:
        return done, read_current(store, None).calibration.draws


def same(one: Draws, other: Draws) -> bool:
    pairs: list[tuple[Any, Any]] = [(getattr(one, f.name), getattr(other, f.name)) for f in fields(Draws)]
    return all(np.array_equal(a, b, equal_nan=a.dtype.kind == "f") for a, b in pairs)


def test_draws_are_those_of_a_process_of_its_own_and_one_that_nobody_waits_for_is_given_up(
    folder: None, tmp_path: Path, write_history: Callable[..., Path]
):
    url = str(tmp_path / "store.db")
    _, own = calibrated(url, Worker(), write_history())
    _, first = calibrated(url, WarmWorker(30.0))
    (left,) = seen()
    second, again = calibrated(url, WarmWorker())
    assert same(own, first)
    assert same(own, again)
    assert second.seconds["compile"] < 0.01
    with subprocess.Popen([sys.executable, "-c", COMMAND, url], stdout=subprocess.PIPE, text=True) as command:
        assert command.stdout is not None
        sampling = next(line for line in command.stdout if line.startswith("sample"))
        command.kill()
    assert sampling
    while seen()[0]["state"] != "idle":  # it learns of it with the next word that it sends
        pass
    third, after = calibrated(url, WarmWorker())
    assert third.seconds["compile"] < 0.01
    assert [w["process_id"] for w in seen()] == [left["process_id"]]
    assert same(own, after)
