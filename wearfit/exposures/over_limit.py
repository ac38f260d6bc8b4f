"""Wear-outs that nobody wrote down, but readings show: over their limit twice in a row, with no renewal after.

One reading over the limit may be a fault of the process, and a worn surface does not heal. So what counts is the first of two or
more inspections over the limit with which the readings of a feature end in a life: the tool wore out between the inspection before
and that one.
"""

from collections.abc import Hashable, Mapping
from typing import Any, Final

import numpy as np
import pandas as pd

from wearfit.exposures.lives import closes
from wearfit.records.findings import Finding
from wearfit.records.frames import BELOW, ROW, SOURCE, to_frames
from wearfit.records.identity import Row, key_of
from wearfit.records.tables import TABLES

IN_A_ROW: Final = 2  # inspections over the limit
ROUNDING: Final = 1e-9  # of the way from new to the limit: a reading at its limit is not over it

_LIFE: Final = ["tool_id", "life"]
_SERIES: Final = [*_LIFE, "feature"]


def with_wear_seen(events: pd.DataFrame, readings: pd.DataFrame, tools: pd.DataFrame) -> tuple[pd.DataFrame, tuple[Finding, ...]]:
    """Add a `worn` to the events of each life whose readings end over their limit before it was found worn.

    Parameters
    ----------
    events, readings, tools : DataFrame
        Record tables, cut at the as-of day.

    Returns
    -------
    DataFrame
        The events, and a `worn` on the day of the first inspection over the limit; its `last_good_on` is the day of the inspection
        before, or on which the life began.
    tuple of Finding
        One a life. Where the events say that parts were good on that day or later, they are believed, and that is told.

    Notes
    -----
    Of several readings of a feature on one day the median counts. A reading of the day of a renewal was taken before it.
    """
    seen = _over_at_the_end(_inspections(events, readings))
    if seen.empty:
        return events, ()
    seen = seen.assign(**_what_events_say(events, tools, seen))
    seen = seen[~(seen["worn"] <= seen["date"])]
    believed = seen["good_until"] >= seen["date"]
    seen = seen.assign(last_good=seen[["before", "good_until"]].max(axis=1).fillna(seen["began"]))
    added = [
        _worn(str(tool), date, last_good)
        for tool, date, last_good in zip(*(seen.loc[~believed, name] for name in ("tool_id", "date", "last_good")), strict=True)
    ]
    told = [
        _contradicted(record) if against else _read_as_worn(record)
        for record, against in zip(seen.to_dict("records"), believed, strict=True)
    ]
    return pd.concat([events, to_frames(added)["events"]], ignore_index=True) if added else events, tuple(told)


def _inspections(events: pd.DataFrame, readings: pd.DataFrame) -> pd.DataFrame:
    """One row a tool, life, feature and day, in this order: the life's number, whether `over` the limit, and the first reading."""
    new = readings["new_value"].fillna(float(TABLES["readings"].column("new_value").default))
    reach = readings["limit"] - new
    way = (readings["value"] - new) / reach.where(reach != 0)
    # Somewhere below a value: not over a limit that is reached from below, whatever the value.
    way = way.mask(readings[BELOW].astype(bool) & (reach > 0), -np.inf)
    rows = readings.assign(way=way, life=_life_of(events, readings))[way.notna()].sort_values([*_SERIES, "date", ROW], kind="stable")
    by_day = rows.groupby([*_SERIES, "date"], sort=True)
    first = {name: (column, "first") for name, column in (("value", "value"), ("limit", "limit"), ("row", ROW), ("source", SOURCE))}
    each = by_day.agg(way=("way", "median"), **first).reset_index()
    return each.assign(over=each["way"] > 1.0 + ROUNDING)


def _life_of(events: pd.DataFrame, readings: pd.DataFrame) -> np.ndarray:
    """How often the tool had been renewed, in whole or in part, before the day of each reading, shape (reading,)."""
    count = np.zeros(len(readings), dtype=np.int64)
    renewals = _renewals(events)
    days = {str(tool): np.sort(dates.to_numpy()) for tool, dates in renewals.groupby("tool_id")["date"]}
    for tool, at in readings.groupby("tool_id").indices.items():
        if (own := days.get(str(tool))) is not None:
            count[at] = np.searchsorted(own, readings["date"].to_numpy()[at])
    return count


