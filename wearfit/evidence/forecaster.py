"""What every forecaster, wearfit or one that it is compared with, says of the tools at a past day."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from wearfit.evidence.outcomes import Outcome

Array = np.ndarray

LEAST: Final = 1e-6  # chances are told no nearer to none or to certain: no log score is then infinite, for any forecaster


@dataclass(frozen=True)
class RunChance:
    """Chance that a tool wears out before a run is finished.

    Parameters
    ----------
    worn : float
    stopped : float
        That it is stopped by anything, NaN where that is not forecast.
    by_draw : array, shape (sample,)
        What each draw of what all tools share adds to `worn`, times the number of draws; empty where a forecaster has none.
    """

    worn: float
    stopped: float = float("nan")
    by_draw: Array = field(default_factory=lambda: np.zeros(0), compare=False)


@dataclass(frozen=True)
class Forecaster:
    """Forecasts made at one past day.

    Parameters
    ----------
    runs : callable
        Takes the outcome of a tool for the runs that were asked, not for what became of them; gives the chance of each run, given
        that the tool came through those before it.
    within : mapping of str to callable
        By tool, the chance that it wears out within so many machine shots (point,) from the day on, shape (point,).
    """

    runs: Callable[[Outcome], tuple[RunChance, ...]]
    within: Mapping[str, Callable[[Array], Array]]


def told(chance: float) -> float:
    """A chance no nearer to none or to certain than LEAST."""
    return float(np.clip(chance, LEAST, 1.0 - LEAST))


def from_survival(survival: Mapping[str, Callable[[Array], Array]]) -> Forecaster:
    """A forecaster that counts shots alone, whatever they were made in.

    Parameters
    ----------
    survival : mapping of str to callable
        By tool, the chance that its life is good after so many more machine shots, given that it is good now: one at 0.
    """

    def runs(outcome: Outcome) -> tuple[RunChance, ...]:
        made = np.concatenate([[0.0], np.cumsum([run.made for run in outcome.runs])[:-1]]) if outcome.runs else np.zeros(0)
        good = survival[outcome.tool_id]
        ends = made + np.array([run.shots for run in outcome.runs])
        # A law may leave nothing of a tool that came through all the same: worn for certain, as far as it goes.
        with np.errstate(divide="ignore", invalid="ignore"):
            chances = np.nan_to_num(1.0 - good(ends) / good(made), nan=1.0)
        return tuple(RunChance(told(float(chance))) for chance in chances)

    def lost(good: Callable[[Array], Array]) -> Callable[[Array], Array]:
        return lambda shots: np.asarray(1.0 - good(shots))

    return Forecaster(runs, {tool: lost(good) for tool, good in survival.items()})
