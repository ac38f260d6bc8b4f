"""The number that a run's row gives, before anyone asks what it counts."""

from typing import Final

import numpy as np
import pandas as pd

from wearfit.records.frames import ROW, SOURCE

TELLING_DIGITS: Final = 2  # significant digits up to which a number is round: two rows may well share it by chance; judgement


def typed_counts(runs: pd.DataFrame) -> pd.DataFrame:
    """What runs that have days and a count say, in numbers alone, for a rule looks through all of them and is about few.

    Parameters
    ----------
    runs : DataFrame

    Returns
    -------
    DataFrame
        In the same order and under the same index, those left out whose days cannot be or whose count is blank or nought:
        `typed`, the number, `of_parts`, whether it stands in the column of parts, `first` and `last`, the days as whole numbers, and
        `tool`, a number in place of its tool_id.
    """
    typed = runs["shots"].fillna(runs["parts"])
    fit = ((typed > 0) & (runs["ended_on"] >= runs["started_on"])).to_numpy()
    first, last = (runs[name].to_numpy()[fit].astype("datetime64[D]").astype(np.int64) for name in ("started_on", "ended_on"))
    columns = {"typed": typed[fit], "of_parts": runs["shots"].isna()[fit], "first": first, "last": last}
    return pd.DataFrame(columns).assign(tool=pd.factorize(runs["tool_id"].to_numpy()[fit])[0])


def in_full(runs: pd.DataFrame, counts: pd.DataFrame) -> pd.DataFrame:
    """Some of the runs in the order of their `typed_counts`, with these, and with `under`, the column in which the number stands."""
    under = np.where(counts["of_parts"], "parts", "shots")
    return runs.loc[counts.index].assign(**{str(name): counts[name] for name in counts}, under=under)


def is_round(numbers: pd.Series) -> pd.Series:
    """Whether each number has so few significant digits that it tells nothing, shape (row,)."""
    step = 10.0 ** np.maximum(np.floor(np.log10(numbers)) + 1 - TELLING_DIGITS, 0)
    return numbers % step == 0


def place_of(row: pd.DataFrame, seen_from: pd.DataFrame) -> list[str]:
    """Where each of some rows stands, seen from each of others: "row 7", or "row 7 of runs.csv" where that is another file."""
    pairs = zip(row[ROW], row[SOURCE], seen_from[SOURCE], strict=True)
    return [f"row {number}" + (f" of {source}" if source and source != here else "") for number, source, here in pairs]
