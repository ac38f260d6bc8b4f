"""Runs of one tool on the same days: at two plants, in two resins, beside itself, or faster than one tool can go."""

from collections.abc import Hashable, Mapping
from typing import Any, Final

import numpy as np
import pandas as pd

from wearfit.records.findings import Finding
from wearfit.records.frames import ROW, SOURCE, Frames, cells_by_row
from wearfit.records.rules.marking import Judged, counted, grouped, mark
from wearfit.records.rules.paces import CADENCE_SLACK, SECONDS_PER_DAY, cycle_times, days_of

ONE_FOR_ALL: Final = 5  # overlapping runs of one tool from which one finding tells them all
LARGEST: Final = 60  # runs on the same days of which every part is looked at; of more, all together alone
DAY: Final = np.timedelta64(1, "D")


def note_overlaps(frames: Frames) -> Judged:
    """Note runs that have one tool in two places, in two resins at one plant, twice in one place, or in two presses at once."""
    in_time = frames["runs"][["tool_id", "started_on", "ended_on", ROW]].sort_values(["tool_id", "started_on", ROW], kind="stable")
    shared = (_latest_end_before(in_time) > in_time["started_on"]).to_numpy()
    if not shared.any():
        return dict(frames), []
    # A stretch of days begins with a run that no earlier run of its tool still goes on beside.
    stretch = pd.Series(np.cumsum(~shared), index=in_time.index)
    stretch = stretch[stretch.isin(stretch[shared])]
    runs = frames["runs"].loc[stretch.index].assign(stretch=stretch, cycle=lambda some: cycle_times(frames, some), days=days_of)
    return dict(frames), [*_at_two_plants(runs), *_in_two_resins(runs), *_beside_itself(runs), *_too_fast(runs)]


def _latest_end_before(runs: pd.DataFrame) -> pd.Series:
    """Latest last day of the tool's earlier runs, shape (run,), blank where there is none."""
    before = runs["ended_on"].where(runs["ended_on"] >= runs["started_on"]).groupby(runs["tool_id"], sort=False)
    return before.cummax().groupby(runs["tool_id"], sort=False).shift()


def _beside(runs: pd.DataFrame, column: str) -> pd.Series:
    """Another value of a column in which the tool is still running after each run's first day, shape (run,); "" for none.

    A tool that ends at one plant and starts at the next on the same day was moved on that day.
    """
    beside = np.full(len(runs), "", dtype=object)
    ends: dict[str, np.datetime64] = {}
    stretch = None
    rows = zip(runs["stretch"], runs[column], runs["started_on"].to_numpy(), runs["ended_on"].to_numpy(), strict=True)
    for i, (of, value, started, ended) in enumerate(rows):
        if of != stretch:
            stretch, ends = of, {}
        beside[i] = next((other for other, end in ends.items() if other != value and end > started), "")
        ends[value] = max(ended, ends.get(value, ended))
    return pd.Series(beside, index=runs.index, dtype=object)


def _at_two_plants(runs: pd.DataFrame) -> list[Finding]:
    several = runs.groupby("stretch")["plant_id"].transform("nunique") > 1
    if not several.any():
        return []
    runs = runs[several].assign(elsewhere=_beside(runs[several], "plant_id"))
    return _said(
        runs[runs["elsewhere"] != ""], "started_on",
        "Tool {tool_id} runs at {plant_id} from {started_on} while another run has it at {elsewhere}{more}.",
        "Correct the days or the plant of one of the two; where two tools share the number, give each its own.",
    )  # fmt: skip


def _in_two_resins(runs: pd.DataFrame) -> list[Finding]:
    at_plant = runs.assign(stretch=runs.groupby(["stretch", "plant_id"], sort=False).ngroup())
    several = at_plant.groupby("stretch")["resin_id"].transform("nunique") > 1
    if not several.any():
        return []
    at_plant = at_plant[several].sort_values(["stretch", "started_on", ROW], kind="stable")
    at_plant = at_plant.assign(beside=_beside(at_plant, "resin_id"))
    at_plant = at_plant[at_plant["beside"] != ""]
    tools = at_plant["tool_id"].nunique()
    if tools <= ONE_FOR_ALL:
        return _said(
            at_plant, "resin_id",
            "Tool {tool_id} runs {resin_id} at {plant_id} from {started_on} while another run has it in {beside}{more}.",
            "Nothing, where the days are those of an order or a month; else correct them. The shots are spread over the days of each run.",
        )  # fmt: skip
    problem = f"{counted(len(at_plant), 'run')} of {tools:,} tools go on while another run has the tool in another resin at the same plant."
    repair = "Nothing, where the days are those of an order or a month; else correct them. The shots are spread over the days of each run."
    return [Finding("runs", None, "resin_id", None, problem, repair, "note")]


