"""The curve of what is left says the same as the forecast of the fleet."""

import datetime as dt

import numpy as np
import pytest

from wearfit.calibration import Calibration
from wearfit.errors import Refusal
from wearfit.forecasts.clock import left_by_readings
from wearfit.forecasts.fleet import forecast_fleet
from wearfit.forecasts.remaining_life import remaining_life
from wearfit.forecasts.tracks import tracks_now, wear_now
from wearfit.model.growth_batch import tracks_log_likelihood
from wearfit.remaining import remaining


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


def test_what_is_kept_of_readings_tells_chances_as_many_times_as_many_nodes_do(demo_calibration: Calibration) -> None:
    c, rows = demo_calibration, np.unique(demo_calibration.reads.live)
    kept = left_by_readings(c, rows, c.of_live("wear_spent", rows), c.of_live("characteristic_life", rows))
    assert len(kept) > 5
    for i, row in enumerate(rows.tolist()):
        log_life, tracks = np.log(np.asarray(c.draws.characteristic_life[:, row], dtype=float)), list(tracks_now(c, row).values())
        finer = remaining(wear_now(c, row), log_life, c.shape, tracks, tracks_log_likelihood, nodes=161)
        for share in (0.001, 0.02, 0.1, 0.3, 0.6, 0.9):
            rise = finer.rise_at(np.full(c.samples, share))
            assert kept[i].share_within(rise).mean() == pytest.approx(share, abs=min(0.002, 0.1 * share))
