"""How much each tool will be used, month by month, and what wear and risk that brings.

Use and conditions come from the plan where it speaks, else from what the owner states, else from the last months: their
level and idle months by the Bayesian bootstrap over months (Rubin 1981, Ann. Statist. 9), so that a patchy record gives a
wide forecast, and the season by the bootstrap over the fleet's tools. Beyond the plan every year is like the next.
"""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from wearfit.calibration import Calibration
from wearfit.forecasts.conditions import in_precision_of, of_tools
from wearfit.forecasts.in_pieces import planned_months
from wearfit.forecasts.outlook import Outlook, Year
from wearfit.forecasts.usual_use import UsualUse

Array = np.ndarray


@dataclass(frozen=True)
class Use:
    """Use over a stretch of time, and what each shot brings. Arrays of shape (sample, tool)."""

    shots: Array
    wear_per_shot: Array  # [reference shots]
    sudden_per_shot: Array

    @property
    def wear(self) -> Array:
        """Wear over it. [reference shots]"""
        return self.shots * self.wear_per_shot

    @property
    def sudden(self) -> Array:
        """Expected sudden stops."""
        return self.shots * self.sudden_per_shot


@dataclass(frozen=True)
class MonthAhead:
    """Use wanted in a month, and what each shot brings. Arrays of shape (sample, tool) unless said otherwise."""

    length: float  # share of the month that lies ahead
    shots: Array  # in a whole month
    planned: Array  # (tool,)
    wear: Array  # per shot [reference shots]
    sudden: Array  # expected sudden stops per shot


@dataclass(frozen=True)
class _Month:
    shots: Array  # (sample, tool) in a whole month
    planned: Array  # (tool,)
    wear: Array  # per shot, set-ups included
    sudden: Array  # per shot, set-ups included

    def use(self, share: float) -> Use:
        shots = np.broadcast_to(one_row(self.shots) * share, self.shots.shape) if share < 1.0 else self.shots
        return Use(shots, self.wear, self.sudden)


