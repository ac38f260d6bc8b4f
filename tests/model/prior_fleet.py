"""A fleet simulated from the model's own priors, as records, and the truth behind it.

Left out, because records or likelihood take them otherwise than a simulation can: renewals that are planned and sudden stops among
those for other causes, which the model takes to come at an even rate (so those that do are counted in place of the records');
renewals of unstated cause found between two days, where it is the look that is in doubt; unknown classes, steels and pasts, whose
weights rest on the fleet; rounding of gauges; readings over their limit twice in a row, which would be taken for a wear-out (all are
handed over as a small share of their way, and put back).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any, Final

import numpy as np
from prior_careers import GAUGE, RIGHT, Air, Career, Wrong, commissioned, live, undescribed
from prior_design import (
    BAND,
    CLIMATE_TABLE,
    DESIGNS,
    FAST_CYCLE,
    FEATURES,
    MAKERS,
    PLANTS,
    PLANTS_TABLE,
    RESINS,
    RESINS_TABLE,
    USUAL_CYCLE,
    PlannedTool,
    day_of,
    planned_fleet,
)
from prior_truth import Truth, draw_truth
from small_fleet import cells

from wearfit.exposures.build import build_exposures
from wearfit.exposures.classes import CLASSES, OWN_BAND
from wearfit.exposures.covariates import columns, spreads
from wearfit.exposures.places import plant_levels, recorded_places
from wearfit.exposures.table import Exposures
from wearfit.model.bands import band_offsets, class_log_band
from wearfit.model.layout import coefficient_index
from wearfit.model.priors import Priors
from wearfit.records.frames import to_frames
from wearfit.records.readers.grid import Grid
from wearfit.records.records import Records
from wearfit.records.rows import rows_in_force
from wearfit.records.sheets.interpret import interpret

Array = np.ndarray

COLUMNS: Final = {
    "tools": "tool_id,service_class,band_low,band_high,design_id,maker_id,cavity_steel,coating,cycle_time_s,commissioned_on,"
    "opening_life_shots",
    "runs": "tool_id,plant_id,resin_id,started_on,ended_on,shots,setups,cycle_time_s",
    "events": "tool_id,date,event,cause,last_good_on,renewed_share,preserved",
    "readings": "tool_id,date,feature,value,limit,new_value,resolution",
}
FURTHER: Final = 1e4  # how much further than it is the limit of readings is written down
UNIT: Final = 100.0  # what a reading at its limit measures


@dataclass(frozen=True)
class PriorFleet:
    """A history, and what it came of."""

    exposures: Exposures
    truth: Truth
    careers: tuple[Career, ...]


def _row(table: str, **cells: Any) -> str:
    return ",".join(str(cells.pop(name, "")) for name in COLUMNS[table].split(","))


def _tool_row(tool: PlannedTool) -> str:
    low, high = BAND if tool.service_class == "own_band" else ("", "")
    return _row(
        "tools", tool_id=tool.tool_id, service_class=tool.service_class.replace("own_band", ""), band_low=low, band_high=high,
        design_id=tool.design, maker_id=tool.maker, cavity_steel=tool.steel, coating=tool.coating, cycle_time_s=USUAL_CYCLE,
        commissioned_on=commissioned(tool), opening_life_shots=tool.opening,
    )  # fmt: skip


def _records(tools: Sequence[PlannedTool], careers: Sequence[Career]) -> dict[str, str]:
    rows: dict[str, list[str]] = {name: [header] for name, header in COLUMNS.items()}
    rows["tools"] += [_tool_row(tool) for tool in tools]
    for career in careers:
        tool = career.tool
        for run in career.runs:
            m = run["month"]
            cycle = f"{FAST_CYCLE if tool.fast[m] else USUAL_CYCLE:.4f}"
            rows["runs"].append(_row("runs", tool_id=tool.tool_id, resin_id=tool.resin[m], setups=1, cycle_time_s=cycle, **run))
        rows["events"] += [_row("events", tool_id=tool.tool_id, **event) for event in career.events]
        for reading in career.readings:
            below = np.isnan(reading["z"])
            value = f"<{GAUGE * UNIT:g}" if below else f"{reading['z'] * UNIT:.6f}"
            cells = {"value": value, "limit": FURTHER * UNIT, "new_value": 0, "resolution": "0.0001"}
            rows["readings"].append(_row("readings", tool_id=tool.tool_id, date=reading["date"], feature=reading["feature"], **cells))
    tables = {name: "\n".join(lines) for name, lines in rows.items()}
    return {**tables, "plants": PLANTS_TABLE, "climate": CLIMATE_TABLE, "resins": RESINS_TABLE}


def _exposures_of(sheets: Mapping[str, str]) -> Exposures:
    """By the rows as they stand: the rules that set mistakes aside would take a life of next to no use for one."""
    upload = interpret("fleet", [], [Grid(f"{name}.csv", name, cells(text)) for name, text in sheets.items()])
    records = Records(to_frames(rows_in_force(upload.rows)), ())
    return build_exposures(records.as_of(records.latest_day))


@cache
def _air(tools: int, months: int) -> Air:
    """Conditions by the records alone: of the fleet were all to go as planned."""
    fleet = planned_fleet(tools, months)
    careers = [Career(tool, 0.0) for tool in fleet]
    for career in careers:
        for m in range(months):
            run = {"month": m, "started_on": day_of(m, 2), "ended_on": day_of(m, 22), "shots": 1, "plant_id": career.tool.plant[m]}
            career.runs.append(run)
    exposures = _exposures_of(_records(fleet, careers))
    assert exposures.plant_ids == PLANTS and exposures.resins.resin_id == RESINS
    climate, levels = exposures.climate, plant_levels(exposures.climate)
    month = np.array([np.datetime64(day_of(m, 1), "M").astype(np.int64) for m in range(months)])
    departure = {p: recorded_places(np.full(months, i), month, climate).months.sweating for i, p in enumerate(PLANTS)}
    return Air(
        level=dict(zip(PLANTS, columns(levels), strict=True)),
        spread=dict(zip(PLANTS, spreads(levels), strict=True)),
        log_corrosivity=dict(zip(PLANTS, map(float, climate.log_corrosivity), strict=True)),
        departure=departure,
    )


def _log_bands(priors: Priors) -> Mapping[str, float]:
    offsets = band_offsets(priors)
    by_class = dict(zip(CLASSES, map(float, class_log_band(priors, offsets)), strict=False))
    return {**by_class, "own_band": float(np.log(BAND).mean()) - offsets.quantile(OWN_BAND, 0.5)}


def simulate(priors: Priors, seed: int, tools: int, months: int, wrong: Wrong = RIGHT) -> PriorFleet:
    """Draw a truth and let a fleet live by it.

    Raises
    ------
    ValueError
        Where the tools are too few to have every level of every group.
    """
    fleet = planned_fleet(tools, months)
    if {t.design for t in fleet} != {*DESIGNS, ""} or {t.maker for t in fleet} != {*MAKERS, ""}:
        raise ValueError("too few tools for all designs and makers")
    rng = np.random.default_rng([seed, 2018])
    truth = draw_truth(priors, rng, PLANTS, RESINS, DESIGNS, MAKERS, FEATURES)
    air, bands = _air(tools, months), _log_bands(priors)
    bare = undescribed(truth, priors.undescribed_loc, priors.undescribed_sd)
    usual_shape = float(np.exp(priors.loc[coefficient_index("log_shape")]))
    careers = tuple(live(tool, truth, air, bands[tool.service_class], bare, usual_shape, rng, wrong) for tool in fleet)
    exposures = _exposures_of(_records(fleet, careers))
    readings = exposures.readings
    exposures = replace(
        exposures,
        readings=replace(readings, log_way=readings.log_way + np.log(FURTHER)),
        stated_other=sum(c.others for c in careers),
    )
    return PriorFleet(exposures, truth, careers)
