"""From records to exposures: one pass over the whole fleet, without a loop over runs."""

from collections.abc import Sequence

import numpy as np
import pandas as pd

from wearfit.exposures.candidates import build_candidates
from wearfit.exposures.cells import build_cells
from wearfit.exposures.classes import CLASSES, class_codes, recorded_steel, steel_code
from wearfit.exposures.events import build_events
from wearfit.exposures.lives import RENEWALS, Episodes, Events, closes, divide
from wearfit.exposures.noted import read_defects
from wearfit.exposures.over_limit import with_wear_seen
from wearfit.exposures.past import NEW_TOOL_DAYS, first_runs, reckon_past
from wearfit.exposures.plant_climate import plant_climate
from wearfit.exposures.reading_findings import reading_findings
from wearfit.exposures.readings import read_marks
from wearfit.exposures.resins import describe_resins
from wearfit.exposures.storage import found_in_store, stand
from wearfit.exposures.sudden_stops import sudden_stops
from wearfit.exposures.table import Exposures, PlantSummary, Tools
from wearfit.exposures.timeline import Runs, TimeKeys, count_setups, days, month_of, positions
from wearfit.records.coatings import COATINGS, coating_of
from wearfit.records.findings import Finding
from wearfit.records.records import Records

Array = np.ndarray


def _levels(*columns: pd.Series) -> tuple[str, ...]:
    return tuple(sorted({str(v) for column in columns for v in column.unique()} - {""}))


def build_runs(records: Records, tool_ids: Sequence[str], plant_ids: Sequence[str], resin_ids: Sequence[str]) -> Runs:
    """Used runs as arrays, in canonical order; blank set-ups counted, speeds relative to each tool's usual cycle."""
    frame = records.tables["runs"]
    tool = positions(frame["tool_id"], tool_ids)
    plant, resin = positions(frame["plant_id"], plant_ids), positions(frame["resin_id"], resin_ids)
    start, end = days(frame["started_on"]), days(frame["ended_on"])
    shots = frame["shots"].to_numpy(dtype=float)
    cycle = frame["cycle_time_s"].to_numpy(dtype=float)
    order = np.lexsort((shots, resin, plant, end, start, tool))
    tool, plant, resin, start, end, shots, cycle = (a[order] for a in (tool, plant, resin, start, end, shots, cycle))
    setups, production = count_setups(tool, plant, resin, start, end, frame["setups"].to_numpy(dtype=float)[order])
    usual = records.tables["tools"]["cycle_time_s"].to_numpy(dtype=float)
    usual = np.where(np.isnan(usual), _median_cycle(tool, cycle, shots, len(usual)), usual)
    speed = np.nan_to_num(np.log2(usual[tool] / cycle))
    return Runs(tool, plant, resin, start, end, shots, setups, speed, production)


def _median_cycle(tool: Array, cycle: Array, shots: Array, n: int) -> Array:
    """Cycle time in which, or in less, half the shots of each tool were made, shape (tool,); NaN where none is recorded. [s]"""
    timed = np.flatnonzero(~np.isnan(cycle))
    timed = timed[np.lexsort((cycle[timed], tool[timed]))]
    tool, made = tool[timed], np.concatenate([[0.0], np.cumsum(shots[timed])])
    first, past = np.searchsorted(tool, np.arange(n), side="left"), np.searchsorted(tool, np.arange(n), side="right")
    # A little less than half, so that how a sum was rounded does not decide.
    half = made[first] + (made[past] - made[first]) * (0.5 - 1e-9)
    median = np.append(cycle[timed], np.nan)[np.searchsorted(made[1:], half, side="left")]
    return np.where(past > first, median, np.nan)


