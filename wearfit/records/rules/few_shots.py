"""Runs with far too few shots: typed in thousands, or a mark between thousands read as one of decimals."""

from typing import Final

import pandas as pd

from wearfit.records.cells import number_text
from wearfit.records.findings import Finding
from wearfit.records.frames import ROW, SOURCE, Frames
from wearfit.records.rules.marking import Judged, grouped, mark
from wearfit.records.rules.paces import CADENCE_SLACK, SECONDS_PER_DAY, cycle_times, days_of

THOUSAND: Final = 1000.0
# A thousandfold that lies within these times what the presses can do is a usual run; judgement. A sampling of fifty shots is none:
# its thousandfold is more than any press makes.
LEAST_OF_ABLE: Final = 0.05
# Without a cycle time the tool's other runs tell: the thousandfold is as quick as their median within this; judgement.
AS_QUICK: Final = 5.0
OTHER_RUNS: Final = 3


def note_few_shots(frames: Frames) -> Judged:
    """Note runs whose shots a thousandfold would be a usual run, and shots that are no whole number; both are used as they stand.

    Parameters
    ----------
    frames : Frames
        As typed: before counts are judged or reckoned.
    """
    runs = frames["runs"]
    runs = runs[runs["shots"] > 0].assign(cycle=lambda typed: cycle_times(frames, typed), days=days_of)
    few = runs[(runs["days"] > 0) & _a_thousandth(runs)].assign(
        made=lambda rows: [number_text(shots) for shots in rows["shots"]],
        meant=lambda rows: [grouped(shots * THOUSAND) for shots in rows["shots"]],
    )
    told = mark(
        "runs", few, "shots",
        "{made} shots of {tool_id} from {started_on} to {ended_on} are next to nothing for {days} days, and {meant} would be a usual run; "
        "used as they stand.",
        "If they were typed in thousands, write the whole number of shots, or 'Shots [k]' above the column.", "note",
    )  # fmt: skip
    return dict(frames), [*told, *_fractions(runs)]


def _a_thousandth(runs: pd.DataFrame) -> pd.Series:
    """Whether a run's shots are a thousandth of a usual run's, shape (run,)."""
    meant = runs["shots"] * THOUSAND
    able = runs["days"] * SECONDS_PER_DAY / runs["cycle"]
    by_press = (meant <= able * CADENCE_SLACK) & (meant >= able * LEAST_OF_ABLE)
    rate = (runs["shots"] / runs["days"]).where(runs["days"] > 0)
    of_tool = rate.groupby(runs["tool_id"])
    ratio = rate * THOUSAND / of_tool.transform("median")
    by_others = runs["cycle"].isna() & (of_tool.transform("size") > OTHER_RUNS) & ratio.between(1 / AS_QUICK, AS_QUICK)
    return by_press | by_others


def _fractions(runs: pd.DataFrame) -> list[Finding]:
    """One note a file on shots that are no whole number: no press makes a part of a shot."""
    broken = runs[(runs["shots"] % 1.0 != 0.0) & (runs["shots"] < THOUSAND)]
    findings = []
    for source, rows in broken.groupby(SOURCE, sort=True):
        row, shots = min(zip(rows[ROW].tolist(), rows["shots"].tolist(), strict=True))
        count = "1 run has" if len(rows) == 1 else f"{len(rows):,} runs have"
        problem = f"{count} a fraction of a shot, such as {number_text(shots)} in row {row}; used as it stands."
        repair = "If a mark between thousands became one of decimals, as in a list from another country, write the whole number of shots."
        findings.append(Finding("runs", row, "shots", number_text(shots), problem, repair, "note", str(source)))
    return findings
