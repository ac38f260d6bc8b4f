"""The records in use: typed tables, what was noticed, and the one place where time is cut."""

import datetime as dt
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import pandas as pd

from wearfit.errors import Refusal
from wearfit.records.findings import Finding
from wearfit.records.frames import canonical_order, row_texts
from wearfit.records.same_again import same_again
from wearfit.records.tables import TABLES

AT_A_TIME: Final = 100_000  # rows that are written out together
DATED_BY: Final = {"runs": "ended_on", "counter": "date", "events": "date", "readings": "date"}  # the day on which a row was known


@dataclass(frozen=True)
class Records:
    """What is used of the records.

    Parameters
    ----------
    tables : mapping of str to DataFrame
        Every table of TABLES, typed and ordered as `frames.to_frames` says; `runs.shots` is filled in every row. Rows
        that were set aside are not there.
    findings : tuple of Finding
        From putting the tables together; those of one file are with its upload.
    as_of_day : date or None
        Day at which time was cut, None where it was not.
    """

    tables: Mapping[str, pd.DataFrame]
    findings: tuple[Finding, ...]
    as_of_day: dt.date | None = None

    @property
    def latest_day(self) -> dt.date:
        """Latest day of any run, event, reading or counter reading; Refusal where there is none."""
        days = pd.concat([self.tables[name][column] for name, column in DATED_BY.items()])
        if days.empty:
            raise Refusal("The records hold no run and no event that can be used.", "Hand over the runs and the events.")
        return pd.Timestamp(days.max()).date()

    @property
    def fingerprint(self) -> str:
        """SHA-256, in hexadecimal, of all that is used.

        The order of rows, the files they came in and columns that wearfit does not know play no part.
        """
        total = hashlib.sha256()
        for name in TABLES:
            frame = self.tables[name]
            for first in range(0, len(frame), AT_A_TIME):
                total.update(_written(name, frame if len(frame) <= AT_A_TIME else frame.iloc[first : first + AT_A_TIME]))
        return total.hexdigest()

    def as_of(self, day: dt.date) -> "Records":
        """The records as they could have been written at the end of a day.

        Parameters
        ----------
        day : date

        Returns
        -------
        Records
            Without tools commissioned later and their rows, runs and events begun later, and readings taken later. A run
            that goes on past the day is cut in proportion to its days, both ends counted. A return to service that lay
            ahead is not known; the due day of an order is. Plan, bill, aliases, plants and resins stay; so does the
            climate, which stands for the weather to be expected.

        Raises
        ------
        ValueError
            Where the records were cut at an earlier day and cannot say what came after it.
        """
        if self.as_of_day is not None and day > self.as_of_day:
            raise ValueError(f"records cut at {self.as_of_day} say nothing of {day}")
        now = np.datetime64(day, "s")
        cut = dict(self.tables)
        tools = cut["tools"]
        later = set(tools.loc[tools["commissioned_on"] > now, "tool_id"])
        for name in ("tools", "runs", "counter", "events", "readings", "plan") if later else ():
            cut[name] = cut[name][~cut[name]["tool_id"].isin(later)]
        for name in ("counter", "events", "readings"):
            cut[name] = _those(cut[name], cut[name]["date"] <= now)
        cut["runs"] = _cut_runs(cut["runs"], now)
        events = cut["events"]
        if (events["back_on"] > now).any():
            cut["events"] = events.assign(back_on=events["back_on"].where(events["back_on"] <= now))
        tables = {name: _in_order(name, frame) for name, frame in cut.items()}
        return replace(self, tables=tables, as_of_day=day)


@same_again
def _in_order(name: str, frame: pd.DataFrame) -> pd.DataFrame:
    return canonical_order(TABLES[name], frame)


@same_again
def _written(name: str, frame: pd.DataFrame) -> bytes:
    """A table in the canonical text that its fingerprint is of."""
    return "".join(["\x1f".join((name, *cells)) + "\x1e" for cells in row_texts(TABLES[name], frame)]).encode()


def _those(frame: pd.DataFrame, which: pd.Series) -> pd.DataFrame:
    """Some rows of a frame; itself where they are all."""
    return frame if which.all() else frame[which]


def _cut_runs(runs: pd.DataFrame, now: np.datetime64) -> pd.DataFrame:
    runs = _those(runs, runs["started_on"] <= now)
    past = runs["ended_on"] > now
    if not past.any():
        return runs
    days = (runs["ended_on"] - runs["started_on"]).dt.days + 1
    days_to_now = (pd.Timestamp(now) - runs["started_on"]).dt.days + 1
    share = (days_to_now / days).where(past, 1.0)
    # The first set-up is where the run starts, so no cut takes it away.
    setups = np.maximum(np.minimum(runs["setups"], 1.0), runs["setups"] * share)
    return runs.assign(
        shots=runs["shots"] * share,
        parts=runs["parts"] * share,
        scrap_parts=runs["scrap_parts"] * share,
        setups=setups,
        ended_on=runs["ended_on"].where(~past, now),
    )
