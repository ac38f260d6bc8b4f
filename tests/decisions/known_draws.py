"""Draws made by hand: every life follows one Weibull law unless said otherwise."""

import datetime as dt

import numpy as np

from wearfit import law
from wearfit.forecasts.luck import Luck
from wearfit.forecasts.new_tool import NewTool
from wearfit.forecasts.tool_ahead import ToolAhead

AS_OF = dt.date(2026, 6, 30)
WEEKS_PER_MONTH = 365.25 / 12.0 / 7.0
NEVER = 0.0


def known_new_tool(
    life: float = 1000.0,
    shape: float = 2.5,
    sudden: float = NEVER,
    tool_sd: float = 0.0,
    samples: int = 500,
    futures: int = 40,
    seed: int = 3,
) -> NewTool:
    def same(value: float) -> np.ndarray:
        return np.full(samples, float(value))

    return NewTool(
        "a known tool", same(np.log(life)), same(tool_sd), same(shape), same(sudden), Luck(seed, "known", samples, futures),
        np.ones(samples),
        on_record={"replacement_cost": 1000.0},
    )  # fmt: skip


def known_tool(
    age: float = 500.0,
    life: float = 1000.0,
    shape: float = 2.5,
    sudden: float = NEVER,
    use: float = 100.0,
    regained: float = 0.4,
    repeat: float = 0.7,
    lead_log_sd: float = 0.0,
    due_weeks: float | None = None,
    status: str = "running",
    samples: int = 500,
    futures: int = 40,
    seed: int = 3,
) -> ToolAhead:
    def same(value: float) -> np.ndarray:
        return np.full(samples, float(value))

    luck = Luck(seed, "known", samples, futures)
    capacity = law.wear_at(
        law.cumulative_hazard(same(age), same(np.log(life)), same(shape))[:, None] + luck.exponential("wear"), np.log(life), shape
    )
    wear = np.zeros_like(capacity) if status == "worn" else capacity - age
    sudden_shots = luck.exponential("sudden") / max(sudden, 1e-300)
    a_week = use / WEEKS_PER_MONTH
    return ToolAhead(
        tool_id="known", status=status, plant_id="Heath", as_of=AS_OF, age=same(age), log_life=same(np.log(life)),
        fresh_log_life=same(np.log(life)), shape=same(shape), sudden_per_shot=same(sudden), shots_to_wear=wear,
        shots_to_sudden=sudden_shots,
        weeks_to_wear=wear / a_week, weeks_to_sudden=sudden_shots / a_week, shots_per_month=use, shots_this_life=same(age),
        regained=same(regained), repeat=same(repeat), lead_log_sd=lead_log_sd, due_weeks=due_weeks,
        on_record={"replacement_cost": 1000.0, "shots_per_month": use},
        sister=known_new_tool(life, shape, sudden, samples=samples, futures=futures, seed=seed + 1), luck=luck, weights=np.ones(samples),
    )  # fmt: skip
