"""The curve of what is left says the same as the forecast of the fleet."""

import datetime as dt

import numpy as np
import pytest

from wearfit.calibration import Calibration, from_bytes
from wearfit.demo.shipped import shipped_calibration_bytes
from wearfit.errors import Refusal
from wearfit.forecasts.fleet import forecast_fleet
from wearfit.forecasts.remaining_life import remaining_life


@pytest.fixture(scope="module")
def calibration() -> Calibration:
    return from_bytes(shipped_calibration_bytes())


@pytest.mark.parametrize("as_of", [None, dt.date(2027, 3, 31)])
@pytest.mark.parametrize("tool", ["T-049", "T-001", "T-002", "T-066"])
def test_curves_fall_through_the_quantiles_of_the_forecast(tool: str, as_of: dt.date | None, calibration: Calibration) -> None:
    (answer,) = forecast_fleet(calibration, as_of, tools=[tool]).tools
    left = remaining_life(calibration, tool, as_of)
    day = as_of or dt.date(2026, 6, 30)
    for name, share in (("p10", 0.1), ("p50", 0.5), ("p90", 0.9)):
        on = answer["wear_out_on"][name]
        if on is not None:
            days = (dt.date.fromisoformat(on) - day).days
            assert np.interp(days, left.days, left.good) == pytest.approx(1.0 - share, abs=0.03)
        assert np.interp(answer["remaining_shots"][name], left.shots, left.good_by_shots) == pytest.approx(1.0 - share, abs=0.02)


@pytest.mark.parametrize("tool", ["T-049", "T-001", "T-066"])
def test_a_curve_is_a_chance_that_never_rises_and_damage_only_lowers_it(tool: str, calibration: Calibration) -> None:
    left = remaining_life(calibration, tool)
    for curve in (left.good, left.running, left.good_by_shots):
        assert np.all((curve >= 0.0) & (curve <= 1.0))
        assert np.all(np.diff(curve) <= 1e-12)
    assert np.all(left.running <= left.good + 1e-12)
    assert left.good[0] == pytest.approx(1.0)


def test_a_worn_tool_has_nothing_left(calibration: Calibration) -> None:
    left = remaining_life(calibration, "T-048")
    assert left.known
    assert not left.good.any()


def test_a_tool_that_is_not_live_is_refused(calibration: Calibration) -> None:
    with pytest.raises(Refusal, match="not in the records"):
        remaining_life(calibration, "T-900")
