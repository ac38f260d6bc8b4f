"""Which tools' rows are the same in two histories, number by number: what was worked out of those can be taken over.

A row of the likelihood names places, jobs and parameters by their number, which another tool's records can shift. Here each is known
by what it holds (a parameter by its draws), and rows, cells and paths are counted from the first of their tool. So a tool is told as
changed by whatever changed what its likelihood is made of: its records, the air of its plants, bands, or its class's share of the fleet.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wearfit.exposures.live import LiveTools
from wearfit.model.data import (
    CandidateColumns,
    CellColumns,
    EndedColumns,
    JobColumns,
    ModelData,
    PathColumns,
    PlaceColumns,
    PlantColumns,
    ReadingColumns,
    RowColumns,
    whole,
)
from wearfit.model.readings import growth_law
from wearfit.model.subject import Subject

Array = np.ndarray
Table = tuple[Array, Array]  # (row, column) numbers, and the tool of each row, in order


@dataclass(frozen=True)
class Contents:
    """What each tool's likelihood and clock are made of. Tables in which a tool's rows lie together."""

    tools: tuple[str, ...]
    shared: tuple[Table, ...]  # the same for both
    likelihood: tuple[Table, ...]  # rows and cells without what no likelihood asks for
    clock: tuple[Table, ...]
    known: dict[bytes, int]  # what has a number, by what it holds


@dataclass(frozen=True)
class Alike:
    """What of the tools of a history is as it was in an earlier one. Arrays of shape (tool,) of the later one."""

    place: Array  # of the same tool in the earlier one, -1
    likelihood: Array  # bool: all that its likelihood is made of
    clock: Array  # bool: that, and all that its clock and what is asked of it as a live tool are made of


def contents(of: Subject, live: LiveTools, known: dict[bytes, int] | None = None) -> Contents:
    """What the tools of a history are made of.

    Parameters
    ----------
    live : LiveTools
        Of the same history.
    known : dict, optional
        `Contents.known` of the history that it will be held against.
    """
    numbers = dict(known or {})
    d, e, p = of.data, of.exposures, of.drawn.values
    parameter = _numbered(p.all.T, numbers)
    place, job = _numbered(_places(of, parameter), numbers), _numbered(_jobs(of, parameter), numbers)
    law = growth_law(p, d, of.layout)
    feature = np.stack([_numbered(np.asarray(values).T, numbers) for values in law[:3]], axis=1)
    c, r, g = CandidateColumns, RowColumns, ReadingColumns
    tool_of_candidate, row = e.candidates.tool, whole(d.row)
    tool = tool_of_candidate[row[:, r.candidate]]
    many = len(of.names)
    path = whole(d.path[1:, PathColumns.row])
    first_candidate, first_row, first_path = (
        np.searchsorted(at, np.arange(many), side="left") for at in (tool_of_candidate, tool, tool[path])
    )
    begin = row[:, r.boundaries.start]

    def path_from(number: Array, of_tool: Array) -> Array:
        """The paths of a tool counted from one; 0 stands for none."""
        return np.where(number > 0, number - first_path[of_tool], 0)

    index = d.candidate[:, c.index]
    candidates = np.column_stack(
        [d.candidate[:, c.band], parameter[whole(index)], d.candidate[:, c.weight], d.candidate[:, c.log_weight], e.candidates.opening,
         e.candidates.steel, e.candidates.known, e.tools.service_class[tool_of_candidate]]
    )  # fmt: skip
    without_shots = e.history.last_place < 0  # the conditions of its last shot are then of no meaning
    last_place, last_job = (
        np.where(without_shots, -1, held[row[:, column]]) for held, column in ((place, r.last_place), (job, r.last_job))
    )
    rows = np.column_stack(
        [row[:, r.candidate] - first_candidate[tool], row[:, r.chain] - first_row[tool], last_place, last_job, row[:, r.repeats],
         d.row[:, r.kept], path_from(row[:, r.path], tool), e.history.ending, e.history.unstated]
    )  # fmt: skip
    ended = whole(d.ended)
    of_ended = tool[ended[:, EndedColumns.row]]
    endings = np.column_stack([ended[:, EndedColumns.row] - first_row[of_ended], ended[:, EndedColumns.interval : EndedColumns.gain]])
    endings = np.column_stack([endings, *(path_from(ended[:, column], of_ended) for column in (EndedColumns.gain, EndedColumns.loss))])
    paths = np.column_stack([path - first_row[tool[path]], d.path[1:, PathColumns.at_end :]])
    of_reading = whole(d.reading[:, g.row])
    at = tool[of_reading]
    readings = np.column_stack(
        [of_reading - first_row[at], d.reading[:, g.stop] - begin[of_reading], path_from(whole(d.reading[:, g.path]), at),
         feature[whole(d.reading[:, g.feature])], d.reading[:, g.log_way :]]
    )  # fmt: skip
    bounds = row[:, r.boundaries] - begin[:, None]
    of_cell = e.cells.episode
    cells = np.column_stack(
        [
            place[whole(d.cell[:, CellColumns.place])],
            job[whole(d.cell[:, CellColumns.job])],
            d.cell[:, CellColumns.shots :],
            e.cells.years,
        ]
    )
    seen, counted = bounds.copy(), np.ones(len(cells), dtype=bool)
    tail = _tail_unasked(d)
    seen[tail, 3] = seen[tail, 2]
    counted[np.arange(len(cells)) >= row[of_cell, r.boundaries.stop - 2]] = False
    counted |= ~tail[of_cell]
    noted = np.column_stack([e.noted.row - first_row[tool[e.noted.row]], e.noted.stop - begin[e.noted.row]])
    under_way = rows_of_episodes(e.history.source, live.episode)
    return Contents(
        of.names,
        ((candidates, tool_of_candidate), (rows, tool), (endings, of_ended), (paths, tool[path]), (readings, at)),
        ((seen, tool), (cells[counted], tool[of_cell[counted]])),
        (
            (bounds, tool),
            (cells, tool[of_cell]),
            (noted, tool[e.noted.row]),
            (e.noted.day[:, None], e.noted.tool),
            (np.where(under_way >= 0, under_way - first_row[live.tool], -1)[:, None], live.tool),
        ),
        numbers,
    )


def alike(was: Contents, now: Contents) -> Alike:
    """Compare two histories, `now` made with the numbers of `was`."""
    place_of = {name: i for i, name in enumerate(was.tools)}
    place = np.array([place_of.get(name, -1) for name in now.tools], dtype=np.int64)
    shared = (place >= 0) & _same(was.shared, now.shared, place)
    likelihood = shared & _same(was.likelihood, now.likelihood, place)
    return Alike(place, likelihood, likelihood & _same(was.clock, now.clock, place))


def _same(was: Sequence[Table], now: Sequence[Table], place: Array) -> Array:
    """Whether each tool has the same numbers in all of some tables, shape (tool,)."""
    same = np.ones(len(place), dtype=bool)
    for (old, of_old), (new, of_new) in zip(was, now, strict=True):
        begin, end = (np.searchsorted(of_new, np.arange(len(place)), side=side) for side in ("left", "right"))
        old_begin, old_end = (np.searchsorted(of_old, place, side=side) for side in ("left", "right"))
        same &= end - begin == old_end - old_begin
        held = np.flatnonzero(same[of_new])
        tool = of_new[held]
        differs = (new[held] != old[old_begin[tool] + held - begin[tool]]).any(axis=1)
        same[tool[differs]] = False
    return same


def _tail_unasked(d: ModelData) -> Array:
    """Rows of whose cells after the last good day no likelihood asks, shape (row,).

    They go on, so that their survival is counted to that day, no later row of their chain counts from their end, and no reading
    was taken after it. Time that a tool stands since its last shot is all that such cells hold.
    """
    r, e, g = RowColumns, EndedColumns, ReadingColumns
    row, ended = whole(d.row), whole(d.ended)
    asked = np.append(row[1:, r.chain], len(row)) != np.arange(1, len(row) + 1)
    asked[ended[(ended[:, e.capacity] == 0) | (ended[:, e.split] > 0), e.row]] = True
    asked |= (row[:, r.path] > 0) & (d.path[row[:, r.path], PathColumns.open] == 0)
    of_reading = whole(d.reading[:, g.row])
    asked[of_reading[d.reading[:, g.stop] > row[of_reading, r.boundaries.stop - 2]]] = True
    return ~asked


def rows_of_episodes(source: Array, episode: Array) -> Array:
    """The first row of each of some episodes, -1 where it has none; `source` (row,) as in `exposures.History`."""
    order = np.argsort(source, kind="stable")
    at = np.searchsorted(source[order], episode, side="left")
    found = np.append(order, -1)[at]
    return np.where(np.append(source, -1)[found] == episode, found, -1)


def _places(of: Subject, parameter: Array) -> Array:
    """What each place holds, shape (place, number)."""
    c, d = PlantColumns, of.data
    plants = np.column_stack([parameter[whole(d.plant[:, c.effect])], parameter[whole(d.plant[:, c.error])], d.plant[:, c.level.start :]])
    return np.column_stack([plants[whole(d.place[:, PlaceColumns.plant])], d.place[:, PlaceColumns.departure]])


def _jobs(of: Subject, parameter: Array) -> Array:
    """What each job holds, shape (job, number)."""
    c, d = JobColumns, of.data
    return np.column_stack([d.job[:, c.constant], parameter[whole(d.job[:, c.index])], d.job[:, c.weight]])


def _numbered(rows: Array, numbers: dict[bytes, int]) -> Array:
    """A number for each row, the same for the same bytes; new ones are added to `numbers`."""
    return np.array([numbers.setdefault(row.tobytes(), len(numbers)) for row in np.ascontiguousarray(rows, dtype=float)], dtype=np.int64)
