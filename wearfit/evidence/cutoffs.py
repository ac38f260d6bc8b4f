"""The past days at which forecasts are made."""

import datetime as dt
from collections.abc import Sequence
from typing import Final

import numpy as np

from wearfit.errors import Refusal
from wearfit.exposures.table import Exposures

Array = np.ndarray

USUAL_NUMBER: Final = 5
LEAST_BEFORE: Final = 10  # wear-outs on record by the first day, judgement: with fewer no rival has a law to go by
LEAST_WEAR_OUTS: Final = 5  # the same for days that the user names


def wear_out_days(whole: Exposures) -> Array:
    """Days on which lives are known to have worn out, in order, shape (wear-out,). [day since 1970]"""
    episodes = whole.episodes
    ended = np.minimum(episodes.worn_at, episodes.closes)
    return np.sort(ended[(episodes.ending > 0) & ~episodes.unstated])


def month_end(day: dt.date, months: int = 0) -> dt.date:
    """The last day of the month that lies so many months after a day's, before it where `months` is negative."""
    following = day.year * 12 + day.month + months  # counted from 0 in January of the year 0
    return dt.date(following // 12, following % 12 + 1, 1) - dt.timedelta(days=1)


def horizon_end(day: dt.date, months: int) -> dt.date:
    """The same day so many months later, or the last day of that month where it is shorter or `day` is the last of its own."""
    end = month_end(day, months)
    return end if day == month_end(day) else end.replace(day=min(day.day, end.day))


def choose_cutoffs(whole: Exposures, horizon_months: int, number: int | None = None) -> tuple[dt.date, ...]:
    """Ends of months spread evenly over the history: enough wear-outs before the first, a whole horizon after the last.

    Parameters
    ----------
    number : int, optional
        How many. By default USUAL_NUMBER, fewer where their horizons would overlap.

    Raises
    ------
    Refusal
        Where the history leaves room for none, or for fewer than asked for.
    """
    worn = wear_out_days(whole)
    last_day = whole.as_of.astype("datetime64[D]").astype(object)
    latest = month_end(last_day + dt.timedelta(days=1), -horizon_months - 1)
    needed = f"{LEAST_BEFORE} wear-outs on record before and {horizon_months} months of records after"
    if len(worn) < LEAST_BEFORE:
        raise Refusal(
            f"The records know of {len(worn)} wear-outs, too few to ask whether forecasts would have come true: a past day needs {needed}.",
            "Hand over more of the history, or wait for more.",
        )
    earliest = month_end(np.datetime64(int(worn[LEAST_BEFORE - 1]), "D").astype(object))
    months = (latest.year - earliest.year) * 12 + latest.month - earliest.month
    if months < 0:
        raise Refusal(f"No past day has {needed}.", f"Ask for fewer months, such as --horizon {max(1, horizon_months // 2)}.")
    if number is None:
        number = min(USUAL_NUMBER, months // horizon_months + 1)
    elif number > months + 1:
        raise Refusal(f"Only {months + 1} ends of months have {needed}; {number} were asked for.", f"Ask for {months + 1} at most.", 2)
    steps = np.round(np.linspace(0, months, number)).astype(int)  # back from the latest, which a single one is
    return tuple(sorted(month_end(latest, -int(step)) for step in steps))


def check_cutoffs(whole: Exposures, days: Sequence[dt.date]) -> tuple[dt.date, ...]:
    """Days that the user names, in order and without repeats.

    Raises
    ------
    Refusal
        Where one lies at the end of the records or later, or knows too few wear-outs; status 2.
    """
    worn = wear_out_days(whole)
    last_day = whole.as_of.astype("datetime64[D]").astype(object)
    for day in days:
        if day >= last_day:
            raise Refusal(f"The records end on {last_day}, so nothing is known of what came after {day}.", "Name an earlier day.", 2)
        known = int((worn <= np.datetime64(day, "D").astype(np.int64)).sum())
        if known < LEAST_WEAR_OUTS:
            raise Refusal(
                f"By {day} the records know of {known} wear-outs; at least {LEAST_WEAR_OUTS} are needed to compare with.",
                "Name a later day.",
                2,
            )
    return tuple(sorted(set(days)))
