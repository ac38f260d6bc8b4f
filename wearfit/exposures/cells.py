"""Segments gathered into cells, and episodes into rows of the likelihood."""

from dataclasses import dataclass, replace

import numpy as np

from wearfit.exposures.covariates import Jobs
from wearfit.exposures.distinct import distinct_rows
from wearfit.exposures.lives import CENSORED, Episodes, Events
from wearfit.exposures.looks import Looks
from wearfit.exposures.noted import Defects, noted_of_rows
from wearfit.exposures.past import Past
from wearfit.exposures.pieces import SPEED_STEP, Pieces, pieces_of
from wearfit.exposures.places import Places, merge_alike, recorded_places
from wearfit.exposures.plant_climate import PlantClimate
from wearfit.exposures.readings import Marks, readings_of_rows
from wearfit.exposures.resins import Resins
from wearfit.exposures.stood import Stood, add_stood, rows_of_pieces
from wearfit.exposures.storage import Standing
from wearfit.exposures.table import Candidates, Cells, History, Noted, Readings, StorageJobs, Tools
from wearfit.exposures.timeline import Runs, TimeKeys
from wearfit.exposures.worn_segments import worn_segments
from wearfit.records.findings import Finding

Array = np.ndarray

SHOT_DECIMALS = 3  # sums of shots are rounded, so that a run recorded in two parts gives the same sum to the last bit


@dataclass(frozen=True)
class Built:
    """What `build_cells` makes."""

    places: Places
    jobs: Jobs
    storage_jobs: StorageJobs
    history: History
    cells: Cells
    readings: Readings
    noted: Noted
    episodes: Episodes  # with endings that no shot supports turned into censored ones
    known_entry: Array  # (episode,) bool
    last_plant: Array  # (episode,) plant of the last shot, -1
    findings: tuple[Finding, ...]


def build_cells(
    tools: Tools,
    runs: Runs,
    events: Events,
    episodes: Episodes,
    candidates: Candidates,
    past: Past,
    climate: PlantClimate,
    resins: Resins,
    home: Array,
    marks: Marks,
    defects: Defects,
    standing: Standing,
    keys: TimeKeys,
) -> Built:
    """Gather the shots of each episode under each set of conditions.

    Parameters
    ----------
    home : array, shape (tool,)
        Plant where a tool is before its first run, -1 unknown.
    marks, defects
        Readings and noted defects, which cut the runs so that the wear at each is known.
    standing : Standing
        Of the same tools, runs, events and episodes.

    Returns
    -------
    Built
        Rows of `history` are the episodes whose age at the start is known or reckoned, once for each candidate of the tool.
    """
    looks = Looks(*(np.concatenate([getattr(marks, name), getattr(defects, name)]) for name in ("tool", "episode", "time")))
    worn = worn_segments(len(tools.tool_id), runs, events, episodes, past, looks, standing, keys)
    pieces, opened = pieces_of(tools, runs, events, episodes, past, worn, home, looks, keys)
    stood = worn.stood
    episodes, findings = _drop_unsupported(tools, episodes, pieces, stood)
    reckoned = past.reckoned[episodes.tool]
    known = ~np.isnan(tools.entry_shots)[episodes.tool] & ~reckoned
    first_of_tool = np.searchsorted(episodes.tool, np.arange(len(tools.tool_id)), side="left")
    begun = np.where(past.reckoned, episodes.chain[opened], first_of_tool)
    known_entry = known | (episodes.chain > begun[episodes.tool])
    last = np.full(len(episodes.tool), -1)
    np.maximum.at(last, pieces.episode, np.arange(len(pieces.episode)))
    last_plant = np.where(last >= 0, np.append(pieces.plant, -1)[last], -1)
    used = known_entry | reckoned
    places, jobs, storage_jobs, history, cells, stage = _repeat(episodes, used, candidates, pieces, stood, climate, resins)
    readings = readings_of_rows(marks, history, *_cells_before(looks, marks, history, cells, stage))
    noted = noted_of_rows(defects, *_cells_before(looks, defects, history, cells, stage))
    return Built(places, jobs, storage_jobs, history, cells, readings, noted, episodes, known_entry, last_plant, findings)


def _cells_before(looks: Looks, seen: Marks | Defects, history: History, cells: Cells, stage: Array) -> tuple[Array, Array, Array]:
    """Number of cells before each of some things seen, for each row of its episode, the row, and the thing, shapes (pair,)."""
    low = np.searchsorted(seen.episode, history.source, side="left")
    count = np.searchsorted(seen.episode, history.source, side="right") - low
    row = np.repeat(np.arange(len(count)), count)
    thing = np.repeat(low, count) + np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    # Stages rise along a row, but where a doubtful last run began before a look: it then counts as after it.
    most = len(looks.tool) + 1.0
    reached = np.maximum.accumulate(cells.episode * most + stage) if len(stage) else np.zeros(0)
    before = np.searchsorted(reached, row * most + looks.before(seen.episode, seen.time - 0.5)[thing], side="right")
    return np.clip(before, history.cell_start[row], history.cell_stop[row]), row, thing


