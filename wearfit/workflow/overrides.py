"""An owner's own judgement of a tool: read from what was typed, kept in the store, shown beside the model's answer."""

import datetime as dt
from typing import Final

from wearfit.errors import Refusal
from wearfit.store.overrides import Override
from wearfit.store.store import Store
from wearfit.workflow.wording import day_in_words, shots

MOST_SHOTS: Final = 10_000_000_000  # more than any tool makes; judgement
LONGEST_TEXT: Final = 2_000


def keep_override(
    store_url: str,
    tool_id: str,
    by: str,
    reason: str,
    as_of: dt.date,
    wear_out_on: dt.date | None = None,
    remaining_shots: int | None = None,
) -> Override:
    """Keep a judgement of a tool; with neither day nor shots, take the one before it back.

    Parameters
    ----------
    by, reason : str
        Who says so, and why; neither may be blank.
    as_of : date
        The day that it speaks of.
    wear_out_on : date, optional
        Not before `as_of`.
    remaining_shots : int, optional
        Machine shots from `as_of` on, not negative.

    Raises
    ------
    Refusal
        Where one of them makes no sense, or both a day and shots are given; nothing is kept.
    """
    by, reason = by.strip(), reason.strip()
    if not by:
        raise Refusal("It is not said who judges so.", "Enter your name.", 2)
    if not reason:
        raise Refusal("The reason is blank.", "Say in a sentence what you know that the records do not.", 2)
    if max(len(by), len(reason)) > LONGEST_TEXT:
        raise Refusal(f"The name or the reason has more than {LONGEST_TEXT:,} characters.", "Say it shorter.", 2)
    if wear_out_on is not None and remaining_shots is not None:
        raise Refusal("Both a day and a number of shots are given.", "Give one of them.", 2)
    if wear_out_on is not None and wear_out_on < as_of:
        raise Refusal(f"The day {wear_out_on} lies before {as_of}.", "Give a later day, or record a `worn` event in the records.", 2)
    if remaining_shots is not None and not 0 <= remaining_shots <= MOST_SHOTS:
        raise Refusal(f"{remaining_shots:,} is not a number of shots that a tool can still make.", "Give a number from 0 up.", 2)
    override = Override(tool_id, dt.datetime.now(dt.UTC), by, as_of, wear_out_on, remaining_shots, reason)
    with Store.open(store_url, must_exist=True) as store:
        store.add_override(override)
    return override


def said(override: Override) -> str:
    """What an owner says, in words."""
    if override.wear_out_on is not None:
        return f"wears out on {day_in_words(override.wear_out_on)}"
    if override.remaining_shots is not None:
        return f"{shots(override.remaining_shots)} shots left on {day_in_words(override.as_of)}"
    return "the judgement before is taken back"


def day_said(override: Override, shots_per_month: float | None) -> dt.date | None:
    """The day on which a tool wears out by an owner's judgement, of remaining shots at the use expected; None where none follows."""
    if override.wear_out_on is not None or override.remaining_shots is None:
        return override.wear_out_on
    if not shots_per_month:
        return None
    days = override.remaining_shots / shots_per_month * 365.25 / 12.0
    return override.as_of + dt.timedelta(days=round(days)) if days < 365.25 * 100 else None


def overrides_in_force(store_url: str) -> dict[str, Override]:
    """What owners say of their tools now, by tool."""
    with Store.open(store_url, must_exist=True) as store:
        return {override.tool_id: override for override in store.overrides()}


def overrides_of(store_url: str, tool_id: str) -> list[Override]:
    """Every judgement of a tool, newest first."""
    with Store.open(store_url, must_exist=True) as store:
        return store.overrides_of(tool_id)
