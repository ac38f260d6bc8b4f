"""A plan that is given beside the records, put in the place of the one that a calibration keeps."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.forecasts.conditions import position

Array = np.ndarray

FURTHEST_MONTHS: Final = 240  # ahead of the as-of month


@dataclass(frozen=True)
class PlanRow:
    """One row of a plan, in the names of the calibration; empty where it does not say."""

    month: str  # YYYY-MM
    tool_id: str = ""
    design_id: str = ""
    product_id: str = ""
    shots: float | None = None
    units: float | None = None
    plant_id: str = ""
    resin_id: str = ""


@dataclass(frozen=True)
class Makes:
    """What turns units into shots.

    Parameters
    ----------
    cavities : mapping of str to float
        By tool; one where it does not say.
    parts : mapping of (str, str) to float
        Parts of a design in one unit of a product, from the bill.
    """

    cavities: Mapping[str, float] = field(default_factory=dict)
    parts: Mapping[tuple[str, str], float] = field(default_factory=dict)

    def designs_of(self, product_id: str) -> tuple[str, ...]:
        """The designs that a product needs."""
        return tuple(design for product, design in self.parts if product == product_id)


def with_plan(calibration: Calibration, rows: Sequence[PlanRow], makes: Makes) -> tuple[Calibration, list[str]]:
    """A calibration whose live tools are planned by these rows alone.

    Returns
    -------
    Calibration
    list of str
        Why each row cannot be used and what would repair it, in their order; empty where it is used.

    Notes
    -----
    A design's volume is split over its live copies by what they made of late, evenly where none ran. A row that names a product and
    neither tool nor design is asked of every design in the product's bill.
    """
    live = calibration.live
    first = _month_number(calibration.identity.as_of[:7])
    problems = [_problem(calibration, row, first, makes) for row in rows]
    used = [row for row, problem in zip(rows, problems, strict=True) if not problem]
    months = 1 + max((_month_number(row.month) - first for row in used), default=0)
    shots = np.full((len(live.tool), months), np.nan)
    plant, resin = np.full((len(live.tool), months), -1, dtype=np.int64), np.full((len(live.tool), months), -1, dtype=np.int64)
    for row in used:
        when = _month_number(row.month) - first
        for tool, wanted in _asks(calibration, row, makes):
            shots[tool, when] = np.nan_to_num(shots[tool, when]) + wanted
            if row.plant_id:
                plant[tool, when] = position(calibration.levels.plant, row.plant_id)
            if row.resin_id:
                resin[tool, when] = position(calibration.levels.resin, row.resin_id)
    return replace(calibration, live=replace(live, plan_shots=shots, plan_plant=plant, plan_resin=resin)), problems


def _asks(calibration: Calibration, row: PlanRow, makes: Makes) -> list[tuple[int, float]]:
    """Rows of the live table and the shots that a row of the plan asks of them."""
    live, levels = calibration.live, calibration.levels
    asked = []
    for design_id in (row.design_id,) if row.tool_id or row.design_id else makes.designs_of(row.product_id):
        copies = _copies(calibration, row.tool_id, design_id)
        recent = np.nan_to_num(live.recent_shots[copies]).sum(axis=1)
        share = recent / recent.sum() if recent.sum() > 0 else np.full(len(copies), 1.0 / max(len(copies), 1))
        for tool, part in zip(copies.tolist(), share.tolist(), strict=True):
            own = design_id or (str(levels.design[live.design[tool]]) if live.design[tool] >= 0 else "")
            a_unit = makes.parts.get((row.product_id, own), 1.0) / makes.cavities.get(str(levels.tool[live.tool[tool]]), 1.0)
            asked.append((tool, part * (row.shots if row.shots is not None else (row.units or 0.0) * a_unit)))
    return asked


def _copies(calibration: Calibration, tool_id: str, design_id: str) -> Array:
    """Rows of the live tools that a plan's row names."""
    live, levels = calibration.live, calibration.levels
    if tool_id:
        return np.flatnonzero(levels.tool[live.tool] == tool_id)
    design = position(levels.design, design_id)
    return np.flatnonzero(live.design == design) if design >= 0 else np.zeros(0, dtype=np.int64)


def _problem(calibration: Calibration, row: PlanRow, first: int, makes: Makes) -> str:
    """Why a row cannot be used; empty where it can."""
    levels = calibration.levels
    ahead = _month_number(row.month) - first
    tomorrow = dt.date.fromisoformat(calibration.identity.as_of) + dt.timedelta(days=1)
    if row.month < f"{tomorrow:%Y-%m}":
        return f"{row.month} is over on the as-of day {calibration.identity.as_of}. Give a later month, or leave the row out."
    if ahead > FURTHEST_MONTHS:
        return f"{row.month} lies more than {FURTHEST_MONTHS // 12} years ahead. Give an earlier month."
    for name, known, what in ((row.plant_id, levels.plant, "plant"), (row.resin_id, levels.resin, "resin")):
        if name and position(known, name) < 0:
            return f"{name} is no {what} of the records. Name one that is, leave the cell blank, or add it to the records and recalibrate."
    if row.tool_id:
        if len(_copies(calibration, row.tool_id, "")):
            return ""
        why = "is retired" if row.tool_id in set(levels.tool) else "is not in the records"
        return f"Tool {row.tool_id} {why}. Name a live tool; `wearfit forecast` lists them."
    designs = (row.design_id,) if row.design_id else makes.designs_of(row.product_id)
    if not designs:
        what = f"the bill has no product {row.product_id}" if row.product_id else "product_id is blank as well"
        return f"It names neither a tool nor a design, and {what}. Fill in tool_id or design_id."
    for design_id in designs:
        if not len(_copies(calibration, "", design_id)):
            return f"No live tool is of design {design_id}. Name a design that `wearfit forecast` shows, or a tool."
    return ""


def _month_number(month: str) -> int:
    return int(month[:4]) * 12 + int(month[5:7]) - 1