def _drop_unsupported(tools: Tools, episodes: Episodes, pieces: Pieces, stood: Stood) -> tuple[Episodes, tuple[Finding, ...]]:
    """A wear-out with neither shot nor stay behind it cannot be placed on the clock: censored, with a finding."""
    shots = np.bincount(pieces.episode[pieces.part > 0], weights=pieces.shots[pieces.part > 0], minlength=len(episodes.tool))
    bare = (episodes.ending != CENSORED) & (shots <= 0)
    bare[stood.in_doubt] = False
    findings = tuple(
        Finding(
            "events",
            None,
            "event",
            tools.tool_id[episodes.tool[e]],
            f"A wear-out or renewal of {tools.tool_id[episodes.tool[e]]} is recorded, but no shot of that life is; "
            "it tells nothing about wear.",
            "Add the runs made before it.",
            "note",
        )
        for e in np.flatnonzero(bare & ~episodes.unstated)
    )
    return replace(episodes, ending=np.where(bare, CENSORED, episodes.ending), unstated=episodes.unstated & ~bare), findings


def _repeat(
    episodes: Episodes,
    used: Array,
    candidates: Candidates,
    pieces: Pieces,
    stood: Stood,
    climate: PlantClimate,
    resins: Resins,
) -> tuple[Places, Jobs, StorageJobs, History, Cells, Array]:
    """Rows and their cells, with the stage of each cell, shape (cell,)."""
    source_known = np.flatnonzero(used)
    low = np.searchsorted(candidates.tool, episodes.tool[source_known], side="left")
    copies = np.searchsorted(candidates.tool, episodes.tool[source_known], side="right") - low
    source = np.repeat(source_known, copies)
    candidate = np.repeat(low, copies) + np.arange(len(source)) - np.repeat(np.cumsum(copies) - copies, copies)
    order = np.lexsort((source, candidate))  # a candidate's episodes lie together, in time
    source, candidate = source[order], candidate[order]

    row, piece = rows_of_pieces(pieces.episode, source)

    # Conditions as small tables: exp is taken once for each plant-month and each job, never for each run.
    place_keys, place = distinct_rows(pieces.plant[piece], pieces.month[piece])
    places, same = merge_alike(recorded_places(place_keys[:, 0], place_keys[:, 1], climate))
    group = candidates.steel_group[candidate][row]
    step = np.round(pieces.speed[piece] / SPEED_STEP).astype(np.int64)
    job_keys, job = distinct_rows(pieces.resin[piece], group, pieces.modifications[piece], step)
    place = same[place]
    cell_keys, inverse = distinct_rows(row, pieces.part[piece], pieces.stage[piece], place, job)
    n = len(cell_keys)
    shots = np.bincount(inverse, weights=pieces.shots[piece], minlength=n)
    setups = np.bincount(inverse, weights=pieces.setups[piece], minlength=n)
    made = Cells(cell_keys[:, 0], cell_keys[:, 1], cell_keys[:, 3], cell_keys[:, 4], np.round(shots, SHOT_DECIMALS), setups, np.zeros(n))
    places, jobs, storage_jobs, cells, stage = add_stood(stood, source, made, cell_keys[:, 2], places, _jobs(job_keys, resins), climate)

    key = cells.episode * 3 + cells.part
    rows = np.arange(len(source))
    last_position = np.full(len(source), -1)
    np.maximum.at(last_position, row, np.arange(len(piece)))
    history = History(
        source=source,
        candidate=candidate,
        chain=rows - (source - episodes.chain[source]),  # a candidate's rows are its tool's episodes, from one of known age on
        repeat=episodes.repeat[source],
        kept=episodes.kept[source],
        ending=episodes.ending[source],
        unstated=episodes.unstated[source],
        cell_start=np.searchsorted(key, rows * 3, side="left"),
        cell_entry=np.searchsorted(key, rows * 3, side="right"),
        cell_good=np.searchsorted(key, rows * 3 + 1, side="right"),
        cell_stop=np.searchsorted(key, rows * 3 + 2, side="right"),
        last_place=np.where(last_position >= 0, np.append(place, -1)[last_position], -1),
        last_job=np.where(last_position >= 0, np.append(job, -1)[last_position], -1),
    )
    return places, jobs, storage_jobs, history, cells, stage


def _jobs(keys: Array, resins: Resins) -> Jobs:
    resin = keys[:, 0]
    return Jobs(
        resin=resin,
        steel_group=keys[:, 1],
        modifications=keys[:, 2],
        speed=keys[:, 3] * SPEED_STEP,
        filler=np.append(resins.filler, 0.0)[resin],
        corrosive=np.append(resins.corrosive, 0.0)[resin],
    )
