"""The number that a run's row gives, before anyone asks what it counts."""

from typing import Final

import numpy as np
import pandas as pd

from wearfit.records.frames import ROW, SOURCE

TELLING_DIGITS: Final = 2  # significant digits up to which a number is round: two rows may well share it by chance; judgement


def with_typed_counts(runs: pd.DataFrame) -> pd.DataFrame:
    """Runs that have days and a count, with the number as typed.

    Parameters
    ----------
    runs : DataFrame

    Returns
    -------
    DataFrame
        In the same order, those left out whose days cannot be or whose count is blank or nought; with `typed` and `under`, the
        column in which it stands, shots where both are filled in, `first` and `last`, the days as whole numbers, and `tool`, a
        number in place of its tool_id, for these are sorted and compared faster.
    """
    typed = runs["shots"].fillna(runs["parts"])
    fit = (typed > 0) & (runs["ended_on"] >= runs["started_on"])
    runs = runs.assign(typed=typed, under=np.where(runs["shots"].notna(), "shots", "parts"))[fit]
    first, last = (runs[name].to_numpy().astype("datetime64[D]").astype(np.int64) for name in ("started_on", "ended_on"))
    return runs.assign(first=first, last=last, tool=pd.factorize(runs["tool_id"])[0])


def is_round(numbers: pd.Series) -> pd.Series:
    """Whether each number has so few significant digits that it tells nothing, shape (row,)."""
    step = 10.0 ** np.maximum(np.floor(np.log10(numbers)) + 1 - TELLING_DIGITS, 0)
    return numbers % step == 0


def place_of(row: pd.DataFrame, seen_from: pd.DataFrame) -> list[str]:
    """Where each of some rows stands, seen from each of others: "row 7", or "row 7 of runs.csv" where that is another file."""
    pairs = zip(row[ROW], row[SOURCE], seen_from[SOURCE], strict=True)
    return [f"row {number}" + (f" of {source}" if source and source != here else "") for number, source, here in pairs]
