"""What the scenario's owner plans for the coming year, and the runs that are about to be decided."""

import math
from collections.abc import Sequence
from itertools import zip_longest

import numpy as np

from wearfit.demo.career import SEASON, Career
from wearfit.demo.future import NextRun, month_after, wear_out_probability
from wearfit.demo.simulate import SimulatedFleet
from wearfit.demo.walk import Row

MONTHS_PLANNED = 12
QUESTION_COLUMNS = ("tool_id", "plant_id", "resin_id", "month", "shots")
NEW_PLANT = "north-annex"


def plan_rows(fleet: SimulatedFleet, n_tools: int, n_designs: int, seed: int) -> list[Row]:
    """Planned shots month by month for some tools, and for some designs none of whose tools is planned by itself."""
    rng = np.random.default_rng(seed)
    ready = [c for c in fleet.live.values() if not (c.worn or c.held or c.stored) and c.tool.service_class != "105" and c.runs]
    chosen = [ready[i] for i in sorted(rng.choice(len(ready), size=min(n_tools, len(ready)), replace=False).tolist())]
    planned_alone = {c.tool.design.design_id for c in chosen}
    others = sorted({c.tool.design.design_id for c in ready} - planned_alone)
    designs = [others[i] for i in sorted(rng.choice(len(others), size=min(n_designs, len(others)), replace=False).tolist())]
    rows = [row for c in chosen for row in _months(fleet, [c], {"tool_id": c.tool.tool_id}, rng)]
    for design_id in designs:
        copies = [c for c in ready if c.tool.design.design_id == design_id]
        rows += _months(fleet, copies, {"design_id": design_id}, rng)
    return rows


def _months(fleet: SimulatedFleet, copies: Sequence[Career], what: Row, rng: np.random.Generator) -> list[Row]:
    """A year of planned shots, of last years' use, in the line's season, more or less than before."""
    yearly = sum(c.tool.runs_per_year * c.tool.shots_per_run for c in copies) * float(rng.uniform(0.75, 1.25))
    season = SEASON[copies[0].tool.design.line]
    where: Row = (
        {"plant_id": copies[0].plant_id, "resin_id": copies[0].tool.design.resin_ids[0]} if len(copies) == 1 and rng.random() < 0.5 else {}
    )
    rows = []
    for ahead in range(1, MONTHS_PLANNED + 1):
        month = month_after(fleet.settings, ahead)
        shots = round(yearly / 12.0 * season[month.month - 1], -2)
        if shots > 0:
            rows.append({"month": f"{month:%Y-%m}", **what, "shots": f"{shots:.0f}", **where})
    return rows


def next_run_questions(fleet: SimulatedFleet, n: int, seed: int) -> tuple[NextRun, ...]:
    """Runs to decide on, half of them of the tools that have made most shots for their class since they were last renewed.

    One tool on hold comes first, where there is one; every fourth run is asked for at any plant, the last at one never seen.
    """
    rng = np.random.default_rng(seed)
    usable = [c for c in fleet.live.values() if not (c.worn or c.held or c.stored) and c.tool.service_class != "105" and c.runs]
    usable.sort(key=lambda c: c.life_shots / math.exp(c.tool.class_log_life), reverse=True)
    held = [c for c in fleet.live.values() if c.held][:1]
    others = n - len(held)
    most, rest = usable[: others // 2], usable[others // 2 :]
    fewer = [rest[i] for i in rng.choice(len(rest), size=others - len(most), replace=False).tolist()]
    chosen = [*held, *(c for pair in zip_longest(most, fewer) for c in pair if c is not None)]
    sites = [s.plant_id for s in fleet.settings.sites]
    questions = []
    for i, career in enumerate(chosen):
        plant_id = NEW_PLANT if i == n - 1 else sites[int(rng.integers(len(sites)))] if i % 4 == 3 else career.plant_id
        shots = career.tool.shots_per_run * float(rng.uniform(0.8, 3.0))
        month = month_after(fleet.settings, 1 + i % 6)
        questions.append(NextRun(career.tool.tool_id, plant_id, career.tool.design.resin_ids[0], month, max(1000, int(round(shots, -3)))))
    return tuple(questions)


def question_rows(questions: Sequence[NextRun]) -> list[Row]:
    """The questions as rows of a file that `next-run --runs` reads."""
    return [
        {"tool_id": q.tool_id, "plant_id": q.plant_id, "resin_id": q.resin_id, "month": f"{q.month:%Y-%m}", "shots": str(q.shots)}
        for q in questions
    ]


def question_truth(fleet: SimulatedFleet, questions: Sequence[NextRun]) -> list[dict[str, object]]:
    """The questions with the true probability of wear-out; None at a plant of which nothing is true yet."""
    known = {s.plant_id for s in fleet.settings.sites}
    return [
        {**row, "p_wear_out": wear_out_probability(fleet, q) if q.plant_id in known else None}
        for q, row in zip(questions, question_rows(questions), strict=True)
    ]
