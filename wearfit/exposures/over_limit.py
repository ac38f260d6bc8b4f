"""Wear-outs that nobody wrote down, but readings show: over their limit twice in a row, with no renewal after.

One reading over the limit may be a fault of the process, and a worn surface does not heal. So what counts is the first of two or
more inspections over the limit with which the readings of a feature end in a life: the tool wore out between the inspection before
and that one. A modification that cuts part of the surface new ends no life, and may well have mended what was over its limit: then
later readings say so.
"""

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from wearfit.exposures.event_order import EventOrder
from wearfit.exposures.lives import RENEWALS, Events
from wearfit.exposures.timeline import days, positions
from wearfit.exposures.ways import IN_A_ROW, ROUNDING
from wearfit.records.findings import Finding
from wearfit.records.frames import BELOW, ROW, SOURCE
from wearfit.records.tables import TABLES

Array = np.ndarray

_SERIES: Final = ["life", "feature"]


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
    life = seen["life"].to_numpy()
    seen = seen.assign(
        tool_id=np.asarray(tool_ids, dtype=object)[lives.tool[life]], worn=lives.worn[life], good_until=lives.good_until[life],
        closer=lives.closer[life], last_good=np.fmax(np.fmax(seen["before"], lives.began[life]), lives.good_until[life]),
    )  # fmt: skip
    seen = seen[~(seen["worn"] <= seen["day"])]
    from_which_side = seen["blank"] & seen["before"].isna()
    believed = ~from_which_side & (seen["good_until"] >= seen["day"])
    found = seen[~from_which_side & ~believed].drop_duplicates("life")
    findings = [_read_as_worn(record, events) for record in found.to_dict("records")]
    findings += [_contradicted(record) for record in seen[believed].to_dict("records")]
    findings += [_either_side(record) for record in seen[from_which_side].to_dict("records")]
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


def _inspections(readings: pd.DataFrame, tool_ids: Sequence[str], lives: _Lives, events: Events, order: EventOrder) -> pd.DataFrame:
    """One row a life, feature and day, in this order, with the first of its readings and whether they are `over` the limit."""
    tool, day = positions(readings["tool_id"], tool_ids), days(readings["date"])
    renewed = np.concatenate([[0], np.cumsum(_renewals(events))])
    life = tool + renewed[order.place_of_worn(tool, day)]
    way = _way_to_limit(readings)
    used = ~np.isnan(way) & (day > lives.began[life]) & (day <= lives.retired[life])
    rows = readings.assign(way=way, life=life, day=day, blank=readings["new_value"].isna())[used]
    by_day = rows.sort_values([SOURCE, ROW], kind="stable").groupby([*_SERIES, "day"], sort=True)
    each = by_day.agg(
        way=("way", "median"), value=("value", "median"), limit=("limit", "first"), blank=("blank", "all"), row=(ROW, "first"),
        source=(SOURCE, "first"),
    ).reset_index()  # fmt: skip
    return each.assign(over=each["way"] > 1.0 + ROUNDING)


def _way_to_limit(readings: pd.DataFrame) -> Array:
    """Share of the way from new to the limit, shape (reading,); NaN where it says nothing of which side of the limit it is on."""
    new = readings["new_value"].fillna(float(TABLES["readings"].column("new_value").default)).to_numpy()
    limit, value = (readings[name].to_numpy(dtype=float) for name in ("limit", "value"))
    reach = np.where(limit == new, np.nan, limit - new)
    # Somewhere below a value: on a known side only of a limit that is no lower.
    below = np.where(value <= limit, np.where(reach > 0, -np.inf, np.inf), np.nan) + 0.0 * reach
    return np.where(readings[BELOW].to_numpy(dtype=bool), below, (value - new) / reach)


def _over_at_the_end(inspections: pd.DataFrame) -> pd.DataFrame:
    """Of each series that ends over the limit the first such inspection, the day `before` it and the `last`; by life and day."""
    backwards = inspections[::-1]
    to_the_end = backwards["over"].astype(int).groupby([backwards[name] for name in _SERIES], sort=False).cummin()[::-1].astype(bool)
    grouped = inspections.assign(to_the_end=to_the_end).groupby(_SERIES, sort=False)
    inspections = inspections.assign(
        in_a_row=grouped["to_the_end"].transform("sum"), before=grouped["day"].shift(), last=grouped["day"].transform("max")
    )
    ends = inspections[to_the_end & (inspections["in_a_row"] >= IN_A_ROW)]
    return ends.drop_duplicates(_SERIES).sort_values(["life", "day", "feature"], kind="stable")


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
