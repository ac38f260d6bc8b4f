"""Records made ready to calibrate on: cut at their day, turned into exposures, with all that was noticed on the way."""

import datetime as dt
from dataclasses import dataclass

import pandas as pd

from wearfit.errors import Refusal
from wearfit.exposures.build import build_exposures
from wearfit.exposures.live import LiveTools, build_live
from wearfit.exposures.table import Exposures
from wearfit.records.findings import Finding
from wearfit.records.records import Records
from wearfit.records.template_names import EXAMPLE


@dataclass(frozen=True)
class History:
    """What the records say of the tools up to a day.

    Parameters
    ----------
    day : date
        The as-of day.
    fingerprint : str
        Of the records up to that day.
    findings : tuple of Finding
        From putting the tables together and from the exposures; those of single files are with their upload.
    """

    day: dt.date
    fingerprint: str
    exposures: Exposures
    live: LiveTools
    findings: tuple[Finding, ...]


def history_of(records: Records, as_of: dt.date | None = None) -> History:
    """The history that records hold up to a day.

    Parameters
    ----------
    records : Records
        Not cut yet.
    as_of : date, optional
        The latest day in the records by default.

    Raises
    ------
    Refusal
        Where the records hold nothing by that day.
    """
    day = records.latest_day if as_of is None else as_of
    cut = records.as_of(day)
    for table, column, what in (("tools", "commissioned_on", "no tool was commissioned"), ("runs", "started_on", "no run had begun")):
        if cut.tables[table].empty:
            first = records.tables[table][column].min()
            repair = "Hand over more records." if pd.isna(first) else f"Choose a later day; the first is {first.date()}."
            raise Refusal(f"By {day} {what}, so there is nothing to calibrate on.", repair)
    exposures = build_exposures(cut)
    findings = (*records.findings, *_left_examples(records), *exposures.findings)
    return History(day, cut.fingerprint, exposures, build_live(cut, exposures), findings)


def _left_examples(records: Records) -> list[Finding]:
    """What to say where the template's example stands beside tools of the owner's own."""
    tools = records.tables["tools"]["tool_id"]
    examples = [tool for tool in tools if tool.startswith(EXAMPLE)]
    if not examples or len(examples) == len(tools):
        return []
    problem = f"{', '.join(examples)} of the template's example are among the tools and count as part of the fleet."
    repair = f"Delete the rows whose names begin with {EXAMPLE} in every sheet; if they are stored already, begin a new store."
    return [Finding("tools", None, "tool_id", examples[0], problem, repair, "note")]