def _beside_itself(runs: pd.DataFrame) -> list[Finding]:
    """Runs of one tool, plant and resin that share days. What is one run for certain was set aside before; these may be."""
    runs = runs.assign(stretch=runs.groupby(["stretch", "plant_id", "resin_id"], sort=False).ngroup())
    runs = runs.sort_values(["stretch", "started_on", ROW], kind="stable")
    ends = runs["ended_on"].where(runs["ended_on"] >= runs["started_on"]).groupby(runs["stretch"], sort=False)
    until = ends.cummax().groupby(runs["stretch"], sort=False).shift()
    # Two of one first day have one key, and the reading of the sheet has told of them.
    same_key = runs["started_on"] == runs.groupby("stretch", sort=False)["started_on"].shift()
    runs = runs.assign(until=until)[(until > runs["started_on"]) & ~same_key]
    if runs.empty:
        return []
    repair = (
        "Delete the row if its shots are in the other one too; else nothing, where the days are those of an order, or correct the days."
    )
    tools = runs["tool_id"].nunique()
    if tools <= ONE_FOR_ALL:
        return _said(
            runs, "started_on",
            "Tool {tool_id} runs {resin_id} at {plant_id} from {started_on} while an earlier run of the same goes on to {until}{more}; "
            "both count.", repair,
        )  # fmt: skip
    problem = f"{counted(len(runs), 'run')} of {tools:,} tools go on while another run has the tool in the same resin at the same plant."
    return [Finding("runs", None, "started_on", None, f"{problem} All count.", repair, "note")]


def _said(runs: pd.DataFrame, column: str, problem: str, repair: str) -> list[Finding]:
    """One finding a run, or one a tool that names the first of many."""
    if runs.empty:
        return []
    alike = runs.groupby("tool_id")["tool_id"].transform("size")
    findings = mark("runs", runs[alike < ONE_FOR_ALL].assign(more=""), column, problem, repair, "note")
    for tool, rows in runs[alike >= ONE_FOR_ALL].groupby("tool_id", sort=True):
        (said,) = mark("runs", rows.head(1).assign(more=f", as do {len(rows) - 1:,} later runs of it"), column, problem, repair, "note")
        findings.append(Finding("runs", None, column, str(tool), said.problem, said.repair, "note", said.source))
    return findings


def _too_fast(runs: pd.DataFrame) -> list[Finding]:
    """One finding a tool whose runs together make more than one tool can, each by itself being possible."""
    busy = runs["shots"] * runs["cycle"] / SECONDS_PER_DAY
    runs = runs.assign(busy=busy, share=busy / runs["days"])
    runs = runs[runs["share"] <= CADENCE_SLACK]
    if runs.empty:
        return []
    whole = runs.groupby("stretch").agg(
        share=("share", "sum"), busy=("busy", "sum"), first=("started_on", "min"), last=("ended_on", "max"), size=("busy", "size")
    )  # fmt: skip
    full = (whole["size"] > 1) & (whole["busy"] > CADENCE_SLACK * ((whole["last"] - whole["first"]).dt.days + 1))
    # Two runs are both in no other days than the whole; of more, some may be crowded into a part of them.
    in_part = ~full & (whole["size"] > 2) & (whole["share"] > CADENCE_SLACK)
    parts = (_overfull(rows) for _, rows in runs[runs["stretch"].isin(whole.index[in_part])].groupby("stretch"))
    if not (full | in_part).any():
        return []
    crowded = pd.concat([runs[runs["stretch"].isin(whole.index[full])], *(part for part in parts if part is not None)])
    times = crowded.groupby(["tool_id", "stretch"], sort=True).agg(
        runs=("shots", "size"), shots=("shots", "sum"), first=("started_on", "min"), last=("ended_on", "max"),
        cycle=("cycle", "median"), source=(SOURCE, "first"),
    )  # fmt: skip
    times = times.reset_index().sort_values(["tool_id", "first"], ignore_index=True)
    times = times.assign(again=times.groupby("tool_id")["first"].transform("size") - 1)
    return [_shared_number(record) for record in cells_by_row(times.drop_duplicates("tool_id"))]


def _overfull(runs: pd.DataFrame) -> pd.DataFrame | None:
    """The runs within those days of a stretch in which most is asked of the tool, None where it is not too much."""
    if len(runs) > LARGEST:
        return None
    start, end, busy = (runs[name].to_numpy() for name in ("started_on", "ended_on", "busy"))
    firsts, lasts = np.unique(start), np.unique(end)
    inside = (start >= firsts[:, None, None]) & (end <= lasts[None, :, None])
    days = (lasts[None, :] - firsts[:, None]) / DAY + 1.0
    asked = (inside * busy).sum(axis=2) / np.where(days > 0, days, np.inf)
    asked[inside.sum(axis=2) < 2] = 0.0
    worst = np.unravel_index(np.argmax(asked), asked.shape)
    return runs[inside[worst]] if asked[worst] > CADENCE_SLACK else None


def _shared_number(times: Mapping[Hashable, Any]) -> Finding:
    started, ended = times["first"].date(), times["last"].date()
    able = ((ended - started).days + 1) * SECONDS_PER_DAY / times["cycle"]
    again = f", and so {counted(int(times['again']), 'other time')}" if times["again"] else ""
    tool = str(times["tool_id"])
    problem = (
        f"{times['runs']:,} runs of tool {tool} from {started} to {ended} make {grouped(times['shots'])} shots together, more than the "
        f"{grouped(able)} that one tool can make in these days{again}; two tools may share this number."
    )
    repair = "Give each tool a number of its own and a row in the tools table, or correct the days and the shots."
    return Finding("runs", None, "tool_id", tool, problem, repair, "note", str(times["source"]))
