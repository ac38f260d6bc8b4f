"""What one who knows all of a simulated fleet but each tool's own effect says of its next runs.

The least regret that a fleet's records leave, were everything that its tools share told for free: no forecaster does better on average
without readings. Every wear-out counts as if it had been seen at its shot, whatever is on record of it.
"""

import math
from typing import Final

import numpy as np
from scipy.stats import norm, t

from accuracy_parts.truth import spent_after
from wearfit.demo.capacity import cumulative_hazard
from wearfit.demo.career import Career
from wearfit.demo.future import NextRun
from wearfit.demo.simulate import SimulatedFleet
from wearfit.demo.walk import Life

Array = np.ndarray

UNIT_EFFECT: Final = np.linspace(-6.0, 6.0, 73)  # nodes of a tool's effect, in its standard deviations
LEAST: Final = 1e-300  # rise of a hazard over so little
NEAR: Final = 1e-4  # of the wear at an end, over which its hazard is taken


def chance_without_tool(fleet: SimulatedFleet, run: NextRun, lives_known: bool = True) -> float:
    """Chance that a tool wears out before a run is finished, its own effect known by its own lives alone, or not even by these."""
    career = fleet.live[run.tool_id]
    log_weight = _log_prior(fleet.settings.tail)
    for life in career.lives if lives_known else ():
        log_weight = log_weight + _log_likelihood(fleet, career, life)
    weight = np.exp(log_weight - log_weight.max())
    after = career.good_at + career.stood + spent_after(fleet, run) - career.spent
    worn = -np.expm1(_hazard(fleet, career, career.good_at) - _hazard(fleet, career, after))
    return float(weight @ worn / weight.sum())


def _hazard(fleet: SimulatedFleet, career: Career, spent: float) -> Array:
    """Cumulative hazard of a tool at some wear, at each of UNIT_EFFECT."""
    settings = fleet.settings
    lives = np.exp(career.tool.log_life - career.tool.effect + settings.truth.tool_sd * UNIT_EFFECT)
    return np.array([cumulative_hazard(settings.law, settings.truth.shape, spent / life) for life in lives])


def _log_prior(tail: float | None) -> Array:
    if tail is None:
        return np.asarray(norm.logpdf(UNIT_EFFECT))
    return np.asarray(t.logpdf(UNIT_EFFECT * math.sqrt(tail / (tail - 2.0)), tail))


def _log_likelihood(fleet: SimulatedFleet, career: Career, life: Life) -> Array:
    """Of one life of a tool at each of UNIT_EFFECT; the one under way was last seen good at `good_at`."""
    end = {"running": career.good_at, "wear": life.capacity}.get(life.ending, life.spent)
    survived = _hazard(fleet, career, life.virtual_age) - _hazard(fleet, career, end)
    if life.ending != "wear":
        return survived
    rise = _hazard(fleet, career, end * (1.0 + NEAR)) - _hazard(fleet, career, end * (1.0 - NEAR))
    return np.asarray(survived + np.log(np.maximum(rise, LEAST)))
