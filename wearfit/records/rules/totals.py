"""Totals of a month, a quarter or a year that stand as a run beside the runs that they sum."""

from collections.abc import Iterator
from typing import Final

import numpy as np
import pandas as pd

from wearfit.records.frames import ROW, Frames
from wearfit.records.rules.marking import Judged, counted, grouped, mark, with_table
from wearfit.records.rules.typed_counts import in_full, is_round, place_of, typed_counts

Array = np.ndarray

LEAST_DAYS: Final = 3  # days of a total; the two days of a night shift are none
WHOLE_SHOT: Final = 0.5  # a sum may miss the total by less: parts of a shot from parts


def set_aside_totals(frames: Frames) -> Judged:
    """Set aside each run that makes exactly what the tool's other runs inside its days make together.

    Parameters
    ----------
    frames : Frames
        As typed: before counts are judged or reckoned.

    Notes
    -----
    A row sums those at its own plant and in its own resin; one of whole months may sum all those of the tool. Where the days are
    no months, one number twice is no total, and two that add up to a round one are chance.
    """
    crowded = _crowded(typed_counts(frames["runs"]).assign(**{ROW: frames["runs"][ROW]}))
    if crowded.empty:
        return dict(frames), []
    runs = in_full(frames["runs"], crowded)
    starts = np.flatnonzero(np.diff(runs["stretch"].to_numpy(), prepend=-1))
    place = runs.groupby(["plant_id", "resin_id"], sort=False).ngroup()
    columns = (runs["first"], runs["last"], runs["typed"], runs["of_parts"], place, _whole_months(runs), is_round(runs["typed"]))
    cells = [column.to_numpy() for column in columns]
    found = [
        (at + total, at + inside[0], len(inside))
        for at, end in zip(starts, [*starts[1:], len(runs)], strict=True)
        for total, inside in _totals(*(column[at:end] for column in cells))
    ]
    if not found:
        return dict(frames), []
    total, first, count = (list(each) for each in zip(*found, strict=True))
    rows, summed = runs.iloc[total], runs.iloc[first]
    rows = rows.assign(
        made=[f"{grouped(typed)} {under}" for typed, under in zip(rows["typed"], rows["under"], strict=True)],
        others=["the run" if n == 1 else f"the {counted(n, 'run')}" for n in count],
        place=[f"{'' if n == 1 else 'the first is '}{place}" for n, place in zip(count, place_of(summed, rows), strict=True)],
    )
    findings = mark(
        "runs", rows, "started_on",
        "The row of {tool_id} from {started_on} to {ended_on} says {made}, exactly as many as {others} inside these days ({place}); "
        "it is taken for their total and not used, or they would count twice.",
        "Delete the row if it is a total. If it is a run of its own, correct its days or its count.", "set_aside",
    )  # fmt: skip
    return with_table(frames, "runs", frames["runs"].drop(index=rows.index)), findings


def _crowded(runs: pd.DataFrame) -> pd.DataFrame:
    """The runs of each stretch of days in which one run lies inside a longer one of the same tool, with the `stretch`."""
    runs = runs.assign(length=runs["last"] - runs["first"])
    runs = runs.iloc[np.lexsort((runs[ROW], -runs["last"], runs["first"], runs["tool"]))]
    latest = runs.groupby("tool", sort=False)["last"].cummax().groupby(runs["tool"], sort=False).shift()
    inside = latest >= runs["last"]
    if not inside.any():
        return runs[inside]
    runs = runs.assign(stretch=np.cumsum(~(latest >= runs["first"])))
    runs = runs[runs["stretch"].isin(runs.loc[inside, "stretch"])]
    lengths = runs.groupby("stretch")["length"]
    return runs[(lengths.transform("max") > lengths.transform("min")) & (lengths.transform("max") >= LEAST_DAYS - 1)]


def _whole_months(runs: pd.DataFrame) -> pd.Series:
    """Whether each run's days are whole months, shape (run,)."""
    return (runs["started_on"].dt.day == 1) & runs["ended_on"].dt.is_month_end


def _totals(
    first: Array, last: Array, typed: Array, parts: Array, place: Array, months: Array, round_number: Array
) -> Iterator[tuple[int, Array]]:
    """Positions of each total and of the runs that it sums, among the runs of a stretch in order of their first day."""
    length = last - first
    # Only a row of whose later ones some end no later has any inside.
    least_after = np.append(np.minimum.accumulate(last[::-1])[::-1][1:], np.iinfo(np.int64).max)
    holds = np.flatnonzero((least_after <= last) & (length >= LEAST_DAYS - 1))
    aside = np.zeros(len(first), dtype=bool)
    # The short ones first: a year sums its months, not their runs a second time.
    for row in holds[np.argsort(length[holds], kind="stable")]:
        inside = (first >= first[row]) & (last <= last[row]) & (length < length[row]) & (parts == parts[row]) & ~aside
        at_place = np.flatnonzero(inside & (place == place[row]))
        anywhere = np.flatnonzero(inside)
        telling = months[row] or len(at_place) > 2 or (len(at_place) == 2 and not round_number[row])
        if telling and len(at_place) and abs(typed[at_place].sum() - typed[row]) < WHOLE_SHOT:
            summed = at_place
        elif months[row] and len(anywhere) > 1 and abs(typed[anywhere].sum() - typed[row]) < WHOLE_SHOT:
            summed = anywhere
        else:
            continue
        aside[row] = True
        yield int(row), summed
