"""Everything the model sees, as NumPy arrays in canonical order."""

from dataclasses import dataclass

import numpy as np

from wearfit.exposures.covariates import Jobs
from wearfit.exposures.lives import Episodes, Events
from wearfit.exposures.past import Past
from wearfit.exposures.places import Places
from wearfit.exposures.plant_climate import PlantClimate
from wearfit.exposures.resins import Resins
from wearfit.exposures.storage import Standing
from wearfit.exposures.timeline import Runs
from wearfit.records.findings import Finding

Array = np.ndarray


@dataclass(frozen=True)
class Tools:
    """Tools in order of tool_id. Arrays of shape (tool,); -1 where not recorded."""

    tool_id: tuple[str, ...]
    design_ids: tuple[str, ...]
    maker_ids: tuple[str, ...]
    design: Array
    maker: Array
    service_class: Array  # index into CLASSES
    usual_class: Array  # index into CLASSES of the service class named, whatever the band; -1
    steel: Array  # index into STEELS
    coating: Array  # index into COATINGS
    band_low: Array  # [shots], NaN
    band_high: Array  # [shots], NaN
    cavities: Array
    commissioned: Array  # [day]
    entry_shots: Array  # shots of the life that the first recorded run continues; NaN where unknown


@dataclass(frozen=True)
class Candidates:
    """What a tool may be: one row where class, steel and past are known, else one for each combination that is weighed.

    Arrays of shape (candidate,), in order of (tool, class, steel, opening).
    """

    tool: Array
    service_class: Array
    steel: Array  # the steel in use: as recorded, else usual for the class
    usual_steel: Array  # usual for the class; the same as `steel` where the band was written for this very tool
    steel_group: Array
    coating: Array  # index into COATINGS, -1 where there is none, or where the band was written for this very tool
    opening: Array  # which of the ages at entry that are weighed (`model.past`); -1 where the age is known
    known: Array  # bool: the tool's only candidate


@dataclass(frozen=True)
class Cells:
    """Shots, or time that a tool stood, of one episode under one set of conditions, in order of (episode, part, place, job).

    Arrays of shape (cell,). Episodes here are those of `History`, repeated for each candidate.
    """

    episode: Array
    part: Array  # 0 before the records begin, 1 up to the last day known good, 2 after it, or since the last shot in store
    place: Array
    job: Array
    shots: Array  # 1 for an opening that is not known: each candidate has its own
    setups: Array
    years: Array  # in store or idle; such a cell has no shots, a place of no plant and a job of `StorageJobs`


@dataclass(frozen=True)
class StorageJobs:
    """The jobs that are no work but standing unused. Arrays of shape (storage job,)."""

    job: Array  # index into Jobs, where they have no resin
    preserved: Array  # 0..1
    log_corrosivity: Array  # natural log of the ratio to a conditioned hall


@dataclass(frozen=True)
class History:
    """Episodes that carry a likelihood, repeated for each candidate of their tool. Arrays of shape (row,)."""

    source: Array  # index into Episodes
    candidate: Array
    chain: Array  # row at which the clock last stood at zero
    repeat: Array
    kept: Array
    ending: Array
    unstated: Array
    cell_start: Array  # the row's cells are cell_start .. cell_stop - 1
    cell_entry: Array  # .. where part 0 ends
    cell_good: Array  # .. where part 1 ends
    cell_stop: Array
    last_place: Array  # conditions of the last shot, not of time in store after it, -1 where there was none
    last_job: Array


@dataclass(frozen=True)
class Readings:
    """Readings of the features, repeated for each row of `History` of their episode, in order of (row, feature, time).

    Arrays of shape (reading,).
    """

    feature_ids: tuple[str, ...]
    row: Array
    stop: Array  # the cell of the row before which it was taken
    time: Array  # [day] the end of its day
    feature: Array
    log_way: Array  # log of the share of the way from new to the limit; of the least that the gauge tells where it is below that
    below: Array  # bool
    rounding: Array  # standard deviation that rounding brings to log_way


@dataclass(frozen=True)
class Noted:
    """Defects noted in the lives under way of live tools, in order of (tool, time).

    Arrays of shape (defect,); those of the second group of shape (pair,), a pair for each row of `History` of a defect's
    episode, in order of (row, defect).
    """

    tool: Array
    day: Array  # [day]
    kind: Array  # text, as in `records.notes`
    hazard: Array  # bool: sharp flash, or parts loose or broken off, and no hold came with it or after it
    note: Array  # text

    row: Array
    stop: Array  # the cell of the row before which it was noted
    defect: Array


@dataclass(frozen=True)
class SuddenStops:
    """Sudden stops and what they were exposed to, by tool and plant. Arrays of shape (pair,)."""

    tool: Array
    plant: Array
    stops: Array
    shots: Array
    handlings: Array  # moves and set-ups


@dataclass(frozen=True)
class PlantSummary:
    """Counts by plant for the plants table. Arrays of shape (plant,)."""

    lives: Array
    wear_outs: Array
    shots: Array


@dataclass(frozen=True)
class Exposures:
    """What the tools went through, up to `as_of`."""

    as_of: np.datetime64
    tools: Tools
    runs: Runs
    events: Events
    plant_ids: tuple[str, ...]
    resins: Resins
    climate: PlantClimate
    places: Places
    jobs: Jobs
    storage_jobs: StorageJobs
    standing: Standing
    candidates: Candidates
    episodes: Episodes
    known_entry: Array  # (episode,) bool: the age at its start is known
    past: Past
    history: History
    cells: Cells
    readings: Readings
    noted: Noted
    sudden: SuddenStops
    stated_wear: int  # renewals whose cause is stated as wear
    stated_other: int  # renewals whose cause is stated as something else
    by_plant: PlantSummary
    findings: tuple[Finding, ...]

    @property
    def lives(self) -> int:
        """Lives in the records, whether or not they inform the calibration."""
        return int(self.episodes.life[-1]) + 1 if len(self.episodes.life) else 0

    @property
    def wear_outs(self) -> int:
        """Lives known to have worn out; renewals for a cause not stated are not counted."""
        return int(np.sum((self.episodes.ending > 0) & ~self.episodes.unstated))
