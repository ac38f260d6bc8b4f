"""The picture of a brief: how likely a tool is still good, month by month, and the days that matter."""

import datetime as dt
from collections.abc import Mapping
from typing import Any, Final

from wearfit.forecasts.remaining_life import RemainingLife
from wearfit.report.page import Mark, Picture
from wearfit.workflow.answers import Accepted
from wearfit.workflow.due import wear_out_in_words
from wearfit.workflow.wording import MONTHS, day_in_words, month_in_words

NOTHING_LEFT: Final = 0.02  # chance under which the curve is not drawn on
LEAST_POINTS: Final = 13
SHORT_DAYS: Final = 1000.0  # up to here quarters are named, beyond years
FREE: Final = 0.05  # of the width, around "today"


def picture_of(tool: Mapping[str, Any], left: RemainingLife, within: Accepted, as_of: dt.date) -> Picture:
    """The picture of a live tool whose age is known.

    Parameters
    ----------
    tool : mapping
        As `answers.forecast` gives it.
    left : RemainingLife
    """
    shown = min(len(left.days), max(LEAST_POINTS, int((left.good > NOTHING_LEFT).sum()) + 2))
    days, furthest = left.days[:shown], float(left.days[shown - 1])

    def place(day: str | None) -> float:
        return 1.0 if day is None else min(1.0, max(0.0, (dt.date.fromisoformat(day) - as_of).days / furthest))

    likely, order, due = tool["wear_out_on"]["p50"], tool["order_by"], tool["replacement_due_on"]
    marks = []
    if due:
        if dt.date.fromisoformat(due) > as_of and place(due) < 1.0:
            marks.append(Mark(place(due), f"replacement due {day_in_words(due)}", True))
    elif order and not tool["overdue"] and place(order) < 1.0:
        marks.append(Mark(place(order), f"order by {day_in_words(order)}", True))
    if likely is not None and place(likely) < 1.0:
        marks.append(Mark(place(likely), f"likely worn out: {month_in_words(likely)}", False))
    said = wear_out_in_words(tool, within.horizon_years, as_of)
    return Picture(
        curve=tuple((float(day) / furthest, float(good)) for day, good in zip(days, left.good[:shown], strict=True)),
        years=((0.0, "today"), *_ticks(as_of, furthest)),
        likely_from=place(tool["wear_out_on"]["p10"]),
        likely_to=place(tool["wear_out_on"]["p90"]),
        marks=tuple(marks),
        says=f"A curve of the chance that the tool is still good. It falls from 10 in 10 on {day_in_words(as_of)}. It wears out: {said}.",
    )


def _ticks(as_of: dt.date, furthest: float) -> tuple[tuple[float, str], ...]:
    """Where years begin, or quarters on a short scale."""
    months = (1, 4, 7, 10) if furthest <= SHORT_DAYS else (1,)
    first = [dt.date(as_of.year + year, month, 1) for year in range(int(furthest / 365.25) + 2) for month in months]
    placed = [((day - as_of).days / furthest, str(day.year) if day.month == 1 else MONTHS[day.month - 1]) for day in first]
    return tuple((at, name) for at, name in placed if FREE < at <= 1.0)
