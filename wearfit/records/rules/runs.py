"""What a row of the runs table must say, and the shots it stands for."""

from typing import Final

import numpy as np
import pandas as pd

from wearfit.records.findings import Finding
from wearfit.records.frames import Frames
from wearfit.records.rules.events import retirement_days
from wearfit.records.rules.marking import Judged, by_tool, grouped, mark, of_tool, with_table
from wearfit.records.rules.paces import CADENCE_SLACK, GOOD_SHARE, SECONDS_PER_DAY, cycle_times, days_of, open_cavities, shots_of_parts

LONG_RUN_DAYS: Final = 366


def judge_runs(frames: Frames) -> Judged:
    """Reckon the shots of every run; set aside what cannot have been; note what is doubtful."""
    runs = frames["runs"]
    runs = runs.assign(
        open=open_cavities(frames, runs),
        cycle=cycle_times(frames, runs),
        commissioned_on=of_tool(frames, runs, "commissioned_on"),
        retired_on=by_tool(retirement_days(frames["events"]), runs),
    )
    from_parts = runs["shots"].isna()
    parts, scrap, cavities = (runs[name].to_numpy(dtype=float) for name in ("parts", "scrap_parts", "open"))
    reckoned = shots_of_parts(parts, scrap, np.where(np.isnan(cavities), 1.0, cavities))
    runs = runs.assign(shots=np.where(from_parts, reckoned, runs["shots"].to_numpy()))
    used, findings = _set_aside(runs)
    findings += _reckoned(used.loc[from_parts.reindex(used.index), ["scrap_parts", "open"]])
    findings += _doubtful(used)
    return with_table(frames, "runs", used[frames["runs"].columns]), findings


def _set_aside(runs: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
    reasons = (
        (
            runs["ended_on"] < runs["started_on"], "ended_on",
            "The run of {tool_id} ends on {ended_on}, before it starts on {started_on}.", "Correct one of the two days.",
        ),
        (runs["shots"].isna(), "shots", "Neither shots nor parts are filled in.", "Fill in one of them."),
        (runs["shots"] <= 0, "shots", "The run has made no shot.", "Correct the shots or the parts, or delete the row."),
        (
            runs["started_on"] < runs["commissioned_on"], "started_on",
            "The run starts on {started_on}, before tool {tool_id} was commissioned on {commissioned_on}.",
            "Correct started_on, or commissioned_on in the tools table.",
        ),
        (
            runs["started_on"] > runs["retired_on"], "started_on",
            "The run starts on {started_on}, after tool {tool_id} was retired on {retired_on}.",
            "Correct started_on, or the date of the retire in the events table.",
        ),
    )  # fmt: skip
    findings = []
    aside = pd.Series(False, index=runs.index)
    for fault, column, problem, repair in reasons:
        if fault.any():
            findings += mark("runs", runs[fault], column, problem, repair, "set_aside")
            aside |= fault
    return runs[~aside] if findings else runs, findings


def _reckoned(counted: pd.DataFrame) -> list[Finding]:
    """One note for the whole table on each figure that was taken for granted."""
    no_scrap, no_cavities = int(counted["scrap_parts"].isna().sum()), int(counted["open"].isna().sum())
    findings = []
    if no_scrap:
        problem = f"{_runs(no_scrap)} without scrap_parts: {100 * GOOD_SHARE:.0f} % of the parts are taken to have been good, a judgement."
        findings.append(Finding("runs", None, "scrap_parts", None, problem, "Fill in scrap_parts where it is known.", "note"))
    if no_cavities:
        problem = f"{_runs(no_cavities)} on tools without cavities: one part a shot is taken."
        findings.append(Finding("runs", None, "active_cavities", None, problem, "Fill in cavities in the tools table.", "note"))
    return findings


def _runs(count: int) -> str:
    return f"{count:,} run{'' if count == 1 else 's'} counted in parts {'is' if count == 1 else 'are'}"


def _doubtful(runs: pd.DataFrame) -> list[Finding]:
    days = days_of(runs)
    able = days * SECONDS_PER_DAY / runs["cycle"]
    over, long = runs["shots"] > able * CADENCE_SLACK, days > LONG_RUN_DAYS
    fast = runs[over]
    fast = fast.assign(days=days[over], made=[grouped(n) for n in fast["shots"]], able=[grouped(n) for n in able[over]])
    return [
        *mark(
            "runs", fast, "shots", "{made} shots in {days} days are more than the {able} that a cycle of {cycle} s allows.",
            "Check shots, days and cycle time; where the sheet counts parts, name the column parts.", "note",
        ),
        *mark(
            "runs", runs[long].assign(days=days[long]), "ended_on",
            "The run takes {days} days, from {started_on} to {ended_on}.",
            "Check the two days; split a run that has gone on so long.", "note",
        ),
        *mark(
            "runs", runs[runs["ended_on"] > runs["retired_on"]], "ended_on",
            "The run ends on {ended_on}, after tool {tool_id} was retired on {retired_on}.",
            "Correct ended_on, or the date of the retire in the events table.", "note",
        ),
    ]  # fmt: skip