def opening_shots(records: Records, runs: Runs) -> tuple[Array, Array]:
    """Shots before the first recorded run, shape (tool,) each: since commissioning, and in the life that it continues; NaN unknown."""
    frame = records.tables["tools"]
    commissioned = days(frame["commissioned_on"])
    first_run = first_runs(runs, len(frame))
    new = np.minimum(first_run, _as_of_day(records)) - commissioned <= NEW_TOOL_DAYS
    opening, in_life = frame["opening_shots"].to_numpy(dtype=float), frame["opening_life_shots"].to_numpy(dtype=float)
    opening = np.where(np.isnan(opening) & new, 0.0, opening)
    # Without an unseen renewal the two counts are one; records that reach back to commissioning hide none.
    complete = (days(frame["history_from"]) <= commissioned) & ~_renewed_before(records, first_run)
    in_life = np.where(np.isnan(in_life) & (complete | (opening == 0)), opening, in_life)
    # Shots made at no one knows which plant cannot be put on the clock.
    unplaced = np.isinf(first_run) & (frame["plant_id"] == "").to_numpy() & (in_life > 0)
    return opening, np.where(unplaced, np.nan, in_life)


def _renewed_before(records: Records, first_run: Array) -> Array:
    """Whether a tool's cavities were cut new, in whole or in part, before its first recorded run, shape (tool,)."""
    events = records.tables["events"]
    renewals = events[closes(events["event"].to_numpy(), events["renewed_share"].to_numpy())]
    tool = positions(renewals["tool_id"], tuple(records.tables["tools"]["tool_id"]))
    renewed = np.zeros(len(first_run), dtype=bool)
    renewed[tool[days(renewals["date"]) <= first_run[tool]]] = True
    return renewed


def build_tools(records: Records, entry_shots: Array) -> Tools:
    """Tools as arrays.

    Parameters
    ----------
    entry_shots : array, shape (tool,)
        Shots of the life that the first recorded run continues; NaN where unknown.
    """
    frame = records.tables["tools"]
    named = np.array([CLASSES.index(str(c)) if str(c) in CLASSES else -1 for c in frame["service_class"]], dtype=np.int64)
    return Tools(
        tool_id=tuple(str(t) for t in frame["tool_id"]),
        design_ids=_levels(frame["design_id"]),
        maker_ids=_levels(frame["maker_id"]),
        design=positions(frame["design_id"], _levels(frame["design_id"])),
        maker=positions(frame["maker_id"], _levels(frame["maker_id"])),
        service_class=class_codes(frame),
        usual_class=named,
        steel=np.array([steel_code(s) if s else -1 for s in recorded_steel(frame)], dtype=np.int64),
        coating=np.array([COATINGS.index(c) if (c := coating_of(str(text))) else -1 for text in frame["coating"]], dtype=np.int64),
        band_low=frame["band_low"].to_numpy(dtype=float),
        band_high=frame["band_high"].to_numpy(dtype=float),
        cavities=np.nan_to_num(frame["cavities"].to_numpy(dtype=float), nan=1.0),
        commissioned=days(frame["commissioned_on"]),
        entry_shots=entry_shots,
    )


def _as_of_day(records: Records) -> float:
    return float(np.datetime64(records.as_of_day or records.latest_day, "D").astype(np.int64))


