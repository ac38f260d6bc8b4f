"""What a forecast costs: time on the demo, memory on a fleet of any size."""

import time
import tracemalloc

import numpy as np
import pytest
from known_fleet import Plant, Resin, Tool, known_calibration

from wearfit.calibration import Calibration
from wearfit.forecasts import in_pieces
from wearfit.forecasts.fleet import forecast_fleet
from wearfit.forecasts.in_pieces import CHUNK


@pytest.mark.slow
def test_the_demos_forecast_takes_little_time(demo_calibration: Calibration):
    """Half a second of processor time is the aim on an idle core; a busy one is given twice that."""
    taken = []
    for _ in range(4):
        start = time.process_time()
        forecast_fleet(demo_calibration)
        taken.append(time.process_time() - start)
    assert min(taken) < 1.0


def _peak_bytes(tools: int) -> int:
    samples = 200
    rng = np.random.default_rng(3)
    plants, resins = tuple(Plant(f"plant {i}") for i in range(5)), tuple(Resin(f"resin {i}") for i in range(5))
    made_up = [
        Tool(f"{i}", life=1e6, plant=i % 5, mix=(0.5, 0.5), recent=tuple(rng.gamma(1.0, 1000.0, 24)), plan={1: 500.0}) for i in range(tools)
    ]
    calibration = known_calibration(made_up, samples=samples, plants=plants, resins=resins)
    tracemalloc.start()
    try:
        assert len(forecast_fleet(calibration).tools) == tools
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


def test_memory_does_not_grow_with_the_fleet_beyond_its_answers(monkeypatch: pytest.MonkeyPatch):
    """Tools are walked so many at a time; what is left to grow is the answers themselves, a few kilobytes a tool."""
    monkeypatch.setattr(in_pieces, "LONGEST", CHUNK)  # else they are several times as many in a larger fleet, and no more from there on
    few, many = _peak_bytes(2 * CHUNK), _peak_bytes(10 * CHUNK)
    assert many - few < 8 * CHUNK * 8_000
    assert many < 1.5 * few
