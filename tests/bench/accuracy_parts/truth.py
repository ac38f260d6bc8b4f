"""What one who knows every parameter, group effect and tool effect of a simulated fleet says of its tools.

All of it is the simulator's: the chance of a run given what anybody could have seen, and the law of the shots left.
"""

import math
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np

from wearfit.demo.capacity import cumulative_hazard
from wearfit.demo.career import SEASON, Career
from wearfit.demo.future import NextRun, month_after, setups_of, spent_after
from wearfit.demo.simulate import SimulatedFleet
from wearfit.demo.world import dry_wear_per_shot, seasonal_damp_factor

Array = np.ndarray

RUNS_ASKED: Final = 2  # of each tool
LOG_SIZE: Final = (0.2, 0.5)  # of a run asked about over the tool's usual one: mean and standard deviation
MOVES: Final = "unseen_plants"  # the kind whose runs are asked at plants without a history


def asked_runs(fleet: SimulatedFleet, seed: int) -> tuple[NextRun, ...]:
    """Runs of the month that begins after the as-of day, of all live tools that are neither worn nor on hold.

    At the tool's own plant, in its usual resin; where the fleet has plants without a history, at one of them. Sizes do not depend on
    how long the tool will last.
    """
    rng = np.random.default_rng([seed, 1])
    settings = fleet.settings
    unseen = [s.plant_id for s in settings.sites[len(settings.seen_sites) :]]
    runs = []
    for tool_id, career in fleet.live.items():
        if career.worn or career.held:
            continue
        for _ in range(RUNS_ASKED):
            plant_id = unseen[int(rng.integers(len(unseen)))] if unseen else career.plant_id
            shots = max(1, round(career.tool.shots_per_run * math.exp(rng.normal(*LOG_SIZE))))
            runs.append(NextRun(tool_id, plant_id, career.tool.design.resin_ids[0], month_after(settings, 1), shots))
    return tuple(runs)


def true_chance(fleet: SimulatedFleet, run: NextRun) -> float:
    """Chance that a tool wears out before a run is finished, given that it was good when it was last seen so.

    What it has stood since, in store or idle, is counted with the run: nobody has looked what it took. The run must follow the as-of
    day at once, so that nothing is stood until it begins.
    """
    if (run.month - date.fromordinal(fleet.world.last_day)).days > 1:
        raise ValueError("the run does not follow the as-of day at once")
    career = fleet.live[run.tool_id]
    after = career.good_at + career.stood + spent_after(fleet, run) - career.spent
    return -math.expm1(_hazard(fleet, career, career.good_at) - _hazard(fleet, career, after))


def _hazard(fleet: SimulatedFleet, career: Career, spent: float) -> float:
    settings = fleet.settings
    return cumulative_hazard(settings.law, settings.truth.shape, spent / math.exp(career.tool.log_life))


@dataclass(frozen=True)
class Remaining:
    """The true law of the machine shots that a tool has left where it is, as it is used, given that it is good at the as-of day."""

    fleet: SimulatedFleet
    career: Career
    wear_per_shot: float  # [reference shots]

    def gone_by(self, shots: Array) -> Array:
        """Chance that it is worn out by so many machine shots, shape as given."""
        spent = self.career.good_at + self.career.stood
        now = _hazard(self.fleet, self.career, spent)
        later = [_hazard(self.fleet, self.career, spent + self.wear_per_shot * float(n)) for n in np.ravel(shots)]
        return np.reshape(-np.expm1(now - np.array(later)), np.shape(shots))


def remaining_of(fleet: SimulatedFleet, career: Career) -> Remaining:
    """What is left of a tool at its plant: its mix of resins, its line's season, set-ups at its usual length of run.

    Modifications, moves and idle time to come are left out, as no forecaster is told of them.
    """
    resins, share = career.tool.design.resin_ids, fleet.settings.habits.other_resin_share
    others = [dry_wear(fleet, career, resin_id) for resin_id in resins[1:]]
    dry = dry_wear(fleet, career, resins[0])
    if others:
        dry = (1.0 - share) * dry + share * float(np.mean(others))
    season = SEASON[career.tool.design.line]
    damp = [w * seasonal_damp_factor(fleet.world, career.plant_id, m + 1) for m, w in enumerate(season)]
    setups = fleet.settings.truth.setup_shots * setups_of(career) * MEAN_SETUPS / career.tool.shots_per_run
    return Remaining(fleet, career, dry * sum(damp) / sum(season) * (1.0 + setups))


MEAN_SETUPS: Final = 1.03  # one run in 33 of the simulator's is set up twice


def dry_wear(fleet: SimulatedFleet, career: Career, resin_id: str) -> float:
    """Reference shots that a machine shot costs a tool where it is, in a mould that never sweats."""
    return dry_wear_per_shot(fleet.world, career.tool.steel, career.tool.coating, career.plant_id, resin_id, career.modifications)
