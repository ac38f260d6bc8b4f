"""What a tool's wear-out date hangs on most."""

import datetime as dt

import numpy as np

from wearfit import law
from wearfit.calibration import Calibration
from wearfit.forecasts.ahead import look_ahead
from wearfit.forecasts.clock import question_day
from wearfit.forecasts.fleet import YEAR, live_row
from wearfit.forecasts.hangs_on import Dependence, hangs_on
from wearfit.forecasts.news import NO_NEWS, News
from wearfit.forecasts.outlook import read_outlook
from wearfit.forecasts.since import heed


def date_hangs_on(
    calibration: Calibration, tool: str, as_of: dt.date | None = None, horizon_years: float = 10.0, news: News = NO_NEWS
) -> tuple[Dependence, ...]:
    """How much of the spread of a live tool's wear-out date each of its causes explains, the largest share first.

    Returns
    -------
    tuple of Dependence
        Its `good` and `bad` are means of days ahead, `good` the smaller; a wear-out past the horizon counts as one at it. None of a
        tool that is worn, or whose age cannot be told.

    Raises
    ------
    Refusal
        As `forecast_fleet`.

    Notes
    -----
    tool: the tool's own log life beside others of its kind. kind: log life of its class, steel, coating, design and maker. age: wear
    behind it. use: shots a month in the year ahead. conditions: wear a shot there, by plant, season and resin. shape: how sharply tools
    wear out. What is left over is luck.
    """
    day, rows, horizon = question_day(calibration, as_of), np.array([live_row(calibration, tool)]), horizon_years * YEAR
    outlook = read_outlook(calibration)
    heeded, since = heed(calibration, outlook, rows, news, day)
    ahead = look_ahead(heeded, outlook, rows, day, horizon, since)
    if ahead.worn[0] or ahead.unknown[0]:
        return ()
    row = int(rows[0])
    log_life = np.log(np.asarray(heeded.draws.characteristic_life[:, row], dtype=float))
    own = np.asarray(heeded.draws.tool[:, int(heeded.live.tool[row])], dtype=float)
    use, year = ahead.use, ahead.use.year_after(day)
    made = use.usual.level[:, 0] * year.use.year[0]
    wear = (use.usual.level * use.usual.job)[:, 0] * year.wear.year[use.usual.plant[0]]
    causes = {
        "tool": own,
        "kind": log_life - own,
        "age": ahead.clocks.spent[:, 0],
        "use": made,
        "conditions": np.divide(wear, made, out=np.zeros_like(wear), where=made > 0),
        "shape": law.k_of(ahead.clocks.shape)[:, 0],
    }
    return hangs_on(np.minimum(ahead.wear_days[:, 0], horizon), ahead.clocks.weights[:, 0], causes)
