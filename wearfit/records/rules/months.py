"""Runs whose days are all the first of a month: months that a spreadsheet made days of."""

from typing import Final

import pandas as pd

from wearfit.records.findings import Finding
from wearfit.records.frames import ROW, SOURCE, Frames
from wearfit.records.rules.marking import Judged, counted, first_rows, with_table

LEAST_RUNS: Final = 3  # with as many months among their days; by chance one time in a thousand million
_LIST: Final = "list"


def read_months(frames: Frames) -> Judged:
    """Let runs whose days are months end on the last day of their last month.

    A list of runs is one file or sheet, or what one plant wrote in it, for plants keep their own habits.

    Notes
    -----
    From 1 March to 1 March is March and no run of a day, where all other runs are like it. Where no run ends in the month in which
    it starts, its end may be the day after its last: from 1 March to 1 April is then March too. Both are told, and such runs are
    used as they stand.
    """
    first = _on_the_first(frames["runs"])
    alike = first.groupby([frames["runs"][SOURCE], frames["runs"]["plant_id"]], sort=False).transform("all")
    if int(alike.sum()) < LEAST_RUNS:
        return dict(frames), []
    whole = first.groupby(frames["runs"][SOURCE]).transform("all")
    runs = frames["runs"][alike]
    lists = runs[SOURCE].where(whole[alike], runs[SOURCE] + "\n" + runs["plant_id"])
    runs = runs.assign(**{_LIST: lists}, short=runs["started_on"] == runs["ended_on"])
    months = runs.groupby(_LIST).agg(
        rows=("short", "size"),
        starts=("started_on", "nunique"),
        ends=("ended_on", "nunique"),
        short=("short", "any"),
    )
    are_months = (months["rows"] >= LEAST_RUNS) & (months[["starts", "ends"]].max(axis=1) >= LEAST_RUNS)
    sure = lists.isin(months.index[are_months & months["short"]])
    open_ = lists.isin(months.index[are_months & ~months["short"]])
    read = runs.loc[sure, "ended_on"] + pd.offsets.MonthEnd(0)
    findings = [*_read(runs[sure].assign(read=read)), *_doubtful(runs[open_])]
    ends = frames["runs"]["ended_on"].copy()
    ends[read.index] = read
    return with_table(frames, "runs", frames["runs"].assign(ended_on=ends)), findings


def _on_the_first(runs: pd.DataFrame) -> pd.Series:
    """Whether each run starts and ends on the first of a month, shape (run,)."""
    return (runs["started_on"].dt.day == 1) & (runs["ended_on"].dt.day == 1) & (runs["ended_on"] >= runs["started_on"])


def _read(runs: pd.DataFrame) -> list[Finding]:
    findings = []
    for source, rows in runs.groupby(SOURCE, sort=True):
        row, ended, read = _first(rows, "read")
        problem = (
            f"Every day of {counted(len(rows), 'run')}{_where(rows)} is the first of a month, as where months are typed; they are taken to "
            f"end on the last day of the month, as in row {row}, where {ended} is read as {read}."
        )
        repair = "Nothing needs doing if that is right; if not, or if the days are known, write the day on which each run ended."
        findings.append(Finding("runs", None, "ended_on", ended, problem, repair, "repaired", str(source)))
    return findings


def _doubtful(runs: pd.DataFrame) -> list[Finding]:
    findings = []
    for source, rows in runs.groupby(SOURCE, sort=True):
        row, ended, _ = _first(rows, "ended_on")
        problem = (
            f"Every day of {counted(len(rows), 'run')}{_where(rows)} is the first of a month; {ended} in row {row} may stand for the whole "
            f"month or be the day after the run. They are used as they stand."
        )
        repair = "Write the last day of each run."
        findings.append(Finding("runs", None, "ended_on", ended, problem, repair, "note", str(source)))
    return findings


def _first(rows: pd.DataFrame, column: str) -> tuple[int, str, str]:
    first = rows.sort_values(ROW).iloc[0]
    return int(first[ROW]), str(first["ended_on"].date()), str(first[column].date())


def _where(rows: pd.DataFrame) -> str:
    """The plants whose runs they are, where not the whole sheet is."""
    plants = [] if (rows[_LIST] == rows[SOURCE]).all() else list(first_rows(rows, "plant_id"))
    return f" at {', '.join(plants[:3])}{' and elsewhere' if len(plants) > 3 else ''}" if plants else ""
