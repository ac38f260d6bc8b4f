"""What will truly happen to the live tools of a simulated fleet: the forecast of one who knows everything but luck."""

import math
from dataclasses import dataclass
from datetime import date

import numpy as np

from wearfit.demo.capacity import cumulative_hazard
from wearfit.demo.career import Career
from wearfit.demo.settings import Fleet
from wearfit.demo.simulate import SimulatedFleet
from wearfit.demo.walk import storage_wear
from wearfit.demo.world import dry_wear_per_shot, seasonal_damp_factor


@dataclass(frozen=True, slots=True)
class NextRun:
    """A run that is asked about. `month` is the first day of its month."""

    tool_id: str
    plant_id: str
    resin_id: str
    month: date
    shots: int


def wear_out_probability(fleet: SimulatedFleet, run: NextRun) -> float:
    """True probability that the tool wears out before the run is finished, net of sudden stops.

    Given every parameter and effect and the wear spent, but not the life's capacity: 1 - exp(H(D) - H(D after the run)).

    Raises
    ------
    KeyError
        Where tool, plant or resin is not the fleet's, or the tool is retired.
    ValueError
        Where the tool is worn already.
    """
    career = fleet.live[run.tool_id]
    if career.worn:
        raise ValueError(f"{run.tool_id} is worn and makes no run until it is renewed")
    settings, life = fleet.settings, math.exp(career.tool.log_life)
    before = cumulative_hazard(settings.law, settings.truth.shape, career.spent / life)
    after = cumulative_hazard(settings.law, settings.truth.shape, spent_after(fleet, run) / life)
    return -math.expm1(before - after)


def any_stop_probability(fleet: SimulatedFleet, run: NextRun) -> float:
    """True probability that the run is stopped by wear-out or by a sudden stop."""
    career, truth = fleet.live[run.tool_id], fleet.settings.truth
    rate = truth.sudden_per_life * run.shots / math.exp(career.tool.class_log_life)
    handling = truth.sudden_per_handling * (setups_of(career) + (run.plant_id != career.plant_id))
    hazard = (rate + handling) * math.exp(fleet.world.plant_sudden[run.plant_id])
    return 1.0 - (1.0 - wear_out_probability(fleet, run)) * math.exp(-hazard)


def wears_out(fleet: SimulatedFleet, run: NextRun) -> bool:
    """Whether the tool's true capacity gives out before the run is finished."""
    return spent_after(fleet, run) >= fleet.live[run.tool_id].capacity


def spent_after(fleet: SimulatedFleet, run: NextRun) -> float:
    """Wear spent when the run is finished, in reference shots, storage until its month included."""
    career, world = fleet.live[run.tool_id], fleet.world
    per_shot = dry_wear_per_shot(world, career.tool.steel, career.tool.coating, run.plant_id, run.resin_id, career.modifications)
    per_shot *= seasonal_damp_factor(world, run.plant_id, run.month.month)
    stored_days = max(0, run.month.toordinal() - world.last_day) if career.stored else 0
    stored = storage_wear(world, career.tool, career.store, career.preserved, stored_days) if career.stored else 0.0
    return career.spent + stored + per_shot * (run.shots + fleet.settings.truth.setup_shots * setups_of(career))


def setups_of(career: Career) -> int:
    """Set-ups of one run: none for a prototype insert, which is swapped in a frame that stays in the press."""
    return 0 if career.tool.service_class == "105" else 1


def machine_shots_left(fleet: SimulatedFleet, tool_id: str) -> float:
    """Machine shots that the tool truly has left where it is, in its usual resin, over an average year.

    Set-ups take their part at the tool's usual length of run. Zero for a worn tool.
    """
    career, world = fleet.live[tool_id], fleet.world
    per_shot = dry_wear_per_shot(
        world, career.tool.steel, career.tool.coating, career.plant_id, career.tool.design.resin_ids[0], career.modifications
    )
    per_shot *= seasonal_damp_factor(world, career.plant_id)
    setup_share = fleet.settings.truth.setup_shots * setups_of(career) / career.tool.shots_per_run
    return max(0.0, career.capacity - career.spent) / (per_shot * (1.0 + setup_share))


def ask_next_runs(fleet: SimulatedFleet, seed: int, elsewhere_share: float = 0.15) -> tuple[NextRun, ...]:
    """One run for each live tool that is neither worn nor held, drawn as its owner might ask for it.

    Parameters
    ----------
    fleet : SimulatedFleet
    seed : int
    elsewhere_share : float
        Share of the runs asked for at another plant, any of the fleet's, unseen ones included.

    Notes
    -----
    Sizes do not depend on how long the tool will truly last.
    """
    rng = np.random.default_rng(seed)
    settings = fleet.settings
    runs = []
    for career in fleet.live.values():
        if career.worn or career.held:
            continue
        tool = career.tool
        elsewhere = settings.sites[int(rng.integers(len(settings.sites)))].plant_id
        runs.append(
            NextRun(
                tool_id=tool.tool_id,
                plant_id=elsewhere if rng.random() < elsewhere_share else career.plant_id,
                resin_id=tool.design.resin_ids[int(rng.integers(len(tool.design.resin_ids)))],
                month=month_after(settings, int(rng.integers(1, 7))),
                shots=max(1, round(tool.shots_per_run * math.exp(rng.normal(0.2, 0.5)))),
            )
        )
    return tuple(runs)


def month_after(settings: Fleet, months: int) -> date:
    """First day of the month that comes `months` months after the as-of day's."""
    year, month = divmod(settings.as_of.year * 12 + settings.as_of.month - 1 + months, 12)
    return date(year, month + 1, 1)
