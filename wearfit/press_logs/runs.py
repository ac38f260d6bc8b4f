"""Sessions joined where a border between parts cuts them, and written as rows of the runs table, whose grain is the day."""

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import groupby

from wearfit.press_logs.sessions import HOUR_US, Session

_DAY_US = 24 * HOUR_US
_EPOCH = dt.date(1970, 1, 1)


@dataclass(slots=True)
class _Row:
    """A run under way: a session, and the place among the tool's sessions of the last that went into it."""

    whole: Session
    place: int


def joined(sessions: Iterable[Session], gap_hours: float) -> Iterator[Session]:
    """Sessions of which the parts saw a piece each, whole.

    Parameters
    ----------
    sessions : iterable of Session
        Tool by tool in order of time.
    gap_hours : float
        As the parts were drawn together by. [h]
    """
    gap, last = round(gap_hours * HOUR_US), None
    for session in sessions:
        if last is not None and _same(last, session) and session.first - last.last <= gap:
            last = _together(last, session)
            continue
        if last is not None:
            yield last
        last = session
    if last is not None:
        yield last


def runs_of(sessions: Iterable[Session]) -> Iterator[Session]:
    """The rows of the runs table, tool by tool in order of their days.

    Notes
    -----
    A row has days and no hours, and its key is tool, plant, resin and first day. So sessions of one tool, plant and resin that share
    a day are one row, but where another session lies between and the row would then reach beyond that day over it: the tool would
    seem to run in two resins for days. Of one first day they are one row in any case; only the last of a day can reach beyond it.
    """
    for _, of_tool in groupby(sessions, lambda session: session.tool):
        rows: list[_Row] = []
        latest: dict[tuple[str | None, str | None], _Row] = {}
        for place, session in enumerate(of_tool):
            row = latest.get((session.plant, session.resin))
            if row is not None and _is_one_row(row, session, place):
                row.whole, row.place = _together(row.whole, session), place
            else:
                row = latest[session.plant, session.resin] = _Row(session, place)
                rows.append(row)
        yield from sorted((row.whole for row in rows), key=lambda run: (day_of(run.first), day_of(run.last), run.first))


def _is_one_row(row: _Row, session: Session, place: int) -> bool:
    day = day_of(session.first)
    if day_of(row.whole.last) != day:
        return False
    return row.place == place - 1 or day_of(session.last) == day or day_of(row.whole.first) == day


def cells(run: Session) -> dict[str, str]:
    """A run as the cells of a row of the runs table, those left out of which the log does not tell.

    Parts and scrap are told where the log says of every shot whether it was good, and the cavities that were open did not change.
    """
    told = {
        "tool_id": run.tool, "plant_id": run.plant or "", "resin_id": run.resin or "", "started_on": str(day_of(run.first)),
        "ended_on": str(day_of(run.last)), "shots": str(run.shots),
    }  # fmt: skip
    cavities = run.least_open
    if cavities is not None and cavities == run.most_open and cavities >= 1 and cavities == int(cavities):
        told["active_cavities"] = str(int(cavities))
        if run.judged == run.shots:
            told["parts"] = str((run.shots - run.rejects) * int(cavities))
            told["scrap_parts"] = str(run.rejects * int(cavities))
    if run.cycles:
        told["cycle_time_s"] = f"{run.cycle_sum / run.cycles:.1f}"
    return told


def day_of(moment: int) -> dt.date:
    """The day of a moment in microseconds since 1970, in UTC."""
    return _EPOCH + dt.timedelta(days=moment // _DAY_US)


def _same(one: Session, other: Session) -> bool:
    return (one.tool, one.plant, one.resin) == (other.tool, other.plant, other.resin)


def _together(one: Session, other: Session) -> Session:
    """Two sessions, the second after the first, as one."""
    return replace(
        one,
        last=max(one.last, other.last),
        shots=one.shots + other.shots,
        duplicates=one.duplicates + other.duplicates,
        judged=one.judged + other.judged,
        rejects=one.rejects + other.rejects,
        # Where one of the two does not tell, the other does not tell for both.
        least_open=None if one.least_open is None or other.least_open is None else min(one.least_open, other.least_open),
        most_open=None if one.most_open is None or other.most_open is None else max(one.most_open, other.most_open),
        cycle_sum=one.cycle_sum + other.cycle_sum,
        cycles=one.cycles + other.cycles,
    )
