"""The tables of lives that were measured: whose capacity the readings tell of, and which coordinate of the sampler's it is.

A life that wore out on a day that is known has its capacity C in the wear of that day. Else C is a coordinate: beyond the
end of a life that goes on or ended otherwise, and within the interval of one that was found worn. Given C the life is as good
as worn out at C, so that the tool's effect is integrated out as for any other. A renewal for a cause not stated is held
against both: worn at its end, or a capacity beyond.
"""

from dataclasses import dataclass

import numpy as np

from wearfit.exposures.lives import CENSORED, EXACT, INTERVAL
from wearfit.exposures.table import Exposures
from wearfit.model.data import EndedColumns, PathColumns, ReadingColumns

Array = np.ndarray


@dataclass(frozen=True)
class ReadTables:
    """`path`, `reading` and `ended` as in `ModelData`; `of_row` (row,) the path by which a row's capacity is known, 0 where none."""

    path: Array
    reading: Array
    ended: Array
    of_row: Array


def read_episodes(exposures: Exposures) -> Array:
    """Episodes whose capacity is a coordinate of the sampler's, in order; their place is the coordinate."""
    h = exposures.history
    row = np.unique(exposures.readings.row)
    row = row[(h.ending[row] != EXACT) | h.unstated[row]]
    return np.unique(h.source[row])


def read_tables(exposures: Exposures) -> ReadTables:
    """Tables of the rows with readings, and of all rows that ended, or perhaps ended, by wear."""
    h, readings = exposures.history, exposures.readings
    rows, first, count = np.unique(readings.row, return_index=True, return_counts=True)
    coordinate = read_episodes(exposures)
    path = [np.zeros(len(vars_of(PathColumns)))]
    path[0][PathColumns.at_end] = 1.0
    reading: list[Array] = []
    of_row, at_end = np.zeros(len(h.source), dtype=np.int64), np.zeros(len(h.source), dtype=np.int64)
    for row, start, n in zip(rows, first, count, strict=True):
        doubtful, latent = bool(h.unstated[row]), int(np.searchsorted(coordinate, h.source[row]))
        for ends_here in (True, False):
            if (ends_here and (h.ending[row] != EXACT)) or (not ends_here and h.ending[row] == EXACT and not doubtful):
                continue
            (at_end if ends_here else of_row)[row] = len(path)
            entry = np.zeros_like(path[0])
            entry[PathColumns.row] = row
            entry[PathColumns.at_end] = ends_here
            entry[PathColumns.latent] = 0 if ends_here else latent
            entry[PathColumns.open] = not ends_here and (h.ending[row] != INTERVAL or doubtful)
            entry[PathColumns.from_good] = not ends_here
            entry[PathColumns.split] = h.ending[row] == INTERVAL and doubtful
            path.append(entry)
            reading.append(_readings_of(exposures, slice(int(start), int(start + n)), len(path) - 1))
    empty = np.zeros((0, len(vars_of(ReadingColumns))))
    return ReadTables(
        path=np.stack(path), reading=np.concatenate([empty, *reading]), ended=_ended(exposures, of_row, at_end), of_row=of_row
    )


def vars_of(columns: type) -> tuple[str, ...]:
    """Names of a class's columns."""
    return tuple(name for name in vars(columns) if not name.startswith("_"))


def _readings_of(exposures: Exposures, span: slice, path: int) -> Array:
    r = exposures.readings
    table = np.zeros((span.stop - span.start, len(vars_of(ReadingColumns))))
    c = ReadingColumns
    for column, values in (
        (c.row, r.row), (c.stop, r.stop), (c.feature, r.feature), (c.log_way, r.log_way), (c.below, r.below), (c.rounding, r.rounding),
    ):  # fmt: skip
        table[:, column] = values[span]
    table[:, c.path] = path
    return table


def _ended(exposures: Exposures, of_row: Array, at_end: Array) -> Array:
    """Endings by wear: of rows at the day or interval that is known, and of rows whose capacity is a coordinate, at that."""
    h, c = exposures.history, EndedColumns
    known = np.flatnonzero((h.ending != CENSORED) & ((of_row == 0) | ((h.ending == EXACT) & h.unstated)))
    by_capacity = np.flatnonzero(of_row)
    table = np.zeros((len(known) + len(by_capacity), len(vars_of(c))))
    first, second = table[: len(known)], table[len(known) :]
    first[:, c.row] = known
    first[:, c.interval] = h.ending[known] == INTERVAL
    first[:, c.perhaps] = h.unstated[known]
    first[:, c.gain] = at_end[known]
    first[:, c.loss] = of_row[known]  # of one perhaps worn out here: its capacity's readings count unless it was
    second[:, c.row] = by_capacity
    second[:, c.capacity] = 1.0
    second[:, c.split] = (h.ending[by_capacity] == INTERVAL) & h.unstated[by_capacity]
    second[:, c.gain] = of_row[by_capacity]
    return table[np.argsort(table[:, c.row], kind="stable")]
