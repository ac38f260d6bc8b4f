"""Time in which tools stood, as cells beside those of their shots."""

from dataclasses import dataclass, fields

import numpy as np

from wearfit.exposures.covariates import Jobs, Months
from wearfit.exposures.distinct import distinct_rows
from wearfit.exposures.lives import CENSORED, EXACT, INTERVAL, Episodes
from wearfit.exposures.looks import Looks
from wearfit.exposures.places import Places
from wearfit.exposures.plant_climate import LOG_CORROSIVITY_UNKNOWN, PlantClimate
from wearfit.exposures.storage import Standing
from wearfit.exposures.table import Cells, StorageJobs

Array = np.ndarray

NO_PLANT = -1
YEAR = 365.25  # [day]
DAY_DECIMALS = 6  # sums of days are rounded, so that a stay recorded in two parts gives the same sum to the last bit


@dataclass(frozen=True)
class Stood:
    """Stretches of standing as parts of episodes. Arrays of shape (piece,) but the last."""

    episode: Array
    part: Array
    stage: Array  # how many looks at the episode came before it
    plant: Array
    preserved: Array
    start: Array  # [day]
    days: Array
    in_doubt: Array  # episodes that may have worn out in store: after the last good day they were, shape (any,)


def stood_pieces(standing: Standing, episodes: Episodes, last_shot: Array, looks: Looks) -> Stood:
    """What each stretch is to its episode.

    Parameters
    ----------
    last_shot : array, shape (episode,)
        Start of the last segment in which an episode was worn, -inf where none was. [day]
    looks : Looks
        A look at a tool while it stands sees all of that stretch.

    Notes
    -----
    An exact wear-out came with the last shot, so standing after it counts nothing. A tool that has made no shot since it
    stood, and was not found worn, is not known to have come through: nobody has looked. Its clock has moved on all the same.
    """
    episode, ending = standing.episode, episodes.ending[standing.episode]
    trailing = standing.start >= last_shot[episode]
    last_good = episodes.last_good[episode]
    late = (ending == INTERVAL) & (standing.start >= last_good)
    in_doubt = np.unique(episode[late & standing.stored])
    # Where the last run is in doubt as a whole, so is all that came after it.
    late |= (ending == INTERVAL) & trailing & ~np.isin(episode, in_doubt)
    part = np.where(late | ((ending == CENSORED) & trailing), 2, 1)
    kept = ~((ending == EXACT) & trailing)
    stage = looks.before(episode[kept], standing.start[kept])
    start = standing.start[kept]
    return Stood(
        episode[kept], part[kept], stage, standing.plant[kept], standing.preserved[kept], start, standing.end[kept] - start, in_doubt
    )


def rows_of_pieces(episode: Array, source: Array) -> tuple[Array, Array]:
    """Row and piece of every piece of an episode that has rows, row by row and in order within each.

    Parameters
    ----------
    episode : array, shape (piece,)
    source : array, shape (row,)
        Episode of each row.
    """
    by_episode = np.argsort(episode, kind="stable")
    begin = np.searchsorted(episode[by_episode], source, side="left")
    count = np.searchsorted(episode[by_episode], source, side="right") - begin
    row = np.repeat(np.arange(len(source)), count)
    return row, by_episode[np.repeat(begin, count) + np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)]


def add_stood(
    stood: Stood, source: Array, made: Cells, made_stage: Array, places: Places, jobs: Jobs, climate: PlantClimate
) -> tuple[Places, Jobs, StorageJobs, Cells, Array]:
    """Cells of shots and of standing together, with a place of no plant and the jobs that stand for standing; in order.

    The stage of each cell, shape (cell,), comes with them.
    """
    row, piece = rows_of_pieces(stood.episode, source)
    if not len(piece):
        none = np.zeros(0)
        return places, jobs, StorageJobs(none.astype(np.int64), none, none), made, made_stage
    kinds, kind = np.unique(np.stack([stood.plant[piece], stood.preserved[piece]], axis=1), axis=0, return_inverse=True)
    n_places, n_jobs, n_kinds = len(places.plant), len(jobs.resin), len(kinds)
    keys, inverse = distinct_rows(row, stood.part[piece], stood.stage[piece], n_jobs + kind.ravel())
    n = len(keys)
    days = np.round(np.bincount(inverse, weights=stood.days[piece], minlength=n), DAY_DECIMALS)
    more = Cells(keys[:, 0], keys[:, 1], np.full(n, n_places), keys[:, 3], np.zeros(n), np.zeros(n), days / YEAR)
    cells = Cells(**{f.name: np.concatenate([getattr(made, f.name), getattr(more, f.name)]) for f in fields(Cells)})
    stage = np.concatenate([made_stage, keys[:, 2]])
    order = np.lexsort((cells.job, cells.place, stage, cells.part, cells.episode))
    zero = np.zeros(n_kinds)
    whole = zero.astype(np.int64)
    log_corrosivity = np.append(climate.log_corrosivity, LOG_CORROSIVITY_UNKNOWN)[kinds[:, 0].astype(np.int64)]
    standing_jobs = Jobs(whole - 1, whole, whole, zero, zero, zero)
    return (
        Places(np.append(places.plant, NO_PLANT), Months(np.append(places.months.sweating, 0.0))),
        Jobs(**{f.name: np.concatenate([getattr(jobs, f.name), getattr(standing_jobs, f.name)]) for f in fields(Jobs)}),
        StorageJobs(n_jobs + np.arange(n_kinds), kinds[:, 1], log_corrosivity),
        Cells(**{f.name: getattr(cells, f.name)[order] for f in fields(Cells)}),
        stage[order],
    )
