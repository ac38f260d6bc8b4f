"""Where the wear on a live tool's clock came from: cell by cell of its history, by the draws of a calibration."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.exposures.covariates import JOB_COVARIATES, MONTH_COVARIATES, columns
from wearfit.forecasts.conditions import position
from wearfit.forecasts.fleet import live_row

if TYPE_CHECKING:
    from wearfit.exposures.table import Exposures

Array = np.ndarray

LONGEST: Final = 12  # refurbishments that are told apart; later ones regain next to nothing


@dataclass(frozen=True)
class WearSpent:
    """Wear of one tool, by cell and by row of its history.

    Parameters
    ----------
    cell : array, shape (cell,)
        Indices into `Exposures.cells`.
    plant, resin : arrays, shape (cell,)
        Indices into the exposures' plants and resins; -1 where it is none, as in store.
    stood : array, shape (cell,)
        Whether the tool stood, in store or idle.
    reckoned : array, shape (cell,)
        Whether its shots were made before the records and are reckoned.
    left : array, shape (sample, cell)
        What is left of each cell's wear on the clock as it stands, renewals since taken off. [reference shots]
    episode : array, shape (row,)
        Of the tool's episodes, those whose age is known or reckoned.
    at_end : array, shape (sample, row)
        Where the clock stood at the end of each. [reference shots]
    """

    cell: Array
    plant: Array
    resin: Array
    stood: Array
    reckoned: Array
    left: Array
    episode: Array
    at_end: Array


def wear_spent(calibration: Calibration, exposures: "Exposures", tool: str) -> WearSpent:
    """Split the wear that a live tool has spent.

    Parameters
    ----------
    exposures : Exposures
        Of the records that the calibration rests on.
    tool : str
        A live tool.

    Returns
    -------
    WearSpent
        Empty where the tool's age cannot be told. What is open of it (steel, age at entry) is taken as it is in most draws; shots
        before its records count as `Draws.opening_shots` has them.

    Raises
    ------
    Refusal
        Where the tool is not live.

    Notes
    -----
    The clock of `model.clock.run_clock`: V = K sum(wear_i / K_i) over the rows since the surface was last new, K the product
    of the shares that renewals left.
    """
    live = live_row(calibration, tool)
    history, cells = exposures.history, exposures.cells
    rows = np.flatnonzero(history.candidate == _candidate(calibration, exposures, live, tool))
    cell = np.concatenate([np.arange(history.cell_start[r], history.cell_stop[r]) for r in rows]) if len(rows) else np.zeros(0, np.int64)
    row_of_cell = np.searchsorted(rows, cells.episode[cell])
    worn = _wear(calibration, exposures, live, cell)
    n = calibration.samples
    kept = history.kept[rows] * _kept_by_refurbishments(calibration, history.repeat[rows])
    by_row = np.zeros((n, len(rows)))
    np.add.at(by_row.T, row_of_cell, worn.T)
    run_up = np.concatenate([np.zeros((n, 1)), np.cumsum(by_row / kept, axis=1)], axis=1)
    chain = np.searchsorted(rows, history.chain[rows])
    at_end = kept * (run_up[:, 1:] - run_up[:, chain])
    now = len(rows) - 1
    on_clock = row_of_cell >= (chain[now] if len(rows) else 0)
    left = worn * (kept[:, now:] / kept)[:, row_of_cell] * on_clock if len(rows) else worn
    return WearSpent(
        cell=cell,
        plant=exposures.places.plant[cells.place[cell]],
        resin=exposures.jobs.resin[cells.job[cell]],
        stood=cells.years[cell] > 0,
        reckoned=(cells.part[cell] == 0) & bool(calibration.draws.opening_shots[:, live].any()),
        left=left,
        episode=history.source[rows],
        at_end=at_end,
    )


def _candidate(calibration: Calibration, exposures: "Exposures", live: int, tool: str) -> int:
    """The candidate that the tool is in most draws: of its steel group and, where that is settled, its class."""
    candidates, of_tool = exposures.candidates, exposures.tools.tool_id.index(tool)
    fits = (candidates.tool == of_tool) & (candidates.steel_group == calibration.live.steel_group[live])
    of_class = fits & (candidates.service_class == calibration.live.service_class[live])
    return int(np.flatnonzero(of_class if of_class.any() else fits)[0])


def _wear(calibration: Calibration, exposures: "Exposures", live: int, cell: Array) -> Array:
    """Wear of cells of a live tool, shape (sample, cell). [reference shots]"""
    cells = exposures.cells
    shots = np.broadcast_to(cells.shots[cell], (calibration.samples, len(cell)))
    reckoned = np.asarray(calibration.draws.opening_shots[:, live], dtype=float)
    if reckoned.any():
        shots = np.where(cells.part[cell] == 0, reckoned[:, None], shots)
    setups = np.exp(calibration.coefficient("log_setup"))[:, None] * cells.setups[cell] * calibration.live.setup_share[live]
    by_shots = np.exp(_log_place(calibration, exposures, cells.place[cell]) + _log_job(calibration, exposures, cells.job[cell]))
    stood = cells.years[cell] > 0
    return np.where(stood, _wear_of_standing(calibration, exposures, live, cell), by_shots * (shots + setups))


def _log_place(calibration: Calibration, exposures: "Exposures", place: Array) -> Array:
    """Log wear per shot that plants bring in some month, shape (sample, cell); 0 for no plant."""
    index = _of_levels(exposures.plant_ids, calibration.levels.plant)[exposures.places.plant[place]]
    level = np.asarray(calibration.draws.plant, dtype=float) + np.asarray(calibration.draws.plant_climate, dtype=float)
    slopes = np.stack([calibration.coefficient(f"slope.{c.name}") for c in MONTH_COVARIATES], axis=1)
    return np.where(index >= 0, level[:, index], 0.0) + slopes @ columns(exposures.places.months)[place].T


def _log_job(calibration: Calibration, exposures: "Exposures", job: Array) -> Array:
    """Log wear per shot that jobs bring, shape (sample, cell)."""
    index = _of_levels(tuple(exposures.resins.resin_id), calibration.levels.resin)[exposures.jobs.resin[job]]
    slopes = np.stack([calibration.coefficient(f"slope.{c.name}") for c in JOB_COVARIATES], axis=1)
    of_resin = np.where(index >= 0, np.asarray(calibration.draws.resin, dtype=float)[:, index], 0.0)
    return of_resin + slopes @ columns(exposures.jobs)[job].T


def _wear_of_standing(calibration: Calibration, exposures: "Exposures", live: int, cell: Array) -> Array:
    """Wear of time in which the tool stood, shape (sample, cell)."""
    storage, job = exposures.storage_jobs, exposures.cells.job[cell]
    place = np.clip(np.searchsorted(storage.job, job), 0, max(len(storage.job) - 1, 0))
    if not len(storage.job):
        return np.zeros((calibration.samples, len(cell)))
    log_share = (
        calibration.coefficient("log_storage")[:, None]
        + calibration.coefficient("storage.preserved")[:, None] * storage.preserved[place]
        + calibration.coefficient("storage.corrosivity")[:, None] * storage.log_corrosivity[place]
    )
    return np.exp(log_share + calibration.live.log_band[live]) * exposures.cells.years[cell]


def _of_levels(names: tuple[str, ...], levels: Array) -> Array:
    """Where each name stands among a calibration's levels, -1 where it does not; a last entry of -1 stands for no name."""
    return np.array([*(position(levels, name) for name in names), -1], dtype=np.int64)


def _kept_by_refurbishments(calibration: Calibration, repeats: Array) -> Array:
    """Share of the wear that a number of refurbishments left, shape (sample, row)."""
    share = {str(name): np.asarray(calibration.draws.share[:, i], dtype=float) for i, name in enumerate(calibration.levels.share)}
    log_kept = np.log1p(-share["refurbish"][:, None] * share["repeat"][:, None] ** np.arange(LONGEST))
    run_up = np.concatenate([np.zeros((len(log_kept), 1)), np.cumsum(log_kept, axis=1)], axis=1)
    return np.exp(run_up)[:, np.minimum(repeats, LONGEST)]
