"""The plan, spread over the live tools month by month."""

from collections.abc import Hashable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from wearfit.exposures.table import Exposures
from wearfit.records.frames import cells_by_row
from wearfit.records.records import Records

Array = np.ndarray


@dataclass(frozen=True)
class PlanAhead:
    """Planned use. Arrays of shape (live, month), the as-of month first; at least one month."""

    shots: Array  # NaN where nothing is planned
    plant: Array  # index, -1 where the plan does not say
    resin: Array  # index, -1


def spread_plan(records: Records, exposures: Exposures, live: Array, recent_shots: Array) -> PlanAhead:
    """Planned shots of each live tool.

    Parameters
    ----------
    live : array, shape (live,)
        Indices of the live tools.
    recent_shots : array, shape (live,)
        What each made recently: a design's shots are split over its live copies in this proportion, evenly where none ran.

    Notes
    -----
    A row with `units` of a product asks `parts_per_unit` parts of each design in its bill; without a bill one part a unit.
    """
    frame = records.tables["plan"]
    now = exposures.as_of.astype("datetime64[M]").astype(np.int64)
    month = frame["month"].to_numpy().astype("datetime64[M]").astype(np.int64) - now
    frame, month = frame[month >= 0], month[month >= 0]
    months = int(month.max()) + 1 if len(month) else 1
    shots = np.full((len(live), months), np.nan)
    plant, resin = np.full((len(live), months), -1), np.full((len(live), months), -1)
    plants = {p: i for i, p in enumerate(exposures.plant_ids)}
    resins = {r: i for i, r in enumerate(exposures.resins.resin_id)}
    asks = _Asks(records, exposures, live, recent_shots)
    for row, when in zip(cells_by_row(frame), month.tolist(), strict=True):
        for tool, wanted in asks.of(row):
            shots[tool, when] = np.nan_to_num(shots[tool, when]) + wanted
            plant[tool, when] = plants.get(row["plant_id"], plant[tool, when])
            resin[tool, when] = resins.get(row["resin_id"], resin[tool, when])
    return PlanAhead(shots, plant, resin)


class _Asks:
    """Which live tools a row of the plan asks for how many shots."""

    def __init__(self, records: Records, exposures: Exposures, live: Array, recent_shots: Array) -> None:
        tools = exposures.tools
        self._row_of = {tools.tool_id[t]: i for i, t in enumerate(live)}
        self._design_of = [tools.design_ids[d] if d >= 0 else "" for d in tools.design[live]]
        self._copies = {d: np.flatnonzero(tools.design[live] == i) for i, d in enumerate(tools.design_ids)}
        self._cavities = tools.cavities[live]
        self._recent = recent_shots
        self._shared: dict[tuple[str, str], list[tuple[int, float]]] = {}
        bill = records.tables["bill"]
        self._parts = {(p, d): float(n) for p, d, n in zip(bill["product_id"], bill["design_id"], bill["parts_per_unit"], strict=True)}

    def of(self, row: Mapping[Hashable, Any]) -> Iterator[tuple[int, float]]:
        """Live rows and their shots; none for a tool or design that is not live."""
        asked = row["tool_id"], row["design_id"]
        if asked not in self._shared:  # a plan asks for the same month after month
            self._shared[asked] = self._shares(*asked)
        for i, part in self._shared[asked]:
            parts = self._parts.get((row["product_id"], row["design_id"] or self._design_of[i]), 1.0)
            yield i, part * (row["units"] * parts / self._cavities[i] if np.isnan(row["shots"]) else row["shots"])

    def _shares(self, tool: str, design: str) -> list[tuple[int, float]]:
        """Live rows that share what is asked of a tool or, where none is named, of a design."""
        if tool:
            copies = np.array([self._row_of[tool]] if tool in self._row_of else [], dtype=np.int64)
        else:
            copies = self._copies.get(design, np.zeros(0, dtype=np.int64))
        recent = self._recent[copies]
        share = recent / recent.sum() if recent.sum() > 0 else np.full(len(copies), 1.0 / max(len(copies), 1))
        return list(zip(copies.tolist(), share.tolist(), strict=True))
