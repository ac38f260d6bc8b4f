"""What is said of a count that may count the other thing: both readings, the evidence, and how to decide."""

from collections.abc import Hashable, Mapping, Sequence
from typing import Any, Final

import pandas as pd

from wearfit.records.cells import number_text
from wearfit.records.choices import Choices
from wearfit.records.findings import Finding, Severity, listed
from wearfit.records.frames import ROW
from wearfit.records.rules.marking import counted, grouped, source_of
from wearfit.records.rules.paces import SECONDS_PER_DAY

OTHER: Final = {"shots": "parts", "parts": "shots"}


def said_of_run(run: Mapping[Hashable, Any], changed: bool) -> Finding:
    """The finding on one run.

    Parameters
    ----------
    run : mapping
        A row of the judged runs, with `given`, `written`, `other`, `days`, `open`, `cycle`, `usual`, `others` and `stands_under`.
    changed : bool
        Whether the other reading is used.
    """
    under = str(run["stands_under"])
    other = OTHER[under]
    count, cavities = grouped(run["given"]), number_text(float(run["open"]))
    readings = {under: grouped(run["written"]), other: grouped(run["other"])}
    used = f"{readings[other]} are used" if changed else f"{readings[under]} are used, as written"
    problem = (
        f"{count} under {under} {'look like' if changed else 'may be'} {other}: {_evidence(run)}. Counted in parts of {cavities} cavities "
        f"they are {readings['parts']} shots, counted in shots {readings['shots']}; {used}."
    )
    repair = f"{_decide(str(run['tool_id']), str(run['plant_id']), under)} Or move the number to the column {other}."
    severity: Severity = "repaired" if changed else "note"
    return Finding("runs", int(run[ROW]), under, number_text(float(run["given"])), problem, repair, severity, source_of(run))


def _evidence(run: Mapping[Hashable, Any]) -> str:
    told = []
    able = run["days"] * SECONDS_PER_DAY / run["cycle"]
    if able > 0:
        shares = f"{100 * run['written'] / able:.0f} %, or {100 * run['other'] / able:.0f} % read the other way"
        told.append(f"in {of_days(run['days'])} that is {shares}, of what a cycle of {number_text(float(run['cycle']))} s allows")
    if run["others"] > 0:
        daily = run["written"] / run["days"]
        told.append(f"a day it is {_times(daily / run['usual'])} the usual {grouped(run['usual'])} shots of tool {run['tool_id']}")
    return "; ".join(told)


def of_days(days: float) -> str:
    return "one day" if days == 1 else f"{grouped(days)} days"


def _times(ratio: float) -> str:
    return f"{ratio:.2g} times" if ratio < 10 else f"{grouped(ratio)} times"


def _decide(tool: str, plant: str, counted_in: str) -> str:
    place = f"plant_id = '{plant}', " if plant else ""
    entry = f"tool_id = '{tool}', {place}counted_in = '{counted_in}'"
    return f"If they are {counted_in} after all, write in the choices under [[counts]] {entry}."


def said_of_group(runs: pd.DataFrame, names: Sequence[str], judged: int) -> Finding:
    """The finding on all runs of a plant, a tool or a tool at a plant that were changed, `judged` of them in all."""
    under = str(runs["stands_under"].iloc[0])
    other = OTHER[under]
    tools = sorted(runs["tool_id"].unique())
    plant = str(runs["plant_id"].iloc[0]) if "plant_id" in names else ""
    tool = f"tool {tools[0]}" if "tool_id" in names else f"{len(tools):,} tools"
    where = f" at {plant}" if plant else ""
    how_many = f"All {judged:,}" if len(runs) == judged else f"{len(runs):,} of {judged:,}"
    faster = (runs["written"] / runs["days"] / runs["usual"]).median()
    able = runs["days"] * SECONDS_PER_DAY / runs["cycle"]
    half = (runs["written"] / able).median()
    shares = f"; half of them would take {100 * half:.0f} % or more of what the cycle time allows" if able.notna().any() else ""
    written, read = grouped(runs["written"].sum()), grouped(runs["other"].sum())
    problem = (
        f"{how_many} runs of {tool}{where} whose count stands under {under} look like {other}: against runs read right they go at "
        f"{_times(float(faster))} the pace{shares}. They make {written} shots as written and {read} as {other}; {read} are used."
    )
    repair = (
        f"{_decide(str(tools[0]), plant, under)}{' The same for each tool.' if len(tools) > 1 else ''} "
        f"Or hand the counts over in the column {other}."
    )
    first = runs.sort_values(ROW).iloc[0]
    value = plant if "tool_id" not in names else str(tools[0])
    return Finding("runs", None, under, value, problem, repair, "repaired", source_of(first.to_dict()))


def said_of_choices(runs: pd.DataFrame, decided: pd.Series, moved: pd.Series, choices: Choices) -> list[Finding]:
    """One note a tool that the choices speak of, and one for each that has no run."""
    if not choices.counts:
        return []
    findings = []
    theirs = runs.assign(decided=decided, moved=moved)[decided != ""]
    for (tool, word), rows in theirs.groupby(["tool_id", "decided"], sort=True):
        plants = listed(sorted(rows["plant_id"].unique()))
        count = int(rows["moved"].sum())
        done = f"{counted(count, 'run')} given under {OTHER[str(word)]} changed" if count else "they were given so"
        problem = f"By your choice the counts of tool {tool} at {plants} are {word}; {done}."
        findings.append(Finding("runs", None, str(word), str(tool), problem, "Nothing needs doing.", "note"))
    for tool in sorted({choice.tool_id for choice in choices.counts} - set(theirs["tool_id"])):
        problem = f"The choices say what the counts of tool {tool} are, but no run fits."
        findings.append(Finding("runs", None, "tool_id", tool, problem, "Correct the tool_id or plant_id in the choices.", "note"))
    return findings
