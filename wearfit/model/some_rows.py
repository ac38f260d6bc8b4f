"""What rows come to where some tools' were worked out anew and the others' are as they were in an earlier history."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from wearfit.exposures.live import LiveTools
from wearfit.model.alike import rows_of_episodes
from wearfit.model.data import ReadingColumns, RowColumns
from wearfit.model.noted import NotedDraws
from wearfit.model.posterior import Rows
from wearfit.model.read_capacity import LiveRead
from wearfit.model.readings import growth_law
from wearfit.model.subject import Subject

Array = np.ndarray

BY_LIVE = ("wear_spent", "recorded_share", "storage_spent", "log_life", "opening", "candidate")  # (.., live)


@dataclass(frozen=True)
class Part:
    """What the rows of a history come to, with the history and its live tools."""

    of: Subject
    live: LiveTools
    rows: Rows

    def counted(self) -> Rows:
        """Candidates counted from the first of their tool."""
        return replace(self.rows, candidate=self.rows.candidate - _first_candidate(self.of, self.live))


def laid_over(was: Part, anew: Part, now: Subject, live: LiveTools) -> Rows:
    """Rows of a history, without pointwise likelihoods.

    Parameters
    ----------
    was : Part
        An earlier history.
    anew : Part
        Those live tools of the later one alone whose clocks are not as they were, and perhaps others.
    now, live
        The later history.
    """
    sources = (was.counted(), anew.counted())
    place: tuple[dict[str, int], ...] = tuple({name: i for i, name in enumerate(_live_names(part.of, part.live))} for part in (was, anew))
    names = _live_names(now, live)
    late = np.array([name in place[1] for name in names], dtype=bool)
    at = np.array([place[int(newer)][name] for name, newer in zip(names, late, strict=True)], dtype=np.int64)

    def by_live(earlier: Array, later: Array) -> Array:
        out = np.empty((*earlier.shape[:-1], len(names)), dtype=earlier.dtype)
        out[..., ~late], out[..., late] = earlier[..., at[~late]], later[..., at[late]]
        return out

    columns = {name: by_live(*(getattr(rows, name) for rows in sources)) for name in BY_LIVE}
    columns["candidate"] += _first_candidate(now, live)
    read = [{r.live: r for r in rows.reads} for rows in sources]
    row = rows_of_episodes(now.exposures.history.source, live.episode)
    found = [(i, read[int(newer)].get(int(source))) for i, (newer, source) in enumerate(zip(late, at, strict=True))]
    level, growth, noise, _ = growth_law(now.drawn.values, now.data, now.layout)
    return replace(
        was.rows,
        **columns,
        log_likelihood=np.zeros((len(level), 0), dtype=np.float32),
        observation=np.zeros((0, 2), dtype=np.int64),
        reads=tuple(_under(i, of_life, now, int(row[i])) for i, of_life in found if of_life is not None),
        features=replace(was.rows.features, level=level, growth=growth, noise=noise),
        noted=_noted((was, anew), now),
        moved={name: by_live(*(rows.moved[name] for rows in sources)) for name in was.rows.moved},
    )


def _live_names(of: Subject, live: LiveTools) -> list[str]:
    return [of.names[tool] for tool in live.tool]


def _first_candidate(of: Subject, live: LiveTools) -> Array:
    return np.searchsorted(of.exposures.candidates.tool, live.tool, side="left")


def _under(live: int, read: LiveRead, now: Subject, row: int) -> LiveRead:
    """A live tool with readings, under the numbers that a history has for it and its readings; `row` of the life under way."""
    d = now.data
    return replace(read, live=live, readings=d.reading[d.reading[:, ReadingColumns.path] == d.row[row, RowColumns.path]])


def _noted(parts: Sequence[Part], now: Subject) -> NotedDraws:
    """Noted defects of a history: a tool's from the last part that has them."""
    out = NotedDraws.empty(now.drawn.samples, now.exposures.noted, 0)
    place = {name: i for i, name in enumerate(now.names)}
    for part in parts:
        for tool in np.unique(part.of.exposures.noted.tool):
            mine = np.flatnonzero(out.noted.tool == place.get(part.of.names[tool], -1))
            theirs = part.rows.noted.log_share[:, part.of.exposures.noted.tool == tool]
            if theirs.shape[1] == len(mine):  # else they are not as they were, and stand in the later part
                out.log_share[:, mine] = theirs
    return out
