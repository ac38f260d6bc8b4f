"""Lives of one service class at one conditioned plant in one plain resin, one tool each: nothing tells them apart but luck."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from small_fleet import exposures_of

from wearfit.exposures.classes import CLASSES, USUAL_STEEL
from wearfit.exposures.table import Exposures

Ending = Literal["running", "worn", "found worn"]
COLUMNS = {
    "tools": "tool_id,service_class,cavity_steel,commissioned_on,opening_life_shots",
    "runs": "tool_id,plant_id,resin_id,started_on,ended_on,shots,setups",
    "events": "tool_id,date,event,cause,last_good_on",
}


@dataclass(frozen=True)
class Life:
    """Shots since `opening` (before the records), and how they ended; found worn, the last half of them is in doubt."""

    shots: int
    ending: Ending = "running"
    opening: int = 0


def fleet_of(lives: Sequence[Life], service_class: str = "103") -> Exposures:
    """Each life on a tool of its own, made in one run of twenty days without a set-up."""
    steel = USUAL_STEEL[CLASSES.index(service_class)]
    tools, runs, events = [COLUMNS["tools"]], [COLUMNS["runs"]], [COLUMNS["events"]]
    for i, life in enumerate(lives):
        name = f"T{i:03d}"
        tools.append(f"{name},{service_class},{steel},2018-01-02,{life.opening}")
        runs.append(f"{name},Heath,plain,2018-01-10,2018-01-29,{life.shots},0")
        if life.ending != "running":
            events.append(f"{name},2018-01-30,retire,wear,{'2018-01-19' if life.ending == 'found worn' else ''}")
    return exposures_of(
        {
            "tools": "\n".join(tools),
            "runs": "\n".join(runs),
            "events": "\n".join(events),
            "plants": "plant_id,conditioned\nHeath,1",
            "resins": "resin_id,family\nplain,ABS",
        }
    )


def simulated_lives(n: int, shape: float, eta: float, seed: int) -> list[Life]:
    """Weibull lives: a third are stopped early, a quarter found late, a fifth were under way when the records began. [shots]"""
    rng = np.random.default_rng(seed)
    lives = []
    for _ in range(n):
        opening = int(rng.uniform(0.1, 0.5) * eta) if rng.random() < 0.2 else 0
        # The capacity of a life that has come to its opening.
        capacity = eta * ((opening / eta) ** shape + rng.exponential()) ** (1.0 / shape)
        left = int(capacity) - opening
        if rng.random() < 1.0 / 3.0:
            lives.append(Life(max(1, int(left * rng.random())), "running", opening))
        elif rng.random() < 0.25:
            # Found at a time that does not depend on the capacity: the wear-out is known to lie in the second half.
            lives.append(Life(int(left / rng.uniform(0.5, 1.0)), "found worn", opening))
        else:
            lives.append(Life(max(1, left), "worn", opening))
    return lives
