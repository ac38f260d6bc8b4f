"""Days that lie far after all others: slips of the keyboard that would become the latest day of the records."""

from typing import Final

import numpy as np
import pandas as pd

from wearfit.records.frames import Frames
from wearfit.records.rules.marking import Judged, mark, with_table

GAP_DAYS: Final = 366  # no less lies between a stray day and the others; judgement
QUIET_TIMES: Final = 3  # nor less than so many times the longest quiet among the others, for records may be sparse; judgement
STRAY_ROWS: Final = 3  # rows that may be strays, or STRAY_SHARE of all if that is more
STRAY_SHARE: Final = 0.001
LEAST_ROWS: Final = 20  # rows for each stray, below which the others are too few to say what is usual; judgement
DAYS_PER_YEAR: Final = 365.25
DATED: Final = (("runs", "ended_on"), ("counter", "date"), ("events", "date"), ("readings", "date"))


def set_aside_strays(frames: Frames) -> Judged:
    """Set aside the few rows dated more than a year after every other row."""
    days = np.sort(np.concatenate([_days(frames[table], column) for table, column in DATED]))
    last = _last_usual_day(days)
    if last is None:
        return dict(frames), []
    used = dict(frames)
    findings = []
    for table, column in DATED:
        frame = used[table]
        stray = frame[column] > last
        years = (frame.loc[stray, column] - last).dt.days / DAYS_PER_YEAR
        rows = frame[stray].assign(after=[_after(float(y)) for y in years])
        findings += mark(
            table, rows, column, f"{{{column}}} lies {{after}} after every other record, the last of which is of {last.date()}.",
            "Correct the year; if the day is right, hand the row over with the others of its time.", "set_aside",
        )  # fmt: skip
        used = with_table(used, table, frame[~stray])
    return used, findings


def _days(frame: pd.DataFrame, column: str) -> "np.ndarray":
    days = frame[column].to_numpy().astype("datetime64[D]")
    return days[~np.isnat(days)]


def _last_usual_day(days: "np.ndarray") -> pd.Timestamp | None:
    """Last day before the strays, None where there are none; the days come in order."""
    most = int(max(STRAY_ROWS, STRAY_SHARE * len(days)))
    if len(days) < LEAST_ROWS:
        return None
    gaps = np.diff(days).astype(np.int64)
    usual = gaps[most:-most] if len(gaps) > 2 * most else gaps[:0]
    least = max(GAP_DAYS, QUIET_TIMES * int(usual.max(initial=0)))
    for strays in range(min(most, len(days) // LEAST_ROWS), 0, -1):
        if gaps[len(gaps) - strays] > least:
            return pd.Timestamp(days[len(days) - strays - 1])
    return None


def _after(years: float) -> str:
    return f"{years:.0f} years" if years >= 1.5 else "more than a year"
