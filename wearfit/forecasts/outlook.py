"""What the tools of a fleet share ahead of them: conditions, the season of use, and the year that repeats beyond the plan."""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any, Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.forecasts.conditions import OF_CONDITIONS, Conditions, generator, read_conditions
from wearfit.forecasts.year_round import Reached, YearRound, looked_up
from wearfit.processors import ENOUGH, shared_out

Array = np.ndarray

BLOCK: Final = 512  # tools whose bootstrap weights are held at once


@dataclass(frozen=True)
class Outlook:
    """What the tools of a fleet share ahead of them."""

    conditions: Conditions
    season: Array  # (sample, 12) use in each calendar month over the yearly mean
    _years: dict[int, "Year"] = field(default_factory=dict)  # those that were asked for, by calendar month

    def year_from(self, first: int) -> "Year":
        """The year that begins in a calendar month, 0 for January."""
        if first not in self._years:
            use, wear = (np.roll(a, -first, axis=0) for a in (self.season.T, np.swapaxes(self.conditions.plant_wear, 1, 2)))
            self._years[first] = Year(YearRound.of(use[:, None] * wear), YearRound.of(use[:, None]), use)
        return self._years[first]


@dataclass(frozen=True)
class Year:
    """A year like every other, from some calendar month on, of a tool whose use is one a month and whose job costs one wear a shot."""

    wear: YearRound  # at each plant
    use: YearRound  # the same at every plant, and called the first
    season: Array  # (month, sample) shots in each month

    def shots_by(self, reached: Reached) -> Array:
        """Shots made by then, shape (sample, tool)."""
        made = looked_up(self.season, reached.place)
        made *= reached.part
        made += looked_up(self.use.begun, reached.place)
        made += reached.years * self.use.year[0][:, None]
        return made


def read_outlook(calibration: Calibration, draws: Sequence[str] = ()) -> Outlook:
    """The outlook of a calibration's fleet, the same whichever tools are asked about.

    Parameters
    ----------
    draws : sequence of str
        Arrays of draws that will be asked for, which may be read from their file in the meantime.
    """
    # What is fetched is kept by who asks, so it comes first.
    works: list[Callable[[], Any]] = [partial(calibration.draws.fetch, *OF_CONDITIONS, *draws), partial(_season, calibration)]
    _, season = shared_out(lambda work: work(), works, enough=1 if len(calibration.live.tool) > BLOCK else ENOUGH)
    return Outlook(read_conditions(calibration), season)


def _season(calibration: Calibration) -> Array:
    """Use in each calendar month over what even use would give, averaging one, shape (sample, 12).

    Each tool's months are held against its own mean, so that a tool that came late is no season. One tool more, used
    evenly, stands for what a small or young fleet cannot tell.
    """
    recent = calibration.live.recent_shots
    as_of = dt.date.fromisoformat(calibration.identity.as_of)
    tools, months = recent.shape
    middles = [as_of - dt.timedelta(days=(months - i - 0.5) * 365.25 / 12.0) for i in range(months)]
    to_calendar = np.array([middle.month - 1 for middle in middles])[:, None] == np.arange(12)
    in_use = ~np.isnan(recent)
    level = np.nan_to_num(recent).sum(axis=1) / np.maximum(in_use.sum(axis=1), 1)
    even = np.full((1, 12), level.sum() / max(tools, 1) * months / 12.0)
    made, due = np.nan_to_num(recent) @ to_calendar, (level[:, None] * in_use) @ to_calendar
    of_tools = np.hstack([np.concatenate([made, even]), np.concatenate([due, even])])
    rng, drawn = generator(calibration, "season"), np.zeros((calibration.samples, 24))
    room = np.empty(calibration.samples * min(BLOCK, tools + 1))  # the same for all blocks: fresh memory costs as much as the drawing
    for start in range(0, tools + 1, BLOCK):
        block = of_tools[start : start + BLOCK]
        weights = room[: calibration.samples * len(block)].reshape(calibration.samples, len(block))
        drawn += rng.standard_exponential(out=weights) @ block
    made_drawn, due_drawn = np.hsplit(drawn, 2)
    season = np.where(due_drawn > 0, made_drawn / np.maximum(due_drawn, 1e-12), 1.0)
    return np.asarray(season / season.mean(axis=1, keepdims=True), dtype=calibration.precision)
