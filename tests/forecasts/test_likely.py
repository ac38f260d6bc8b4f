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

FEW = 200  # draws, so that luck shows


@pytest.fixture(scope="module")
def calibration() -> Calibration:
    shipped = from_bytes(shipped_calibration_bytes())
    return thinned(shipped, np.linspace(0, shipped.samples - 1, FEW).round().astype(int))


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


def test_how_far_a_middle_may_be_off_is_how_far_it_strays_among_few_draws(calibration: Calibration) -> None:
    """Middles of samples of the draws, against what two standard errors of a half come to, tool by tool.

    Luck does not stray with the sample, each draw having a stratum of its own: middles stray by less than is told, not by half of it.
    """
    rng, n = np.random.default_rng(4), FEW
    about = 2.0 * 0.5 / np.sqrt(n)
    told = likely_wear_outs(calibration, None, 40.0, about=about)
    middles = [likely_wear_outs(thinned(calibration, rng.integers(0, n, n)), None, 40.0) for _ in range(25)]
    ratios = []
    for i, tool in enumerate(told):
        days = [dt.date.fromisoformat(m[i]["wear_out_on"]["p50"]).toordinal() for m in middles if m[i]["wear_out_on"]["p50"]]
        if len(days) == len(middles) and tool["about_days"]:
            ratios.append(2.0 * np.std(days) / tool["about_days"])
    assert len(ratios) > 50
    assert 0.5 < np.median(ratios) < 1.0
