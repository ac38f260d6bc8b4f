"""Wear-outs that nobody wrote down, but readings show: over their limit twice in a row, with no renewal after.

One reading over the limit may be a fault of the process, and a worn surface does not heal. So what counts is the first of two or
more inspections over the limit with which the readings of a feature end in a life: the tool wore out between the inspection before
and that one. A modification that cuts part of the surface new ends no life, and may well have mended what was over its limit: then
later readings say so.
"""

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearfit.exposures.event_order import EventOrder
from wearfit.exposures.lives import RENEWALS, Events
from wearfit.exposures.timeline import days, positions
from wearfit.exposures.ways import IN_A_ROW, ROUNDING
from wearfit.records.findings import Finding
from wearfit.records.frames import BELOW, ROW, SOURCE, cells_by_row
from wearfit.records.tables import TABLES

Array = np.ndarray


@dataclass(frozen=True)
class _Lives:
    """Lives between two renewals of all the surface, in order of (tool, time). Days are whole. Arrays of shape (life,)."""

    tool: Array
    began: Array  # [day] of the renewal, or of commissioning
    worn: Array  # [day] on which it was first found worn, inf
    good_until: Array  # [day] last on which its parts were good by the events, -inf
    closer: Array  # position of the event that ended it, -1
    retired: Array  # [day], inf


def with_wear_seen(
    events: Events, readings: pd.DataFrame, tool_ids: Sequence[str], commissioned: Array
) -> tuple[Events, tuple[Finding, ...]]:
    """Add a `worn` to the events of each life whose readings end over their limit before it was found worn.

    Parameters
    ----------
    events : Events
    readings : DataFrame
        The record table, cut at the as-of day; of tools in `tool_ids`.
    commissioned : array, shape (tool,)
        [day]

    Returns
    -------
    Events
        With a `worn` on the day of the first inspection over the limit; its last good day is that of the inspection before, or the
        first of the life. Where the events say that parts were good on that day or later, they are believed, and that is told.
    tuple of Finding

    Notes
    -----
    Of several readings of a feature on one day the median counts. A reading stands among the events of its day where a `worn` does,
    before a renewal. Those up to the first day of a life, and after a retirement, are left out. Where `new_value` is blank the
    readings must have been within their limit once, or it is not known from which side they come to it.
    """
    if readings.empty:
        return events, ()
    order = EventOrder(events)
    lives = _divide(events, commissioned)
    seen = _over_at_the_end(_inspections(readings, tool_ids, lives, events, order))
    if seen.empty:
        return events, ()
    life = seen["life"].to_numpy()
    seen = seen.assign(
        tool_id=np.asarray(tool_ids, dtype=object)[lives.tool[life]], worn=lives.worn[life], good_until=lives.good_until[life],
        closer=lives.closer[life], last_good=np.fmax(np.fmax(seen["before"], lives.began[life]), lives.good_until[life]),
    )  # fmt: skip
    seen = seen[~(seen["worn"] <= seen["day"])]
    from_which_side = seen["blank"] & seen["before"].isna()
    believed = ~from_which_side & (seen["good_until"] >= seen["day"])
    found = seen[~from_which_side & ~believed].drop_duplicates("life")
    findings = [_read_as_worn(record, events) for record in cells_by_row(found)]
    findings += [_contradicted(record) for record in cells_by_row(seen[believed])]
    findings += [_either_side(record) for record in cells_by_row(seen[from_which_side])]
    tool, day, last_good = lives.tool[found["life"]], found["day"].to_numpy(), found["last_good"].to_numpy()
    return _with_worn(events, order.place_of_worn(tool, day), tool, day, last_good), tuple(findings)


def _renewals(events: Events) -> Array:
    return np.isin(events.kind, RENEWALS) | ((events.kind == "modify") & (events.renewed_share >= 1.0))


