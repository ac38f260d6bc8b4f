"""Readings and events that contradict each other, in plain words: nothing is changed, both count as they are written.

What is looked for must be far outside what gauges, process faults and the luck of lives do: of several inspections the median
counts, so that one reading far off tells nothing. Refurbishments are not looked at, for they bring back so little of a surface
that readings which go on as before are no sign of a mistake.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from wearfit.exposures.inspections import Inspections, ShotsMade, inspect
from wearfit.exposures.lives import CENSORED, Episodes, Events
from wearfit.exposures.readings import Marks
from wearfit.exposures.storage import Standing
from wearfit.exposures.timeline import Runs
from wearfit.records.findings import Finding, listed
from wearfit.records.frames import BELOW, ROW, SOURCE
from wearfit.records.tables import TABLES

Array = np.ndarray

FALL: Final = 3.0  # standard deviations of noise and rounding; judgement, as all that follows
LEAST_FALL: Final = float(np.log(2.0))
EARLY: Final = 0.5  # share of the shots of the life before, by which a renewed surface has come far less far
NOTICEABLE: Final = float(np.log(0.3))  # of the way to the limit: what has come less far may look new
FAR: Final = float(np.log(1.0 / 3.0))  # of the way to the limit, where a tool is found worn
LATE: Final = 0.5  # share of a life's shots, before which its readings say little of its end
PAST: Final = 1e-9  # a reading at its limit is not past it


@dataclass(frozen=True)
class _Told:
    """What the sentences are made of. Arrays of shape (inspection,)."""

    inspections: Inspections
    tool_ids: Sequence[str]
    feature_ids: Sequence[str]
    values: Array
    below: Array  # bool: written as lying below the value
    limits: Array
    rows: Array
    sources: Array

    def value(self, i: int) -> str:
        return f"{'<' if self.below[i] else ''}{self.values[i]:g}"

    def limit(self, i: int) -> str:
        return f"{self.limits[i]:g}"

    def day(self, i: int) -> str:
        return _date(self.inspections.day[i])

    def feature(self, i: int) -> str:
        return self.feature_ids[self.inspections.feature[i]]

    def tool(self, i: int) -> str:
        return self.tool_ids[self.inspections.tool[i]]

    def note(self, i: int, problem: str, repair: str) -> Finding:
        return Finding("readings", int(self.rows[i]), "value", self.value(i), problem, repair, "note", str(self.sources[i]))


def reading_findings(
    readings: pd.DataFrame,
    marks: Marks,
    tool_ids: Sequence[str],
    runs: Runs,
    events: Events,
    episodes: Episodes,
    standing: Standing,
    history_from: Array,
) -> tuple[Finding, ...]:
    """Say where readings and events contradict each other, or readings one another.

    Parameters
    ----------
    readings : DataFrame
        The record table from which `marks` were read.
    runs, events, episodes, standing
        Of the same records, wear-outs that readings show among them.
    history_from : array, shape (tool,)
        Day since which renewals are on record, NaN where not stated; none is missed before it.

    Returns
    -------
    tuple of Finding
        Severity "note".
    """
    if not len(marks.reading):
        return ()
    made = ShotsMade(runs, episodes)
    inspections = inspect(marks, made)
    columns = (readings[name].to_numpy()[inspections.reading] for name in ("value", BELOW, "limit", ROW, SOURCE))
    told = _Told(inspections, tool_ids, marks.feature_ids, *columns)
    return (
        *_changed_limits(readings, marks, episodes),
        *_falls(told, history_from),
        *_unfelt_renewals(told, events, episodes),
        *_far_from_worn(told, events, episodes, standing, made),
        *_disagreements(told),
    )


def _changed_limits(readings: pd.DataFrame, marks: Marks, episodes: Episodes) -> list[Finding]:
    """Limits or new values that are not the same all through a life."""
    order = np.lexsort((marks.time, marks.feature, episodes.life[marks.episode]))
    rows = readings.iloc[marks.reading[order]]
    new = rows["new_value"].fillna(float(TABLES["readings"].column("new_value").default)).to_numpy(dtype=float)
    limit, life, feature = rows["limit"].to_numpy(dtype=float), episodes.life[marks.episode[order]], marks.feature[order]
    same = (np.diff(life) == 0) & (np.diff(feature) == 0)
    at = np.flatnonzero(same & ((np.diff(limit) != 0) | (np.diff(new) != 0))) + 1
    _, once = np.unique(np.stack([life[at], feature[at]]), axis=1, return_index=True)
    findings = []
    for i in at[once]:
        row = rows.iloc[int(i)]
        changes = [(name, of[i - 1], of[i]) for name, of in (("limit", limit), ("new_value", new)) if of[i - 1] != of[i]]
        what = listed([f"{name} from {was:g} to {becomes:g}" for name, was, becomes in changes])
        day = _date(marks.time[order[i]] - 1.0)
        findings.append(Finding(
            "readings", int(row[ROW]), changes[0][0], f"{changes[0][2]:g}",
            f"Within one life of {row['tool_id']} the readings of {row['feature']} change their {what} on {day}; "
            "each reading is held against those of its own row.",
            "If the drawing was changed, write the limit that holds now on all rows of that life; else correct the row.",
            "note", str(row[SOURCE]),
        ))  # fmt: skip
    return findings


def _falls(told: _Told, history_from: Array) -> list[Finding]:
    """Features that fall back, and stay low, with no renewal on record between."""
    seen = told.inspections
    before = seen.middle(np.where(seen.below, -np.inf, seen.log_way), range(-4, 1), -np.inf)
    after = seen.middle(seen.log_way, range(1, 4), np.inf)
    rounding = seen.nearby(seen.rounding, 1, 0.0)
    fall = before - after
    much = np.maximum(FALL * np.sqrt(seen.noise**2 + rounding**2), LEAST_FALL)
    on_record = ~(seen.nearby(seen.day, 1, 0.0) < history_from[seen.tool])
    found = np.flatnonzero((fall > much) & on_record)
    findings = []
    for i in _greatest(found, seen.episode, fall):
        findings.append(told.note(
            i + 1,
            f"The readings of {told.feature(i)} of {told.tool(i)} fall from {told.value(i)} on {told.day(i)} to {told.value(i + 1)} on "
            f"{told.day(i + 1)} and stay low, and no renewal between is on record: a renewal may be missing from the events. "
            "The life is taken to have gone on.",
            "Add the retool, refurbish or modify with renewed_share that came between; if there was none, correct the readings.",
        ))  # fmt: skip
    return findings


def _unfelt_renewals(told: _Told, events: Events, episodes: Episodes) -> list[Finding]:
    """Renewals of all the surface after which readings go on where they were."""
    seen, closers = told.inspections, events.closers
    first, last = seen.first, seen.last
    way = np.where(seen.below, -np.inf, seen.log_way)
    before, after = seen.middle(way, range(-2, 1), np.inf)[last], seen.middle(way, range(3), -np.inf)[first]
    least = np.min([seen.nearby(way, place, np.inf) for place in range(3)], axis=0)[first]
    shots_after = np.maximum(np.maximum(seen.nearby(seen.shots, 1, 0.0), seen.nearby(seen.shots, 2, 0.0))[first], 1.0)
    key = seen.episode[first] * len(told.feature_ids) + seen.feature[first]
    wanted = key - len(told.feature_ids)
    prior = np.searchsorted(key, wanted)
    renewed = episodes.chain[seen.episode[first]] == seen.episode[first]
    pair = renewed & (seen.tool[first][prior] == seen.tool[first]) & (key[prior] == wanted)
    noise = seen.noise[first]
    goes_on = (after >= before[prior] - noise) & (least >= before[prior] - 2.0 * noise) & (before[prior] > NOTICEABLE)
    found = first[pair & goes_on & (shots_after <= EARLY * seen.shots[last][prior])]
    findings = []
    for i in _greatest(found, seen.episode, seen.log_way):
        was = int(last[prior[seen.series[i]]])
        opener = closers[seen.episode[i] - 1 - seen.tool[i]]  # a tool has one more episode than events that open one
        kind, day = str(events.kind[opener]), _date(events.time[opener])
        findings.append(told.note(
            i,
            f"The readings of {told.feature(i)} of {told.tool(i)} go on after the {kind} of {day} as if nothing had been renewed: "
            f"{told.value(was)} on {told.day(was)}, {told.value(i)} on {told.day(i)}. It is taken to have been renewed.",
            f"If it was not, or on another day, correct the {kind} in the events; else check which tool was measured.",
        ))  # fmt: skip
    return findings


def _far_from_worn(told: _Told, events: Events, episodes: Episodes, standing: Standing, made: ShotsMade) -> list[Finding]:
    """Wear-outs of tools whose features were far from their limits shortly before, and that were not in store since."""
    seen = told.inspections
    last = seen.last
    episode = seen.episode[last]
    end = np.minimum(episodes.worn_at, episodes.closes)[episode]
    worn = (episodes.ending[episode] != CENSORED) & ~episodes.unstated[episode]
    shots = made(episode, np.where(worn, end + 1.0, 0.0))
    ahead = np.log(np.maximum(shots, 1.0) / np.maximum(seen.shots[last], 1.0))
    way = seen.latest + np.maximum(ahead, 0.0)
    twice = last > seen.first
    late = (seen.shots[last] >= LATE * shots) & (seen.day[last] >= _out_of_store(standing, len(episodes.tool))[episode])
    near = np.zeros(len(episodes.tool), dtype=bool)
    near[episode[way >= FAR]] = True
    found = np.flatnonzero(worn & ~near[episode] & twice & late)
    findings = []
    for i in _greatest(last[found], seen.episode, seen.log_way):
        e = int(seen.episode[i])
        ended_by = "retired" if events.kind[episodes.closer[e]] == "retire" else "renewed"
        how = "found worn" if np.isfinite(episodes.worn_at[e]) else f"{ended_by} for wear"
        ended = _date(min(episodes.worn_at[e], episodes.closes[e]))
        findings.append(told.note(
            i,
            f"{told.tool(i)} was {how} on {ended}, yet the readings were far from every limit: {told.feature(i)} was {told.value(i)} on "
            f"{told.day(i)}, its limit {told.limit(i)}. It is taken to have worn out.",
            "If it ended for another reason, correct the cause; else check which tool and feature were measured, and the limit.",
        ))  # fmt: skip
    return findings


def _out_of_store(standing: Standing, n_episodes: int) -> Array:
    """Day until which each episode was last in store, shape (episode,); -inf where it never was."""
    until = np.full(n_episodes, -np.inf)
    np.maximum.at(until, standing.episode[standing.stored], standing.end[standing.stored])
    return until


def _disagreements(told: _Told) -> list[Finding]:
    """Features that are far from their limit while another of the same life has been past its own several times."""
    seen = told.inspections
    last = seen.last
    lowest = np.minimum(seen.log_way, np.minimum(seen.nearby(seen.log_way, -1, -np.inf), seen.nearby(seen.log_way, -2, -np.inf)))
    past = last[lowest[last] > PAST]
    since = np.full(seen.episode.max() + 1, np.inf)
    np.minimum.at(since, seen.episode[past], seen.day[past - 2])
    again = seen.nearby(seen.day, -1, -np.inf)[last] >= since[seen.episode[last]]
    findings = []
    for i in _greatest(last[again & (seen.latest < FAR)], seen.episode, -seen.log_way):
        other = int(past[seen.episode[past] == seen.episode[i]][0]) - 2
        findings.append(told.note(
            i,
            f"In one life of {told.tool(i)} the readings disagree: {told.feature(other)} is past its limit of {told.limit(other)} since "
            f"{told.day(other)} at least, {told.feature(i)} was {told.value(i)} on {told.day(i)}, its limit {told.limit(i)}. Both count.",
            "Check which tool and feature were measured, and limit and new_value of both.",
        ))  # fmt: skip
    return findings


def _greatest(found: Array, episode: Array, of: Array) -> list[int]:
    """Of the positions found the one with the greatest value in each episode, in order."""
    order = found[np.lexsort((-of[found], episode[found]))]
    _, first = np.unique(episode[order], return_index=True)
    return [int(i) for i in order[first]]


def _date(day: float) -> str:
    return str(np.datetime64(int(np.floor(day)), "D"))