def _renewals(events: pd.DataFrame) -> pd.DataFrame:
    return events[closes(events["event"].to_numpy(), events["renewed_share"].to_numpy())]


def _over_at_the_end(inspections: pd.DataFrame) -> pd.DataFrame:
    """Of each life whose inspections of a feature end over the limit, the first of these, the day `before` it and the `last`."""
    by_series = [inspections[name] for name in _SERIES]
    to_the_end = inspections["over"][::-1].astype(int).groupby([key[::-1] for key in by_series], sort=False).cummin()[::-1].astype(bool)
    grouped = inspections.assign(to_the_end=to_the_end).groupby(_SERIES, sort=False)
    inspections = inspections.assign(
        in_a_row=grouped["to_the_end"].transform("sum"), before=grouped["date"].shift(), last=grouped["date"].transform("max")
    )
    ends = inspections[to_the_end & (inspections["in_a_row"] >= IN_A_ROW)]
    return ends.sort_values([*_LIFE, "date", "feature"], kind="stable").drop_duplicates(_LIFE)


def _what_events_say(events: pd.DataFrame, tools: pd.DataFrame, seen: pd.DataFrame) -> dict[str, list[Any]]:
    """Of each life its first day, the day on which it was found `worn`, and the last on which its parts were good; NaT where not said."""
    commissioned = tools.set_index("tool_id")["commissioned_on"]
    of_tool = dict(iter(events[events["tool_id"].isin(seen["tool_id"])].groupby("tool_id")))
    began, worn, good_until = [], [], []
    for tool, life in zip(seen["tool_id"], seen["life"], strict=True):
        own = of_tool.get(tool, events.iloc[:0])
        days = np.sort(_renewals(own)["date"].to_numpy())
        start = pd.Timestamp(days[life - 1]) if life else pd.NaT
        end = pd.Timestamp(days[life]) if life < len(days) else pd.Timestamp.max
        mine = own[(own["date"] <= end) & ~(own["date"] <= start)]
        began.append(start if life else commissioned[tool])
        worn.append(mine.loc[mine["event"] == "worn", "date"].min())
        good_until.append(mine["last_good_on"].max())
    return {"began": began, "worn": worn, "good_until": good_until}


def _worn(tool: str, date: pd.Timestamp, last_good: pd.Timestamp) -> Row:
    values = {"tool_id": tool, "date": str(date.date()), "event": "worn", "last_good_on": str(last_good.date())}
    return Row("events", key_of(TABLES["events"], values), 0, values, 0)


def _where(seen: Mapping[Hashable, Any]) -> str:
    return (
        f"The readings of {seen['feature']} of {seen['tool_id']} are over their limit of {seen['limit']:g} from {seen['date'].date()} "
        f"({seen['value']:g}) to {seen['last'].date()}"
    )


def _finding(seen: Mapping[Hashable, Any], problem: str, repair: str) -> Finding:
    return Finding("readings", int(seen["row"]), "value", f"{seen['value']:g}", problem, repair, "note", str(seen["source"]))


def _read_as_worn(seen: Mapping[Hashable, Any]) -> Finding:
    found = "with no renewal since" if pd.isna(seen["worn"]) else f"before it was found worn on {seen['worn'].date()}"
    problem = f"{_where(seen)}, {found}; it is taken to have worn out after {seen['last_good'].date()} and by {seen['date'].date()}."
    repair = "If its parts were still good, correct the readings or their limit; if it was renewed in between, add the event."
    return _finding(seen, problem, repair)


def _contradicted(seen: Mapping[Hashable, Any]) -> Finding:
    problem = f"{_where(seen)}, yet its parts were good on {seen['good_until'].date()} by the events, which are believed."
    return _finding(seen, problem, "Correct last_good_on, or the readings or their limit.")