def _divide(events: Events, commissioned: Array) -> _Lives:
    renewal = _renewals(events)
    count = np.bincount(events.tool[renewal], minlength=len(commissioned)) + 1
    tool = np.repeat(np.arange(len(count)), count)
    # One more for each tool before: the life that an event closes, or in which it lies.
    life = np.cumsum(renewal) - renewal + events.tool
    day = np.floor(events.time)
    began, worn, good_until = commissioned[tool], np.full(len(tool), np.inf), np.full(len(tool), -np.inf)
    closer, retired = np.full(len(tool), -1), np.full(len(tool), np.inf)
    began[life[renewal] + 1] = day[renewal]
    found, retire = events.of("worn"), events.of("retire")
    np.minimum.at(worn, life[found], day[found])
    np.fmax.at(good_until, life, events.last_good)
    np.minimum.at(retired, life[retire], day[retire])
    closer[life[retire]] = retire
    closer[life[renewal]] = np.flatnonzero(renewal)
    return _Lives(tool, began, worn, good_until, closer, retired)


@dataclass(frozen=True)
class _Inspections:
    """What was read of a feature in a life on a day, in order of (life, feature, day). Arrays of shape (inspection,)."""

    life: Array
    feature: Array  # text
    day: Array
    value: Array  # the median of the day
    limit: Array
    over: Array  # bool: whether it is over the limit
    blank: Array  # bool: no reading says what it was when new
    row: Array  # of the first reading, in the order of files and rows
    source: Array  # text
    begins: Array  # bool: whether it is the first of its life and feature


def _inspections(readings: pd.DataFrame, tool_ids: Sequence[str], lives: _Lives, events: Events, order: EventOrder) -> _Inspections:
    tool, day = positions(readings["tool_id"], tool_ids), days(readings["date"])
    renewed = np.concatenate([[0], np.cumsum(_renewals(events))])
    life = tool + renewed[order.place_of_worn(tool, day)]
    way = _way_to_limit(readings)
    used = np.flatnonzero(~np.isnan(way) & (day > lives.began[life]) & (day <= lives.retired[life]))
    feature, source = (pd.factorize(readings[name].to_numpy(dtype=object), sort=True)[0] for name in ("feature", SOURCE))
    row = readings[ROW].to_numpy()
    first_to_last = used[np.lexsort((row[used], source[used], day[used], feature[used], life[used]))]
    of_series = np.stack([life, feature])[:, first_to_last]
    begins = _changes(of_series)
    fresh = begins | _changes(day[first_to_last][None])
    first = first_to_last[fresh]
    by_day = np.cumsum(fresh) - 1
    value = readings["value"].to_numpy(dtype=float)
    return _Inspections(
        life=life[first],
        feature=readings["feature"].to_numpy(dtype=object)[first],
        day=day[first],
        value=_medians(value[first_to_last], by_day),
        limit=readings["limit"].to_numpy(dtype=float)[first],
        over=_medians(way[first_to_last], by_day) > 1.0 + ROUNDING,
        blank=np.logical_and.reduceat(readings["new_value"].isna().to_numpy()[first_to_last], np.flatnonzero(fresh))
        if len(first)
        else np.zeros(0, dtype=bool),
        row=row[first],
        source=readings[SOURCE].to_numpy(dtype=object)[first],
        begins=begins[fresh],
    )


def _changes(keys: Array) -> Array:
    """Whether each column of the keys, shape (key, place), is another than the one before."""
    changes = np.ones(keys.shape[1], dtype=bool)
    changes[1:] = (np.diff(keys) != 0).any(axis=0)
    return changes


