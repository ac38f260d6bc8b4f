"""The question about a next run: what is asked, and why it may have no answer."""

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from wearfit.calibration import Calibration
from wearfit.forecasts.clock import FURTHEST_YEARS
from wearfit.forecasts.fleet import UNKNOWN_AGE
from wearfit.forecasts.largest_run import LARGEST_RUN

Array = np.ndarray


@dataclass(frozen=True)
class RunQuestion:
    """A run that somebody wants to make."""

    tool_id: str
    plant_id: str
    resin_id: str
    month: str  # YYYY-MM
    shots: float


def as_asked(question: RunQuestion) -> dict[str, Any]:
    """A question as its answer repeats it."""
    return {
        "tool_id": question.tool_id,
        "plant_id": question.plant_id,
        "resin_id": question.resin_id,
        "month": question.month,
        "shots": int(question.shots) if float(question.shots).is_integer() else question.shots,
    }


def problem_of(calibration: Calibration, row: int | None, question: RunQuestion, day: dt.date) -> str | None:
    """Why a question cannot be answered on a day, None where it can; `row` of the live table is that of its tool, if it is live."""
    if row is None:
        known = question.tool_id in set(calibration.levels.tool)
        return f"Tool {question.tool_id} is {'retired' if known else 'not in the records'}."
    if str(calibration.live.status[row]) == "worn":
        return f"Tool {question.tool_id} is worn by the records and waits for its renewal."
    if not re.fullmatch(r"\d{4}-(0[1-9]|1[0-2])", question.month):
        return f"'{question.month}' is no month; write it as YYYY-MM."
    if question.month < day.strftime("%Y-%m"):
        return f"The month {question.month} lies before the as-of day {day}."
    if int(question.month[:4]) > day.year + FURTHEST_YEARS:
        return f"The month {question.month} lies more than {FURTHEST_YEARS} years ahead."
    if not 0 < question.shots <= LARGEST_RUN:
        return f"The number of shots must be above 0 and no more than {LARGEST_RUN:,}."
    if calibration.unknown_age[row]:
        return UNKNOWN_AGE
    return None


def month_of(question: RunQuestion) -> dt.date:
    """The first day of the month that is asked about."""
    return dt.date(int(question.month[:4]), int(question.month[5:]), 1)


def clock_from(question: RunQuestion, day: dt.date, after_plan: bool) -> dt.date:
    """The day from which the clock runs to a question."""
    return max(day, month_of(question) - dt.timedelta(days=1)) if after_plan else day


def shots_of(questions: Sequence[RunQuestion]) -> Array:
    """Shots asked about, shape (run,)."""
    return np.array([question.shots for question in questions], dtype=float)
