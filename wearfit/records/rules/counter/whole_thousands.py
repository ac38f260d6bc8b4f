"""Files of counter readings that are kept in thousands throughout."""

from typing import Final

import numpy as np
import pandas as pd

from wearfit.records.findings import Finding
from wearfit.records.frames import SOURCE, Frames
from wearfit.records.rules.counter.made import MadeBy
from wearfit.records.rules.counter.readings import whole_days
from wearfit.records.rules.counter.reconcile import LEAST_IN_THOUSANDS, THOUSAND, agree
from wearfit.records.rules.marking import Judged, counted, grouped, with_table
from wearfit.records.rules.paces import open_cavities, shots_of_parts

Array = np.ndarray

NEAR: Final = 3.0  # runs over counter lie within this of a thousand: runs may be missing, dry shots are not in them; judgement
HIGHEST: Final = 100_000  # a reading above it, in thousands, would be more shots than any mould makes; judgement
TOOLS: Final = 2  # so many tools tell it, or one whose counter and runs agree


def read_counters_in_thousands(frames: Frames) -> Judged:
    """Read all counters of a file a thousandfold where every tool's runs show about a thousand times what its counter shows.

    Parameters
    ----------
    frames : Frames
        After counts were judged, before the runs of tools without any are reckoned from their counters: their counters
        stand in the same file and are in thousands too.

    Returns
    -------
    Judged
        One finding a file.
    """
    counter = frames["counter"]
    if counter.empty or frames["runs"].empty or counter["counter_shots"].min() > HIGHEST:
        return dict(frames), []
    told = _ratios(frames)
    findings: list[Finding] = []
    in_thousands = pd.Series(False, index=counter.index)
    for source, rows in counter.groupby(SOURCE, sort=True):
        tools = told.reindex(rows["tool_id"].unique()).dropna()
        near = (tools["ratio"] >= THOUSAND / NEAR) & (tools["ratio"] <= THOUSAND * NEAR)
        enough = len(tools) >= TOOLS or agree(tools["ratio"].to_numpy() / THOUSAND).any()
        if tools.empty or not near.all() or not enough or rows["counter_shots"].max() > HIGHEST:
            continue
        in_thousands[rows.index] = True
        problem = (
            f"The counters of {counted(len(tools), 'tool')} with runs rise by {grouped(tools['rise'].sum())} while the runs show "
            f"{grouped(tools['by_runs'].sum())} shots; all {counted(len(rows), 'reading')} of the file are read as thousands."
        )
        repair = "Write the whole number of shots, or 'Counter [k]' above the column."
        findings.append(Finding("counter", None, "counter_shots", None, problem, repair, "repaired", str(source)))
    if not findings:
        return dict(frames), []
    shots = counter["counter_shots"].where(~in_thousands, counter["counter_shots"] * THOUSAND)
    return with_table(frames, "counter", counter.assign(counter_shots=shots)), findings


def _ratios(frames: Frames) -> pd.DataFrame:
    """By tool: how far its counter rises from its first reading to its last, what its runs show in that time, and their ratio."""
    readings = frames["counter"].sort_values(["tool_id", "date"], kind="stable")
    step = readings.groupby("tool_id")["counter_shots"].diff()
    of_tool = readings.assign(rise=step.clip(lower=0.0)).groupby("tool_id").agg(
        rise=("rise", "sum"), first=("date", "min"), last=("date", "max")
    )  # fmt: skip
    runs = frames["runs"]
    runs = runs[runs["started_on"].notna() & (runs["ended_on"] >= runs["started_on"])]
    cavities = open_cavities(frames, runs).fillna(1.0).to_numpy()
    reckoned = shots_of_parts(runs["parts"].to_numpy(dtype=float), runs["scrap_parts"].to_numpy(dtype=float), cavities)
    shots = runs["shots"].fillna(pd.Series(reckoned, index=runs.index)).fillna(0.0)
    at = pd.Series(np.arange(len(of_tool)), index=of_tool.index)
    which = runs["tool_id"].isin(at.index)
    runs, shots = runs[which], shots[which]
    made = MadeBy(
        at.reindex(runs["tool_id"]).to_numpy(dtype=np.int64), whole_days(runs["started_on"].to_numpy()),
        whole_days(runs["ended_on"].to_numpy()), shots.to_numpy(dtype=float),
    )  # fmt: skip
    by_runs: Array = made.between(at.to_numpy(), whole_days(of_tool["first"].to_numpy()) + 1, whole_days(of_tool["last"].to_numpy()))
    of_tool = of_tool.assign(by_runs=by_runs)
    of_tool = of_tool[(of_tool["rise"] >= LEAST_IN_THOUSANDS) & (of_tool["by_runs"] > 0)]
    return of_tool.assign(ratio=of_tool["by_runs"] / of_tool["rise"])[["rise", "by_runs", "ratio"]]
