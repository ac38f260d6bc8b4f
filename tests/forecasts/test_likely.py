"""The middle of each live tool's forecast alone, against the whole forecast."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from wearfit.calibration import Calibration, Draws, from_bytes
from wearfit.demo.shipped import shipped_calibration_bytes
from wearfit.forecasts.fleet import forecast_fleet
from wearfit.forecasts.likely import likely_wear_outs

Array = np.ndarray


@pytest.fixture(scope="module")
def calibration() -> Calibration:
    return thinned(from_bytes(shipped_calibration_bytes()), np.arange(0, 2000, 10))


def thinned(calibration: Calibration, draws: Array) -> Calibration:
    return replace(calibration, draws=Draws(**{name: np.asarray(values)[draws] for name, values in vars(calibration.draws).items()}))


@pytest.mark.parametrize("later", [0, 40])
def test_it_is_what_the_whole_forecast_says(calibration: Calibration, later: int) -> None:
    day = dt.date.fromisoformat(calibration.identity.as_of) + dt.timedelta(days=later)
    whole = forecast_fleet(calibration, day, 8.0).tools
    likely = likely_wear_outs(calibration, day, 8.0)
    assert len(likely) == len(whole) > 0
    for ours, theirs in zip(likely, whole, strict=True):
        for name in ("remaining_shots", "wear_out_on"):
            assert ours[name]["p50"] == theirs[name]["p50"]
        for name in ("tool_id", "design_id", "plant_id", "status", "conditions"):
            assert ours[name] == theirs[name]