def _medians(values: Array, group: Array) -> Array:
    """Median of the values of each group, shape (group,); groups are counted from 0 and in order."""
    in_order = values[np.lexsort((values, group))]
    count = np.bincount(group)
    begin = np.cumsum(count) - count
    with np.errstate(invalid="ignore"):  # below a value on the one side and on the other: nothing is known of the middle
        return np.asarray(0.5 * (in_order[begin + (count - 1) // 2] + in_order[begin + count // 2]))


def _way_to_limit(readings: pd.DataFrame) -> Array:
    """Share of the way from new to the limit, shape (reading,); NaN where it says nothing of which side of the limit it is on."""
    new = readings["new_value"].fillna(float(TABLES["readings"].column("new_value").default)).to_numpy()
    limit, value = (readings[name].to_numpy(dtype=float) for name in ("limit", "value"))
    reach = np.where(limit == new, np.nan, limit - new)
    # Somewhere below a value: on a known side only of a limit that is no lower.
    below = np.where(value <= limit, np.where(reach > 0, -np.inf, np.inf), np.nan) + 0.0 * reach
    return np.where(readings[BELOW].to_numpy(dtype=bool), below, (value - new) / reach)


def _over_at_the_end(inspections: _Inspections) -> pd.DataFrame:
    """Of each life and feature that ends over the limit the first such inspection, the day `before` it and the `last`; by life and day."""
    begin = np.flatnonzero(inspections.begins)
    end = np.append(begin[1:], len(inspections.begins))[: len(begin)]
    # The first of those over the limit to the end stands behind the last that is not.
    within = np.where(inspections.over, -1, np.arange(len(inspections.over)))
    first = np.maximum(np.maximum.reduceat(within, begin) + 1, begin) if len(begin) else begin
    ends = end - first >= IN_A_ROW
    begin, end, first = begin[ends], end[ends], first[ends]
    names = ("life", "feature", "day", "value", "limit", "blank", "row", "source")
    over = pd.DataFrame({name: getattr(inspections, name)[first] for name in names})
    over["feature"], over["source"] = (pd.Series(over[name], dtype=object) for name in ("feature", "source"))
    before = np.where(first > begin, inspections.day[first - 1], np.nan)
    return over.assign(before=before, last=inspections.day[end - 1]).sort_values(["life", "day", "feature"], kind="stable")


def _with_worn(events: Events, place: Array, tool: Array, day: Array, last_good: Array) -> Events:
    worn: dict[str, Any] = {
        "tool": tool, "time": day, "cut": day, "kind": "worn", "cause": "", "last_good": last_good, "plant": -1, "renewed_share": 0.0,
        "due": np.nan, "preserved": np.nan,
    }  # fmt: skip
    return Events(**{name: np.insert(getattr(events, name), place, added) for name, added in worn.items()})


def _date(day: float) -> str:
    return str(np.datetime64(int(day), "D"))


def _where(seen: Mapping[Hashable, Any]) -> str:
    return (
        f"The readings of {seen['feature']} of {seen['tool_id']} are over their limit of {seen['limit']:g} from {_date(seen['day'])} "
        f"({seen['value']:g}) to {_date(seen['last'])}"
    )


def _finding(seen: Mapping[Hashable, Any], problem: str, repair: str) -> Finding:
    return Finding("readings", int(seen["row"]), "value", f"{seen['value']:g}", problem, repair, "note", str(seen["source"]))


def _read_as_worn(seen: Mapping[Hashable, Any], events: Events) -> Finding:
    closer = int(seen["closer"])
    if np.isfinite(seen["worn"]):
        until = f"before it was found worn on {_date(seen['worn'])}"
    elif closer >= 0:
        until = f"before it was {'retired' if events.kind[closer] == 'retire' else 'renewed'} on {_date(events.time[closer])}"
    else:
        until = "with no renewal since"
    problem = f"{_where(seen)}, {until}; it is taken to have worn out after {_date(seen['last_good'])} and by {_date(seen['day'])}."
    repair = "If its parts were still good, correct the readings or their limit; if it was renewed in between, add the event."
    return _finding(seen, problem, repair)


def _contradicted(seen: Mapping[Hashable, Any]) -> Finding:
    problem = f"{_where(seen)}, yet its parts were good on {_date(seen['good_until'])} by the events, which are believed."
    return _finding(seen, problem, "Correct last_good_on, or the readings or their limit.")


def _either_side(seen: Mapping[Hashable, Any]) -> Finding:
    problem = f"{_where(seen)} and were never within it, if they were 0 when new; as new_value is blank, nothing is made of it."
    return _finding(seen, problem, "Fill in new_value, 0 if that is right.")
