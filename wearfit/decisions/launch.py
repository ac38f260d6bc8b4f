"""Units made by a launch day with several copies of one tool, and what follows the launch."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit.decisions.costs import present_value
from wearfit.decisions.inputs import Values
from wearfit.decisions.lives import MOST
from wearfit.forecasts.new_tool import NewTool

Array = np.ndarray

DAY_SECONDS: Final = 86_400.0
DAYS_PER_MONTH: Final = 365.25 / 12.0


def shots_per_day(cycle_seconds: float, uptime: Array | float, hours_per_day: float, days_per_week: float) -> Array:
    """Machine shots of one tool a calendar day at full rate."""
    return np.asarray(DAY_SECONDS / cycle_seconds * uptime * hours_per_day / 24.0 * days_per_week / 7.0)


def full_days(days: Array | float, ramp_days: float) -> Array:
    """Days at full rate that make as much as so many days of a start that climbs evenly from nothing to the full rate."""
    days = np.maximum(days, 0.0)
    return np.asarray(np.where(days < ramp_days, days**2 / (2.0 * max(ramp_days, 1e-9)), days - ramp_days / 2.0))


def days_of(full: Array, ramp_days: float) -> Array:
    """The inverse of `full_days`."""
    return np.asarray(np.where(full < ramp_days / 2.0, np.sqrt(2.0 * ramp_days * np.minimum(full, ramp_days)), full + ramp_days / 2.0))


@dataclass(frozen=True)
class Copy:
    """What one copy could do until the launch. Arrays of shape (sample, future); shots are machine shots."""

    able: Array  # shots that it could make
    lives: tuple[Array, ...]  # shots of each of its cavity sets, as many as can matter


def copy_until(tool: NewTool, copy: int, per_day: Array, days: float, ramp_days: float, down_days: float) -> Copy:
    """One copy from its first shot to the launch: it stands for `down_days` at each end of a life, then runs on at full rate.

    Parameters
    ----------
    per_day : array, shape (sample, 1)
        Machine shots a day at full rate.
    """
    lives = [tool.shots_to_end(0, copy)]
    able = np.minimum(lives[0], per_day * full_days(days, ramp_days))
    back = days_of(lives[0] / per_day, ramp_days) + down_days
    while (back < days).any() and len(lives) < MOST:
        life = tool.shots_to_end(len(lives), copy)
        able = able + np.minimum(life, per_day * np.maximum(days - back, 0.0))
        back = back + life / per_day + down_days
        lives.append(life)
    lives.append(tool.shots_to_end(len(lives), copy))
    return Copy(able, tuple(lives))


@dataclass(frozen=True)
class Launch:
    """A launch with some copies. Arrays of shape (sample, future)."""

    units: Array  # that could be there by the day
    ends: Array  # lives of all copies that end on the way to what is wanted
    left: tuple[Array, ...]  # shots that each copy has left on the day [machine shots]


def launch_with(copies: Sequence[Copy], units_per_shot: Array, wanted: float) -> Launch:
    """What some copies do. Each makes as large a share of what is wanted as it could make.

    Parameters
    ----------
    units_per_shot : array, shape (sample, 1)
        Good units of one machine shot.
    """
    units = units_per_shot * sum((copy.able for copy in copies), np.zeros_like(copies[0].able))
    share = np.minimum(wanted / np.maximum(units, 1e-9), 1.0)
    ends, left = np.zeros_like(units), []
    for copy in copies:
        made, bounds = copy.able * share, np.cumsum(copy.lives, axis=0)
        # A life that is used up to its last shot by the day has ended.
        over = (bounds[:-1] <= made * (1.0 + 1e-12)).sum(axis=0)
        ends += over
        left.append(np.maximum(np.take_along_axis(bounds, over[None], axis=0)[0] - made, 0.0))
    return Launch(units, ends, tuple(left))


def cost_after(tool: NewTool, launch: Launch, shots: float, values: Values) -> Array:
    """What the ends of lives cost after the launch, as of that day, shape (sample, future).

    One copy runs at a time. One that stops is taken over by the next; once none is left to take over, a new cavity set is made,
    and the parts are missing meanwhile.
    """
    a_month, rate = shots / values["later_months"], values["discount_rate"]
    total, made = np.zeros_like(launch.units), np.zeros_like(launch.units)
    unplanned = values["retool_cost"] + values["gap_cost_per_week"] * values["retool_weeks"]
    for turn in range(MOST):
        # The cavity sets that follow the last copy's are its later lives, far from those before the launch.
        made = made + (launch.left[turn] if turn < len(launch.left) else tool.shots_to_end(MOST + turn))
        due = np.where(made < shots, made, np.inf)
        if not np.isfinite(due).any():
            break
        each = values["stop_cost"] + (unplanned if turn >= len(launch.left) - 1 else 0.0)
        total += each * present_value(due / max(a_month, 1e-9), rate)
    return total
