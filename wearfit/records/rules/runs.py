"""What a row of the runs table must say, and the shots it stands for."""

import pandas as pd

from wearfit.records.findings import Finding
from wearfit.records.frames import ROW, Frames
from wearfit.records.rules.events import retirement_days
from wearfit.records.rules.marking import Judged, by_tool, grouped, mark, of_tool, with_table

GOOD_SHARE = 0.97  # good parts in all parts where the scrap is not recorded; judgement
CADENCE_SLACK = 1.02  # shots may pass what the cycle time allows by this much before they are doubted: cycle times are rounded; judgement
LONG_RUN_DAYS = 366
SECONDS_PER_DAY = 86_400


def judge_runs(frames: Frames) -> Judged:
    """Reckon the shots of every run; set aside what cannot have been; note what is doubtful."""
    runs = frames["runs"]
    runs = runs.assign(
        tool_cavities=of_tool(frames, runs, "cavities"),
        usual_cycle_s=of_tool(frames, runs, "cycle_time_s"),
        commissioned_on=of_tool(frames, runs, "commissioned_on"),
        retired_on=by_tool(retirement_days(frames["events"]), runs),
    )
    from_parts = runs["shots"].isna()
    runs = runs.assign(shots=runs["shots"].fillna(_shots_of_parts(runs)))
    used, findings = _set_aside(runs)
    findings += _reckoned(used, from_parts)
    findings += _doubtful(used)
    return with_table(frames, "runs", used[frames["runs"].columns]), findings


def _shots_of_parts(runs: pd.DataFrame) -> pd.Series:
    cavities = runs["active_cavities"].fillna(runs["tool_cavities"]).fillna(1.0)
    made = (runs["parts"] + runs["scrap_parts"]).fillna(runs["parts"] / GOOD_SHARE)
    return made / cavities


def _set_aside(runs: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
    reasons = (
        (
            runs["ended_on"] < runs["started_on"], "ended_on",
            "The run ends on {ended_on}, before it starts on {started_on}.", "Correct one of the two days.",
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
        findings += mark("runs", runs[fault], column, problem, repair, "set_aside")
        aside |= fault
    return runs[~aside], findings


def _reckoned(runs: pd.DataFrame, from_parts: pd.Series) -> list[Finding]:
    """One note for the whole table on each figure that was taken for granted."""
    counted = runs[from_parts.reindex(runs.index)]
    no_scrap = counted["scrap_parts"].isna()
    no_cavities = counted["active_cavities"].isna() & counted["tool_cavities"].isna()
    findings = []
    if no_scrap.any():
        problem = f"{_runs(no_scrap)} without scrap_parts: {GOOD_SHARE:.0%} of the parts are taken to have been good, a judgement."
        findings.append(Finding("runs", None, "scrap_parts", None, problem, "Fill in scrap_parts where it is known.", "note"))
    if no_cavities.any():
        problem = f"{_runs(no_cavities)} on tools without cavities: one part a shot is taken."
        findings.append(Finding("runs", None, "active_cavities", None, problem, "Fill in cavities in the tools table.", "note"))
    return findings


def _runs(which: pd.Series) -> str:
    count = int(which.sum())
    return f"{count:,} run{'' if count == 1 else 's'} counted in parts {'is' if count == 1 else 'are'}"


def _doubtful(runs: pd.DataFrame) -> list[Finding]:
    days = (runs["ended_on"] - runs["started_on"]).dt.days + 1
    cycle = runs["cycle_time_s"].fillna(runs["usual_cycle_s"])
    able = days * SECONDS_PER_DAY / cycle
    runs = runs.assign(
        days=days, cycle=cycle, made=[grouped(n) for n in runs["shots"]], able=[grouped(n) for n in able], elsewhere=_overlaps(runs)
    )
    return [
        *mark(
            "runs", runs[runs["shots"] > able * CADENCE_SLACK], "shots",
            "{made} shots in {days} days are more than the {able} that a cycle of {cycle} s allows.",
            "Check shots, days and cycle time; where the sheet counts parts, name the column parts.", "note",
        ),
        *mark(
            "runs", runs[runs["elsewhere"] != ""], "started_on",
            "Tool {tool_id} runs at {plant_id} from {started_on} while another run has it at {elsewhere}.",
            "Correct the days or the plant of one of the two.", "note",
        ),
        *mark(
            "runs", runs[runs["active_cavities"] > runs["tool_cavities"]], "active_cavities",
            "{active_cavities} cavities were open, but tool {tool_id} has {tool_cavities}.",
            "Correct active_cavities, or cavities in the tools table.", "note",
        ),
        *mark(
            "runs", runs[days > LONG_RUN_DAYS], "ended_on", "The run takes {days} days, from {started_on} to {ended_on}.",
            "Check the two days; split a run that has gone on so long.", "note",
        ),
        *mark(
            "runs", runs[runs["ended_on"] > runs["retired_on"]], "ended_on",
            "The run ends on {ended_on}, after tool {tool_id} was retired on {retired_on}.",
            "Correct ended_on, or the date of the retire in the events table.", "note",
        ),
    ]  # fmt: skip


def _overlaps(runs: pd.DataFrame) -> list[str]:
    """Another plant at which the tool is still running after each run's first day there, shape (run,); "" for none.

    A tool that ends at one plant and starts at the next on the same day was moved on that day.
    """
    elsewhere = pd.Series("", index=runs.index, dtype=object)
    ends: dict[str, pd.Timestamp] = {}
    tool = None
    ordered = runs.sort_values(["tool_id", "started_on", ROW])
    rows = zip(ordered.index, ordered["tool_id"], ordered["plant_id"], ordered["started_on"], ordered["ended_on"], strict=True)
    for index, name, plant, started, ended in rows:
        if name != tool:
            tool, ends = name, {}
        others = [other for other, end in ends.items() if other != plant and end > started]
        if others:
            elsewhere[index] = others[0]
        ends[plant] = max(ended, ends.get(plant, ended))
    return list(elsewhere)
