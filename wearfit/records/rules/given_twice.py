"""One run given twice, its days corrected in between: the runs' key holds the first day, so the correction looks like another run."""

from typing import Final

import numpy as np
import pandas as pd

from wearfit.records.frames import ROW, SOURCE, Frames
from wearfit.records.rules.marking import Judged, grouped, mark, with_table
from wearfit.records.rules.typed_counts import in_full, is_round, place_of, typed_counts

CORRECTED_DAYS: Final = 7  # a day is corrected by no more; judgement


def set_aside_given_twice(frames: Frames) -> Judged:
    """Set aside one of two runs that share their days and say the same number, where no third run of the tool says it.

    Parameters
    ----------
    frames : Frames
        As typed: before counts are judged or reckoned.

    Notes
    -----
    Rows of one key are none of these: `sheets.repeats` tells of them. A round number is evidence only where the last day is
    one and the same. The row that stands further down is used, or in the later file by name; where neither tells, the run that
    starts later.
    """
    counts = typed_counts(frames["runs"])
    alike = ["tool", "of_parts", "typed"]
    counts = counts[counts.duplicated(alike, keep=False)]
    if counts.empty:
        return dict(frames), []
    counts = counts[counts.groupby(alike, sort=False)["typed"].transform("size") == 2]
    counts = counts.sort_values([*alike, "first", "last"], kind="stable")
    pairs = np.repeat(_same_days(counts.iloc[::2], counts.iloc[1::2]), 2)
    if not pairs.any():
        return dict(frames), []
    runs = in_full(frames["runs"], counts[pairs])
    before, after = runs.iloc[::2], runs.iloc[1::2]
    same = _same_place(before, after)
    before, after = before[same], after[same]
    if before.empty:
        return dict(frames), []
    keys = zip(before[SOURCE], before[ROW], after[SOURCE], after[ROW], strict=True)
    older = np.array([(source, row) <= (other, its_row) for source, row, other, its_row in keys])
    aside = pd.concat([before[older], after[~older]])
    used = pd.concat([after[older], before[~older]])
    findings = mark(
        "runs",
        aside.assign(
            made=[f"{grouped(typed)} {under}" for typed, under in zip(aside["typed"], aside["under"], strict=True)],
            place=place_of(used, aside), since=used["started_on"].to_numpy(), until=used["ended_on"].to_numpy(),
        ),
        "started_on",
        "The run of {tool_id} in {resin_id} at {plant_id} from {started_on} to {ended_on} has the same {made} as {place}, from {since} to "
        "{until}, in days that overlap; the two are taken for one run whose days were corrected, and only the other row is used.",
        "Delete the row with the wrong days. If there were two runs, correct the days so that they do not overlap.", "set_aside",
    )  # fmt: skip
    return with_table(frames, "runs", frames["runs"].drop(index=aside.index)), findings


def _same_days(before: pd.DataFrame, after: pd.DataFrame) -> "np.ndarray":
    """Whether the days and the number of each two counts can be of one run, shape (pair,); the one before starts no later."""
    (first, last), (later_first, later_last) = ((some["first"].to_numpy(), some["last"].to_numpy()) for some in (before, after))
    moved = later_first - first
    shared = np.minimum(last, later_last) - later_first + 1
    near = (moved > 0) & (moved <= CORRECTED_DAYS) & (np.abs(last - later_last) <= CORRECTED_DAYS)
    telling = ~is_round(after["typed"]).to_numpy()
    # A run that ends on the day on which the next begins shares that day and is another run; so is a night shift's.
    return near & (((last == later_last) & (telling | (shared > 1))) | (telling & (shared > 1)))


def _same_place(before: pd.DataFrame, after: pd.DataFrame) -> "np.ndarray":
    """Whether each two runs are at one plant and in one resin, shape (pair,)."""
    return np.logical_and.reduce([before[name].to_numpy() == after[name].to_numpy() for name in ("plant_id", "resin_id")])
