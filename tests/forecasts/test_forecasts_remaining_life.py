"""The curve of what is left says the same as the forecast of the fleet."""

import datetime as dt

import numpy as np
import pytest

from wearfit.calibration import Calibration
from wearfit.errors import Refusal
from wearfit.forecasts.fleet import forecast_fleet
from wearfit.forecasts.remaining_life import remaining_life


def of_status(calibration: Calibration, worn: bool) -> list[str]:
    """Live tools that are worn, or some of those that are not and whose age is known."""
    named = [
        str(calibration.levels.tool[t])
        for t, status, spent in zip(calibration.live.tool, calibration.live.status, calibration.draws.wear_spent[0], strict=True)
        if (status == "worn") == worn and not np.isnan(spent)
    ]
    return named if worn else named[::11]


@pytest.mark.parametrize("later_days", [0, 274])
def test_curves_fall_through_the_quantiles_of_the_forecast(later_days: int, demo_calibration: Calibration) -> None:
    day = dt.date.fromisoformat(demo_calibration.identity.as_of) + dt.timedelta(days=later_days)
    seen = 0
    for tool in of_status(demo_calibration, worn=False):
        (answer,) = forecast_fleet(demo_calibration, day, tools=[tool]).tools
        left = remaining_life(demo_calibration, tool, day)
        for name, share in (("p10", 0.1), ("p50", 0.5), ("p90", 0.9)):
            on = answer["wear_out_on"][name]
            if on is not None:
                days = (dt.date.fromisoformat(on) - day).days
                # A curve is told by months: within one it may fall by some hundredths.
                assert np.interp(days, left.days, left.good) == pytest.approx(1.0 - share, abs=0.03)
                seen += 1
            assert np.interp(answer["remaining_shots"][name], left.shots, left.good_by_shots) == pytest.approx(1.0 - share, abs=0.02)
    assert seen > 10


def test_a_curve_is_a_chance_that_never_rises_and_damage_only_lowers_it(demo_calibration: Calibration) -> None:
    for tool in of_status(demo_calibration, worn=False):
        left = remaining_life(demo_calibration, tool)
        for curve in (left.good, left.running, left.good_by_shots):
            assert np.all((curve >= -1e-12) & (curve <= 1.0))
            assert np.all(np.diff(curve) <= 1e-12)
        assert np.all(left.running <= left.good + 1e-12)
        assert left.good[0] == pytest.approx(1.0)


def test_a_worn_tool_has_nothing_left(demo_calibration: Calibration) -> None:
    for tool in of_status(demo_calibration, worn=True):
        left = remaining_life(demo_calibration, tool)
        assert left.known
        assert not left.good.any()


def test_a_tool_that_is_not_live_is_refused(demo_calibration: Calibration) -> None:
    with pytest.raises(Refusal, match="not in the records"):
        remaining_life(demo_calibration, "T-900")
