"""How much each tool will be used, month by month, and what wear and risk that brings.

Use and conditions come from the plan where it speaks, else from what the owner states, else from the last months: their
level by the Bayesian bootstrap over months (Rubin 1981), so that a patchy record gives a wide forecast, and the season by
the bootstrap over the fleet's tools.
"""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from wearfit.calibration import Calibration
from wearfit.forecasts.conditions import generator, log_modification_wear, log_plant_wear, log_resin_wear, sudden_rates

Array = np.ndarray


@dataclass(frozen=True)
class Step:
    """A stretch of time within one month. Arrays of shape (sample, tool)."""

    start: float  # days after the first day asked for
    days: float
    shots: Array
    wear: Array  # [reference shots]
    sudden: Array  # expected sudden stops


@dataclass(frozen=True)
class _Month:
    shots: Array  # (sample, tool) in a whole month
    wear: Array  # per shot, set-ups included
    sudden: Array  # per shot


class UseAhead:
    """Use, wear and sudden-stop risk ahead of some live tools.

    Parameters
    ----------
    calibration : Calibration
    rows : array, shape (tool,)
        Rows of the live table.
    """

    def __init__(self, calibration: Calibration, rows: Array) -> None:
        self._calibration = calibration
        self._live = calibration.live
        self._rows = rows
        self._as_of = dt.date.fromisoformat(calibration.identity.as_of)
        plant_wear = log_plant_wear(calibration)
        # A tool whose plant is unknown runs under the mean of the plants.
        self._plant_wear = np.concatenate([plant_wear, plant_wear.mean(axis=1, keepdims=True)], axis=1)
        self._resin_wear = np.exp(log_resin_wear(calibration))
        self._modified = np.exp(log_modification_wear(calibration, self._live.modifications[rows]))
        setup = np.exp(calibration.coefficient("log_setup"))[:, None]
        self._overhead = 1.0 + setup * (self._live.setups_per_shot * self._live.setup_share)[rows][None, :]
        self._mix = self._resin_mix()
        self._months: dict[int, _Month] = {}
        self.level = self._level()
        self._season = _season(calibration)
        rates = sudden_rates(calibration, rows, self.plant)
        self._sudden_per_shot = rates[:, :, 0] + rates[:, :, 1] * self._live.setups_per_shot[rows]

    @property
    def plant(self) -> Array:
        """Plant of each tool, -1 where unknown."""
        return np.asarray(self._live.plant[self._rows])

    def expected_per_month(self) -> Array:
        """Mean shots a month over the next twelve, shape (tool,)."""
        ahead = [self._month(i) for i in range(12)]
        return np.mean([m.shots.mean(axis=0) for m in ahead], axis=0)

    def mean_wear_per_shot(self) -> Array:
        """Wear per shot over the coming year at even use, set-ups included, shape (sample, tool)."""
        return np.mean([self._month(i).wear for i in range(12)], axis=0)

    def steps(self, first: dt.date, end: dt.date) -> Iterator[Step]:
        """Stretches from the end of day `first` to the end of day `end`, neither before the calibration's as-of day."""
        day = first + dt.timedelta(days=1)
        while day <= end:
            next_month = (day.replace(day=1) + dt.timedelta(days=32)).replace(day=1)
            stop = min(next_month, end + dt.timedelta(days=1))
            ahead = (day.year - self._as_of.year) * 12 + day.month - self._as_of.month
            month = self._month(ahead)
            share = (stop - day).days / (next_month - day.replace(day=1)).days
            shots = month.shots * share
            yield Step((day - first).days - 1.0, float((stop - day).days), shots, shots * month.wear, shots * month.sudden)
            day = stop

    def _month(self, ahead: int) -> _Month:
        """Use and conditions of the month so many after the as-of month; beyond the plan a year is like the next."""
        planned = self._live.plan_shots.shape[1]
        key = ahead if ahead < planned else planned + (ahead - planned) % 12
        if key not in self._months:
            self._months[key] = self._work_out(key)
        return self._months[key]

    def _work_out(self, ahead: int) -> _Month:
        live, rows = self._live, self._rows
        calendar = (self._as_of.month - 1 + ahead) % 12
        shots = self.level * self._season[:, calendar][:, None]
        plant, job = self.plant, self._mix
        if ahead < live.plan_shots.shape[1]:
            planned = live.plan_shots[rows, ahead]
            shots = np.where(np.isnan(planned), shots, np.nan_to_num(planned)[None, :])
            plant = np.where(live.plan_plant[rows, ahead] >= 0, live.plan_plant[rows, ahead], plant)
            resin = live.plan_resin[rows, ahead]
            if np.any(resin >= 0):
                job = np.where(resin >= 0, self._resin_wear[:, resin, live.steel_group[rows]], job)
        wear = np.exp(self._plant_wear[:, plant, calendar]) * job * self._modified * self._overhead
        return _Month(shots, wear, self._sudden_per_shot)

    def _resin_mix(self) -> Array:
        """Mean wear per shot over each tool's mix of resins, shape (sample, tool); the reference resin where none ran."""
        share = np.asarray(self._live.resin_share[self._rows], dtype=float)
        mix = np.einsum("srg,tr->stg", self._resin_wear, share)
        picked = np.take_along_axis(mix, self._live.steel_group[self._rows][None, :, None], axis=2)[:, :, 0]
        return np.where(share.sum(axis=1) > 0, picked, 1.0)

    def _level(self) -> Array:
        """Shots a month without a plan, shape (sample, tool)."""
        n = self._calibration.samples
        out = np.zeros((n, len(self._rows)))
        for i, row in enumerate(self._rows):
            stated, recent = self._live.shots_per_month[row], self._live.recent_shots[row]
            recent = recent[~np.isnan(recent)]
            if not np.isnan(stated):
                out[:, i] = stated
            elif len(recent) and recent.sum() > 0:
                rng = generator(self._calibration, "level", str(self._calibration.levels.tool[self._live.tool[row]]))
                weights = rng.standard_exponential((n, len(recent)))
                out[:, i] = weights @ recent / weights.sum(axis=1)
        return out


def _season(calibration: Calibration) -> Array:
    """Use in each calendar month over the yearly mean, shape (sample, 12)."""
    recent = np.nan_to_num(calibration.live.recent_shots)
    as_of = dt.date.fromisoformat(calibration.identity.as_of)
    months = recent.shape[1]
    by_calendar = np.zeros((len(recent), 12))
    for i in range(months):
        middle = as_of - dt.timedelta(days=(months - i - 0.5) * 365.25 / 12.0)
        by_calendar[:, middle.month - 1] += recent[:, i]
    rng = generator(calibration, "season")
    profile = (
        rng.standard_exponential((calibration.samples, len(recent))) @ by_calendar if len(recent) else np.zeros((calibration.samples, 12))
    )
    total = profile.sum(axis=1, keepdims=True)
    return np.where(total > 0, 12.0 * profile / np.maximum(total, 1e-12), 1.0)
