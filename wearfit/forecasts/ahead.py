"""What lies ahead of some live tools, draw by draw: when wear and luck run out."""

import datetime as dt
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from wearfit.calibration import Calibration
from wearfit.forecasts.arrival import Arrival, walk
from wearfit.forecasts.clock import Clocks, read_clocks
from wearfit.forecasts.conditions import in_precision_of
from wearfit.forecasts.news import NONE_SINCE, BySince
from wearfit.forecasts.outlook import Outlook
from wearfit.forecasts.own_luck import exponential_draws, normal_draws
from wearfit.forecasts.quantiles import singly
from wearfit.forecasts.use_ahead import UseAhead

Array = np.ndarray

WEEK = 7.0  # [day]


@dataclass(frozen=True)
class Ahead:
    """What lies ahead of some live tools. Arrays of shape (sample, tool)."""

    use: UseAhead
    clocks: Clocks
    capacity: Array  # [reference shots]
    lead_days: Array  # lead time of a replacement
    arrival: Arrival
    worn: Array  # (tool,) bool

    @property
    def unknown(self) -> Array:
        """Tools whose age cannot be told, shape (tool,)."""
        return np.isnan(self.clocks.spent[0])

    @cached_property
    def wear_months(self) -> Array:
        """Months until the wear-out; 0 for a worn tool. In single precision: what is asked of them is their order."""
        return self.of_good(singly(self.arrival.wear_months), 0.0)

    @cached_property
    def wear_days(self) -> Array:
        """Days until the wear-out; 0 for a worn tool, inf past the days asked for."""
        return self.arrival.calendar.days(self.wear_months)

    @property
    def order_margin(self) -> Array:
        """Days from now by which an order may wait for its replacement to be there before the tool stops; -inf for a worn tool."""
        margin = self.arrival.calendar.days(np.minimum(self.arrival.wear_months, self.arrival.sudden_months))
        margin -= self.lead_days
        return self.of_good(margin, -np.inf)

    def of_good(self, values: Array, worn: float) -> Array:
        """Values of the tools with another one for those that are worn."""
        if not self.worn.any():
            return values
        values = values.copy(order="K")
        values[:, self.worn] = worn
        return values


def look_ahead(calibration: Calibration, outlook: Outlook, rows: Array, day: dt.date, days: float, since: BySince = NONE_SINCE) -> Ahead:
    """Walk ahead of some live tools.

    Parameters
    ----------
    outlook : Outlook
        Of the same calibration.
    rows : array, shape (tool,)
        Rows of the live table.
    day : date
        The walk begins at its end.
    days : float
        How far ahead days are told apart from never; the longest lead time is added.
    since : mapping of int to Since
        What readings since the calibration tell, by row of the live table.
    """
    use = UseAhead(calibration, outlook, rows)
    clocks = read_clocks(calibration, rows, use, day, since)
    capacity = clocks.capacity(exponential_draws(calibration, rows, "wear"))
    lead = lead_days(calibration, rows)
    # An order on the last day is late where the tool fails before it arrives, so the walk goes beyond.
    furthest = days + float(lead.max(initial=0.0))
    arrival = walk(use, day, furthest, capacity - clocks.spent, exponential_draws(calibration, rows, "sudden"))
    worn = calibration.live.status[rows] == "worn"
    return Ahead(use, clocks, capacity, lead, arrival, worn)


def lead_time_weeks(calibration: Calibration, rows: Array) -> Array:
    """Median lead time of a replacement: of the tool's own, else the usual one; shape (tool,). [week]"""
    own = calibration.live.lead_time_weeks[rows]
    return np.where(np.isnan(own), calibration.identity.lead_time_weeks, own)


def lead_days(calibration: Calibration, rows: Array) -> Array:
    """Draws of the lead time of a replacement, lognormal, shape (sample, tool)."""
    days = normal_draws(calibration, rows, "lead")
    days *= calibration.identity.lead_time_log_sd
    np.exp(days, out=days)
    days *= in_precision_of(days, WEEK * lead_time_weeks(calibration, rows))
    return days
