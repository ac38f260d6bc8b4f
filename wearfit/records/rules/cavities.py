"""Cavities: parts and shots of one run against the cavities that were open."""

from typing import Final

import numpy as np
import pandas as pd

from wearfit.records.findings import Finding
from wearfit.records.frames import Frames
from wearfit.records.rules.marking import Judged, grouped, mark, of_tool
from wearfit.records.rules.paces import open_cavities

# Shots that no part shows (warm-up, dry cycles) are 2 to 10 % of all, from memory in the trade's practice.
UNDER_SCRAP_KNOWN: Final = 0.9  # parts and scrap a shot, in open cavities, below which a cavity was shut: dry shots allowed for
UNDER_SCRAP_BLANK: Final = 0.8  # the same of good parts alone: as much scrap besides; judgement
OVER: Final = 1.02  # the same above which there are more parts than the cavities can give; counts are rounded
ONE_FOR_ALL: Final = 3  # runs of one tool that are alike and told in one finding


def note_cavities(frames: Frames) -> Judged:
    """Note runs whose parts are clearly fewer or more than their shots and open cavities give, and more cavities open than there are."""
    runs = frames["runs"]
    runs = runs.assign(tool_cavities=of_tool(frames, runs, "cavities"), open=open_cavities(frames, runs))
    runs = runs.assign(a_shot=(runs["parts"] + runs["scrap_parts"].fillna(0.0)) / runs["shots"])
    told = runs["shots"].notna() & runs["parts"].notna() & runs["open"].notna()
    least = runs["open"] * np.where(runs["scrap_parts"].isna(), UNDER_SCRAP_BLANK, UNDER_SCRAP_KNOWN)
    under = told & (runs["a_shot"] < least)
    over = told & (runs["a_shot"] > runs["open"] * OVER)
    return dict(frames), [
        *_said(
            runs[under], "make {rate} parts a shot, but {open} cavities are taken to have been open; a cavity may have been shut.",
            "Fill in active_cavities for the run, or correct shots or parts.",
        ),
        *_said(
            runs[over], "make {rate} parts a shot, more than the {open} open cavities can give.",
            "Correct shots or parts, or cavities in the tools table.",
        ),
        *mark(
            "runs", runs[runs["active_cavities"] > runs["tool_cavities"]], "active_cavities",
            "{active_cavities} cavities were open, but tool {tool_id} has {tool_cavities}.",
            "Correct active_cavities, or cavities in the tools table.", "note",
        ),
    ]  # fmt: skip


def _said(runs: pd.DataFrame, what: str, repair: str) -> list[Finding]:
    """One finding a run, or one for a tool and number of cavities where several runs are alike."""
    if runs.empty:
        return []
    runs = runs.assign(
        rate=[f"{rate:.2g}" for rate in runs["a_shot"]], alike=runs.groupby(["tool_id", "open"])["row"].transform("size"),
        count=[grouped(n) for n in runs["parts"]], made=[grouped(n) for n in runs["shots"]],
    )  # fmt: skip
    single = runs[runs["alike"] < ONE_FOR_ALL]
    findings = mark("runs", single, "parts", "{count} parts of tool {tool_id} in {made} shots " + what, repair, "note")
    for (tool, _), rows in runs[runs["alike"] >= ONE_FOR_ALL].groupby(["tool_id", "open"], sort=True):
        usual = rows.head(1).assign(rate=f"{rows['a_shot'].median():.2g} (median)", runs=f"{len(rows):,}")
        (said,) = mark("runs", usual, "parts", "{runs} runs of tool {tool_id} " + what, repair, "note")
        findings.append(Finding("runs", None, "parts", str(tool), said.problem, said.repair, "note", said.source))
    return findings