class UseAhead:
    """Use, wear and sudden-stop risk ahead of some live tools. Months are counted from the calibration's own.

    Parameters
    ----------
    calibration : Calibration
    outlook : Outlook
        Of the same calibration.
    rows : array, shape (tool,)
        Rows of the live table.
    """

    def __init__(self, calibration: Calibration, outlook: Outlook, rows: Array) -> None:
        self._calibration = calibration
        self._live = calibration.live
        self._outlook = outlook
        self._rows = rows
        self._as_of = dt.date.fromisoformat(calibration.identity.as_of)
        self._planned_months = int(planned_months(calibration, rows).max(initial=0))
        self._months: dict[int, _Month] = {}
        self.usual = UsualUse(calibration, outlook, rows)  # where no plan speaks, and beyond it

    def between(self, first: dt.date, end: dt.date) -> Iterator[tuple[Use, Array]]:
        """Use from the end of day `first` to the end of day `end` month by month, and which tools' use is planned, shape (tool,)."""
        day = first + dt.timedelta(days=1)
        while day <= end:
            stop = min(_next_month(day), end + dt.timedelta(days=1))
            month = self._month(self._ahead(day))
            yield month.use((stop - day).days / _length(day)), month.planned
            day = stop

    def days_before_use(self, first: dt.date, end: dt.date) -> Array:
        """Days from the end of `first` to the first month in which each tool is planned to be used, at most to `end`, shape (tool,)."""
        days, waits = np.zeros(len(self._rows)), np.ones(len(self._rows), dtype=bool)
        day = first + dt.timedelta(days=1)
        while day <= end and waits.any():
            stop = min(_next_month(day), end + dt.timedelta(days=1))
            month = self._month(self._ahead(day))
            waits &= ~(month.planned & (month.shots > 0).any(axis=0))
            days += np.where(waits, (stop - day).days, 0)
            day = stop
        return days

    def until_plan_ends(self, day: dt.date) -> Iterator[Use]:
        """Use over what is left of the month after the end of `day`, then over each month up to the plan's last."""
        tomorrow = day + dt.timedelta(days=1)
        ahead = self._ahead(tomorrow)
        yield self._month(ahead).use((_next_month(tomorrow) - tomorrow).days / _length(tomorrow))
        for later in range(ahead + 1, self._planned_months):  # each is asked for once: kept, they would crowd the processor's memory
            yield (self._months[later] if later in self._months else self._work_out(later)).use(1.0)

    def year_after(self, day: dt.date) -> Year:
        """The year that follows `until_plan_ends` and repeats for ever."""
        first = max(self._ahead(day + dt.timedelta(days=1)) + 1, self._planned_months)
        return self._outlook.year_from((self._as_of.month - 1 + first) % 12)

    def each_month(self, day: dt.date, months: int) -> Iterator["MonthAhead"]:
        """What is left of the month after the end of `day`, then the months that follow."""
        tomorrow = day + dt.timedelta(days=1)
        for later in range(months):
            month = self._month(self._ahead(tomorrow) + later)
            length = 1.0 if later else (_next_month(tomorrow) - tomorrow).days / _length(tomorrow)
            yield MonthAhead(length, month.shots, month.planned, month.wear, month.sudden)

    def shots_per_month(self, day: dt.date) -> Array:
        """Shots a month over the twelve months from the day after `day` on, shape (sample, tool)."""
        first = self._ahead(day + dt.timedelta(days=1))
        if first >= self._planned_months:
            return self.usual.level * self._outlook.season.mean(axis=1)[:, None]
        months = np.arange(first, first + 12)
        within = months[months < self._planned_months]
        asked = np.full((len(self._rows), 12), np.nan)
        asked[:, : len(within)] = self._live.plan_shots[self._rows][:, within]
        season = self._outlook.season[:, (self._as_of.month - 1 + months) % 12]
        total = self.usual.level.copy(order="K")
        free, of_free = np.unique(np.isnan(asked), axis=0, return_inverse=True)  # tools mostly have one plan's months
        for which, unplanned in enumerate(free):
            total[:, of_free == which] *= season[:, unplanned].sum(axis=1)[:, None]
        total += in_precision_of(total, np.nansum(asked, axis=1))
        return total / 12.0

    def shots_per_month_beyond_plan(self, day: dt.date) -> Array:
        """The same over the year after the plan, shape (sample, tool)."""
        return self.usual.level * (self.year_after(day).use.year[0][:, None] / 12.0)

    def wear_per_shot_at_even_use(self) -> Array:
        """Wear per shot beyond the plan, averaged over the calendar months, set-ups included, shape (sample, tool)."""
        return np.mean([self._month(self._planned_months + i).wear for i in range(12)], axis=0)

    def _ahead(self, day: dt.date) -> int:
        return (day.year - self._as_of.year) * 12 + day.month - self._as_of.month

    def _month(self, ahead: int) -> _Month:
        planned = self._planned_months
        key = ahead if ahead < planned else planned + (ahead - planned) % 12
        if key not in self._months:
            self._months[key] = self._work_out(key)
        return self._months[key]

    def _shots(self, ahead: int) -> tuple[Array, Array]:
        """Shots in a whole month, shape (sample, tool), and which of them are planned, shape (tool,)."""
        planned = np.zeros(len(self._rows), dtype=bool)
        if ahead < self._planned_months:
            asked = in_precision_of(self.usual.level, self._live.plan_shots[self._rows, ahead])
            planned = ~np.isnan(asked)
            if planned.all():
                return np.broadcast_to(asked, self.usual.level.shape), planned
        shots = self.usual.level * np.ascontiguousarray(self._outlook.season[:, (self._as_of.month - 1 + ahead) % 12])[:, None]
        if planned.any():
            shots[:, planned] = asked[planned]
        return shots, planned

    def _work_out(self, ahead: int) -> _Month:
        live, rows, conditions = self._live, self._rows, self._outlook.conditions
        plant_wear = conditions.plant_wear[(self._as_of.month - 1 + ahead) % 12]
        shots, planned = self._shots(ahead)
        if not planned.any():
            return _Month(shots, planned, _at_plants(plant_wear, self.usual.plant, self.usual.job), self.usual.sudden)
        at = live.plan_plant[rows, ahead]
        plant = np.where(at >= 0, at, self.usual.plant)
        wear = _at_plants(plant_wear, plant, self.usual.job_in(live.plan_resin[rows, ahead]))
        if (plant == self.usual.plant).all():
            return _Month(shots, planned, wear, self.usual.sudden)
        return _Month(shots, planned, wear, of_tools(conditions.plant_sudden, plant) * self.usual.sudden_per_shot)


def one_row(values: Array) -> Array:
    """The first row alone of (sample, tool), where it stands for all."""
    return values[:1] if values.strides[0] == 0 else values


def _at_plants(plant_wear: Array, plant: Array, job: Array) -> Array:
    """Wear per shot of jobs (sample, tool), each at its plant."""
    if (plant == plant[:1]).all():  # mostly: tools at one plant lie side by side
        return np.asarray(plant_wear[:, plant[:1]] * job)
    wear = of_tools(plant_wear, plant)
    wear *= job
    return wear


def _next_month(day: dt.date) -> dt.date:
    return (day.replace(day=1) + dt.timedelta(days=32)).replace(day=1)


def _length(day: dt.date) -> int:
    return (_next_month(day) - day.replace(day=1)).days
