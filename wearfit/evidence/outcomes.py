"""What happened after a past day: the runs that were then made, and how far the life under way then came.

Times are days since 1970 as floats, as the exposures have them; the life under way ends at its wear-out, its renewal or the tool's
retirement. A modification changes the surface, so that what comes after it is no outcome of what was asked before it.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from wearfit.exposures.lives import INTERVAL
from wearfit.exposures.table import Exposures

Array = np.ndarray


@dataclass(frozen=True)
class AskedRun:
    """One production run made after the day, or some of which the one that wore the tool out is not known.

    Parameters
    ----------
    plant_id, resin_id : str
    month : str
        YYYY-MM, of its first day.
    setups : float
    shots : float
        Machine shots asked for. A run that a wear-out broke off says no more how large it was to be: it is asked at the size of the
        tool's usual run until then where that is larger, so that what is asked does not tell what happened.
    made : float
        Machine shots made in it by the life under way.
    worn : float
        1 where the tool wore out before it was finished, 0 where it did not; for a renewal whose cause nobody stated the
        chance that it was wear.
    stopped : float
        The same of a wear-out or a sudden stop.
    """

    plant_id: str
    resin_id: str
    month: str
    setups: float
    shots: float
    made: float
    worn: float
    stopped: float


@dataclass(frozen=True)
class Outcome:
    """What happened to one tool after a day.

    Parameters
    ----------
    renewals : int
        Behind the life under way on the day, partial ones too.
    runs : tuple of AskedRun
        Begun within the horizon, in order of time.
    low, high : float
        Machine shots that the life still made between which it wore out, equal where the records place it; where it did not wear
        out, the shots that it came through.
    worn : float
        As for `AskedRun`, of the life, however long after the day.
    """

    tool_id: str
    renewals: int
    runs: tuple[AskedRun, ...]
    low: float
    high: float
    worn: float


@dataclass(frozen=True)
class _Ending:
    """When the life under way stops being what was asked about, and why."""

    time: float  # as events order it
    cut: float  # where it cuts a run [day]
    worn: float
    damaged: bool
    good: float  # last day known to be good, NaN
    in_store: bool  # it stood in store between that day and the end


@dataclass(frozen=True)
class _Piece:
    """The part of a production run that lies after the day."""

    run: int  # the first row
    first: float  # [day]
    last: float  # instant by which it was over, or broken off [day]
    before: float  # shots made in it by the day
    whole: float  # shots after it, had nothing broken it off
    made: float
    setups: float


def outcomes(
    whole: Exposures, day: np.datetime64, horizon_end: np.datetime64, usual_run: Mapping[str, float], unstated_wear: float
) -> dict[str, Outcome]:
    """What happened after a day to each tool whose life was under way and not worn by then.

    Parameters
    ----------
    whole : Exposures
        Of all the records.
    day : datetime64[D]
        Forecasts are made at its end.
    horizon_end : datetime64[D]
        The last day on which a run may begin to be asked about.
    usual_run : mapping of str to float
        Shots of the usual run of each tool by `day`; a tool without one is left out of it.
    unstated_wear : float
        Chance that a renewal without a stated cause was a wear-out.

    Returns
    -------
    dict of str to Outcome
        By tool; those with a wear-out on record by the day, retired by then or commissioned later are not in it.
    """
    now, until = float(day.astype(np.int64)), float(horizon_end.astype(np.int64))
    found = {}
    for tool, tool_id in enumerate(whole.tools.tool_id):
        if whole.tools.commissioned[tool] > now:
            continue
        episode = _under_way(whole, tool, now)
        if episode is None:
            continue
        ending = _ending(whole, tool, episode, now, unstated_wear)
        pieces = _pieces(whole, tool, now, ending)
        asked = _asked(whole, pieces, ending, usual_run.get(tool_id, 0.0), until)
        low, high = _remaining(whole, tool, pieces, ending, now)
        renewals = episode - int(np.searchsorted(whole.episodes.tool, tool, side="left"))
        found[tool_id] = Outcome(tool_id, renewals, asked, low, high, ending.worn)
    return found


def _under_way(whole: Exposures, tool: int, now: float) -> int | None:
    """The episode under way at the end of a day; None where it was worn or over by then."""
    episodes = whole.episodes
    mine = np.flatnonzero(episodes.tool == tool)
    at = int(mine[np.flatnonzero(episodes.opens[mine] < now + 1.0)[-1]])
    return None if min(episodes.worn_at[at], episodes.closes[at]) < now + 1.0 else at


def _ending(whole: Exposures, tool: int, episode: int, now: float, unstated_wear: float) -> _Ending:
    """How a life under way stopped being what was asked about."""
    episodes, events = whole.episodes, whole.events
    low, high = np.searchsorted(events.tool, [tool, tool + 1], side="left")
    mine = np.arange(low, high)
    changes = mine[(events.kind[mine] == "modify") & (events.time[mine] >= now + 1.0)]
    changed = float(events.time[changes[0]]) if len(changes) else np.inf
    ends = min(float(episodes.worn_at[episode]), float(episodes.closes[episode]))
    time = min(ends, changed)
    if np.isinf(time):
        return _Ending(np.inf, np.inf, 0.0, False, np.nan, False)
    cut = float(events.cut[mine[events.time[mine] == time][0]])
    if changed < ends:
        return _Ending(time, cut, 0.0, False, np.nan, False)
    worn = unstated_wear if episodes.unstated[episode] else float(episodes.ending[episode] > 0)
    good = float(episodes.last_good[episode]) if episodes.ending[episode] == INTERVAL else np.nan
    between = (events.kind[mine] == "store") & (events.time[mine] >= good) & (events.time[mine] <= time)
    return _Ending(time, cut, worn, bool(episodes.sudden[episode]), good, bool(between.any()))


def _share_before(start: float, end: float, instant: float, cut: float) -> float:
    """Share of a run that lies before an event, as `timeline` cuts it: on its last day after it, on its first before it."""
    if instant >= end and cut == instant:
        return 1.0
    return float(np.clip((cut - start) / (end - start + 1.0), 0.0, 1.0))


def _pieces(whole: Exposures, tool: int, now: float, ending: _Ending) -> list[_Piece]:
    """Production runs, or what is left of them after the end of a day, in which the life made a shot."""
    runs = whole.runs
    low, high = np.searchsorted(runs.tool, [tool, tool + 1], side="left")
    pieces: dict[int, _Piece] = {}
    for run in range(int(low), int(high)):
        start, end, shots = float(runs.start[run]), float(runs.end[run]), float(runs.shots[run])
        if end <= now:
            continue
        before = float(np.clip((now + 1.0 - start) / (end - start + 1.0), 0.0, 1.0))
        ended = 1.0 if np.isinf(ending.time) else _share_before(start, end, ending.time, ending.cut)
        if ended <= before:
            continue
        setups = float(runs.setups[run]) if start > now else 0.0
        over = min(end + 1.0, ending.cut if ended < 1.0 else np.inf)
        piece = _Piece(run, max(start, now + 1.0), over, shots * before, shots * (1.0 - before), shots * (ended - before), setups)
        group = int(runs.production[run])
        if group in pieces:
            earlier = pieces[group]
            amounts = (getattr(earlier, name) + getattr(piece, name) for name in ("before", "whole", "made", "setups"))
            piece = _Piece(earlier.run, earlier.first, over, *amounts)
        pieces[group] = piece
    return sorted((p for p in pieces.values() if p.made > 0), key=lambda p: p.first)


def _asked(whole: Exposures, pieces: list[_Piece], ending: _Ending, usual: float, until: float) -> tuple[AskedRun, ...]:
    doubted = _doubted(pieces, ending)
    asked = []
    for i, piece in enumerate(pieces[: len(pieces) - max(doubted - 1, 0)]):
        if piece.first > until:
            break
        last = doubted > 0 and i == len(pieces) - doubted
        merged = pieces[i:] if last else [piece]
        made, setups = sum(p.made for p in merged), sum(p.setups for p in merged)
        as_planned = sum(p.whole for p in merged)
        size = max(as_planned, usual - piece.before if len(merged) == 1 else 0.0) if last else made
        run = piece.run
        asked.append(
            AskedRun(
                plant_id=whole.plant_ids[whole.runs.plant[run]],
                resin_id=whole.resins.resin_id[whole.runs.resin[run]],
                month=str(np.datetime64(int(piece.first), "D").astype("datetime64[M]")),
                setups=setups,
                shots=size,
                made=made,
                worn=ending.worn if last else 0.0,
                stopped=1.0 if ending.damaged and i == len(pieces) - 1 else ending.worn if last else 0.0,
            )
        )
    return tuple(asked)


def _doubted(pieces: list[_Piece], ending: _Ending) -> int:
    """Of how many of the last runs one wore the tool out: none where it did not, or where it was good after the last."""
    if ending.worn == 0.0 or not pieces:
        return 0
    after = 1 if np.isnan(ending.good) else sum(piece.last > ending.good + 1.0 for piece in pieces)
    return after or int(not ending.in_store)


def _remaining(whole: Exposures, tool: int, pieces: list[_Piece], ending: _Ending, now: float) -> tuple[float, float]:
    """Shots still made between which the life wore out, or that it came through."""
    made = sum(piece.made for piece in pieces)
    if ending.worn == 0.0 or np.isnan(ending.good):
        return made, made
    good = 0.0
    runs = whole.runs
    low, high = np.searchsorted(runs.tool, [tool, tool + 1], side="left")
    for run in range(int(low), int(high)):
        start, end = float(runs.start[run]), float(runs.end[run])
        shares = [float(np.clip((at - start) / (end - start + 1.0), 0.0, 1.0)) for at in (now + 1.0, ending.good + 1.0)]
        good += float(runs.shots[run]) * max(shares[1] - shares[0], 0.0)
    return min(good, made), made