def build_exposures(records: Records) -> Exposures:
    """Exposures of records that have been cut at their as-of day.

    Parameters
    ----------
    records : Records
        From `Records.as_of`; its `as_of_day` is now.

    Returns
    -------
    Exposures
        In canonical order: equal for equal histories, whatever the order of rows.
    """
    tables = records.tables
    tool_ids = tuple(str(t) for t in tables["tools"]["tool_id"])
    plant_ids = _levels(
        *(tables[name]["plant_id"] for name in ("plants", "runs", "tools", "events", "plan")),
    )
    resin_ids = _levels(tables["resins"]["resin_id"], tables["runs"]["resin_id"], tables["plan"]["resin_id"])
    runs = build_runs(records, tool_ids, plant_ids, resin_ids)
    home = positions(tables["tools"]["plant_id"], plant_ids)
    opening, in_life = opening_shots(records, runs)
    tools = build_tools(records, in_life)
    written = found_in_store(build_events(tables["events"], tool_ids, plant_ids, runs, opening), runs)
    events, seen = with_wear_seen(written, tables["readings"], tool_ids, tools.commissioned)
    episodes = divide(len(tool_ids), events)
    marks = read_marks(tables["readings"], tool_ids, events, episodes)
    defects, look_first = read_defects(tables["events"], tool_ids, events, episodes)
    as_of = _as_of_day(records)
    earliest = min([as_of, *runs.start.tolist(), *events.time.tolist()])
    keys = TimeKeys(earliest, as_of)
    months = (month_of(np.array([earliest]))[0], month_of(np.array([as_of]))[0])
    climate, climate_findings = plant_climate(
        tables["plants"], tables["climate"], plant_ids, np.datetime64(int(months[0]), "M"), np.datetime64(int(months[1]), "M")
    )
    resins = describe_resins(tables["resins"], resin_ids)
    history_from = days(tables["tools"]["history_from"])
    past = reckon_past(tools.commissioned, history_from, opening, in_life, tools.design, home, runs, events, as_of)
    corroded = np.bincount(runs.tool, weights=np.append(resins.corrosive, 0.0)[runs.resin], minlength=len(tool_ids)) > 0
    candidates = build_candidates(tools, past.reckoned, corroded)
    standing = stand(runs, events, episodes, home, as_of)
    built = build_cells(tools, runs, events, episodes, candidates, past, climate, resins, home, marks, defects, standing, keys)
    sudden = sudden_stops(tools, runs, events, episodes, len(plant_ids), home, keys)
    read = reading_findings(tables["readings"], marks, tool_ids, runs, events, built.episodes, standing, history_from)
    causes = _stated_causes(events, built.episodes)
    by_wear = int(np.sum(causes == "wear"))
    return Exposures(
        as_of=np.datetime64(int(as_of), "D"),
        tools=tools,
        runs=runs,
        events=events,
        plant_ids=plant_ids,
        resins=resins,
        climate=climate,
        places=built.places,
        jobs=built.jobs,
        storage_jobs=built.storage_jobs,
        standing=standing,
        candidates=candidates,
        episodes=built.episodes,
        known_entry=built.known_entry,
        past=past,
        history=built.history,
        cells=built.cells,
        readings=built.readings,
        noted=built.noted,
        sudden=sudden,
        stated_wear=by_wear,
        stated_other=len(causes) - by_wear,
        by_plant=_by_plant(runs, built.episodes, built.last_plant, len(plant_ids)),
        findings=(*climate_findings, *seen, *read, *look_first, *built.findings, *_tool_findings(tools, past.reckoned)),
    )


def _stated_causes(events: Events, episodes: Episodes) -> Array:
    """Causes of the renewals that state one and come without a `worn` before them, like those whose cause is blank."""
    closer = episodes.closer[(episodes.closer >= 0) & ~np.isfinite(episodes.worn_at)]
    causes = events.cause[closer[np.isin(events.kind[closer], RENEWALS)]]
    return np.asarray(causes[causes != ""])


def _by_plant(runs: Runs, episodes: Episodes, last_plant: Array, n_plants: int) -> PlantSummary:
    known = last_plant >= 0
    worn = known & (episodes.ending > 0) & ~episodes.unstated
    lives = np.zeros(n_plants)
    pairs = np.unique(np.stack([episodes.life[known], last_plant[known]], axis=1), axis=0) if known.any() else np.zeros((0, 2), dtype=int)
    np.add.at(lives, pairs[:, 1], 1)
    return PlantSummary(
        lives=lives,
        wear_outs=np.bincount(last_plant[worn], minlength=n_plants).astype(float),
        shots=np.bincount(runs.plant, weights=runs.shots, minlength=n_plants) if len(runs.plant) else np.zeros(n_plants),
    )


def _tool_findings(tools: Tools, reckoned: Array) -> tuple[Finding, ...]:
    """Tools whose past is unknown and cannot be reckoned; of those with runs the records say so."""
    found = []
    for i in np.flatnonzero(np.isnan(tools.entry_shots) & ~reckoned):
        found.append(
            Finding(
                "tools",
                None,
                "opening_life_shots",
                tools.tool_id[i],
                f"Tool {tools.tool_id[i]} has no run, and where it is, or made its shots before the records begin, is not known.",
                "Hand over its runs, or fill in plant_id, and opening_life_shots (0 for a tool that was new).",
                "note",
            )
        )
    return tuple(found)
