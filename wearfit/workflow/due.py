"""What needs a decision now: tools that must not run, are worn out, or whose order day is past or near, in words."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

from wearfit.workflow.noted_words import LONGEST_NOTE, last_to_look_at
from wearfit.workflow.wording import UNKNOWN, count, cut, day_in_words, frequency, month_in_words

Kind = Literal["held", "look", "worn", "overdue", "soon", "on_order"]
KINDS: Final[tuple[Kind, ...]] = ("held", "look", "worn", "overdue", "soon", "on_order")
SOON_DAYS: Final = 60  # an order day within two monthly meetings is near, judgement


MEANINGS: Final[Mapping[Kind, str]] = {
    "held": "No run until it is released.",
    "look": "A note tells of sharp flash or loose parts, and no hold came with it. Beside each, the day of the note.",
    "worn": "Each waits for its renewal. Beside it, the day on which its replacement is due.",
    "overdue": "Beside each, the chance that it is done before a replacement ordered today arrives.",
    "soon": "Beside each, the last day on which an order keeps the accepted risk of having no usable tool.",
    "on_order": "Each would need an order by now; beside it, when the one that is under way is due.",
}
"""What the number of each kind means."""


@dataclass(frozen=True)
class Due:
    """One tool that needs a decision.

    Parameters
    ----------
    kind : str
        One of KINDS.
    tool_id : str
    where : str
        Its design and plant.
    number : str
        The one number that matters, in words; MEANINGS says what it is.
    more : str
        When it wears out, or what else there is to know.
    """

    kind: Kind
    tool_id: str
    where: str
    number: str
    more: str


def decisions_due(
    tools: Sequence[Mapping[str, Any]], as_of: dt.date, horizon_years: float = 10.0, soon_days: int = SOON_DAYS
) -> tuple[Due, ...]:
    """Tools of a forecast that need a decision, in order of KINDS and, within one, of urgency.

    One that is to be looked at before it runs stands there beside what else is due of it.

    Parameters
    ----------
    tools : sequence of mapping
        As `answers.forecast` gives them.
    as_of : date
    horizon_years : float
        That the forecast looks ahead.
    soon_days : int
        An order day no further ahead is near.
    """
    found: list[tuple[tuple[Any, ...], Due]] = []
    for tool in tools:
        for due in filter(None, (_to_look_at(tool), _due(tool, as_of, soon_days, horizon_years))):
            gap = tool["gap_risk_if_ordered_today"] or 0.0
            day = tool["order_by"] if due.kind == "soon" else tool["replacement_due_on"] or ""
            found.append(((KINDS.index(due.kind), day, -gap, due.tool_id), due))
    return tuple(due for _, due in sorted(found, key=lambda pair: pair[0]))


def summary(due: Sequence[Due], tools: int) -> str:
    """The state of the fleet in a sentence."""
    number = {kind: sum(d.kind == kind for d in due) for kind in KINDS}
    parts = [
        f"{count(number['held'], 'is', 'are')} held" if number["held"] else "",
        f"{count(number['look'], 'is', 'are')} to be looked at before the next run" if number["look"] else "",
        f"{count(number['worn'], 'is', 'are')} worn out" if number["worn"] else "",
        f"{count(number['overdue'], 'has', 'have')} an order day that is past" if number["overdue"] else "",
        f"{count(number['soon'], 'has', 'have')} one within {SOON_DAYS} days" if number["soon"] else "",
    ]
    said = [part for part in parts if part]
    of = f"Of {tools:,} live tools" if tools != 1 else "Of one live tool"
    if not said:
        return f"{of}, none needs a decision within {SOON_DAYS} days."
    return f"{of}, " + (said[0] if len(said) == 1 else ", ".join(said[:-1]) + " and " + said[-1]) + "."


def replacement_in_words(due_on: str, as_of: dt.date) -> str:
    """When a replacement on order comes: "due 1 Sep 2026"; past that day, and not on record as there, "overdue since 1 Sep 2026"."""
    return f"{due_or_overdue(due_on, as_of).removesuffix(' on')} {day_in_words(due_on)}"


def due_or_overdue(due_on: str, as_of: dt.date) -> str:
    """What stands before the day on which a replacement on order is due."""
    return "due on" if dt.date.fromisoformat(due_on) >= as_of else "overdue since"


def order_in_words(tool: Mapping[str, Any], horizon_years: float, as_of: dt.date) -> str:
    """What is to be done about a tool, in a few words."""
    if tool["status"] == "held":
        return "STOP: held"
    if tool["status"] == "worn":
        return "worn out"
    if tool["replacement_due_on"]:
        return f"replacement {replacement_in_words(tool['replacement_due_on'], as_of)}"
    if tool["overdue"]:
        return "order now"
    if tool["order_by"]:
        return f"order by {day_in_words(tool['order_by'])}"
    return "not known" if tool["p_within_12_months"] is None else f"no order within {horizon_years:g} years"


def wear_out_months(tool: Mapping[str, Any], horizon_years: float, as_of: dt.date) -> tuple[str, str] | None:
    """The likely month of a tool's wear-out and the months that hold 8 in 10, in words; None where it is worn or nothing is told."""
    if tool["status"] == "worn" or tool["p_within_12_months"] is None:
        return None
    beyond = f"after {as_of.year + int(horizon_years)}"
    days = (tool["wear_out_on"][q] for q in ("p10", "p50", "p90"))
    early, likely, late = (beyond if day is None else month_in_words(day) for day in days)
    return likely, f"{early} to {late}" if late != beyond else f"{early} or later" if early != beyond else beyond


def wear_out_in_words(tool: Mapping[str, Any], horizon_years: float, as_of: dt.date) -> str:
    """When a tool wears out: its likely month, and the months that hold 8 in 10."""
    if tool["status"] == "worn":
        due = tool["replacement_due_on"]
        return (
            f"replacement {replacement_in_words(due, as_of)}"
            if due
            else f"none on order; one usually takes {tool['lead_time_weeks']:.0f} weeks"
        )
    months = wear_out_months(tool, horizon_years, as_of)
    if months is None:
        return tool["problem"] or UNKNOWN
    likely, most = months
    return f"likely {likely}; {cases_within(most)} in 10: {most}" if most != likely else f"likely {likely}"


def cases_within(most: str) -> int:
    """How many of ten such tools wear out in the months that `wear_out_months` says: nine, where they have no end."""
    return 8 if " to " in most else 9


def _to_look_at(tool: Mapping[str, Any]) -> Due | None:
    noted = last_to_look_at(tool)
    if noted is None:
        return None
    return Due("look", tool["tool_id"], _where(tool), day_in_words(noted["date"]), f"\u2018{cut(noted['note'], LONGEST_NOTE)}\u2019")


def _where(tool: Mapping[str, Any]) -> str:
    return " at ".join(filter(None, (tool["design_id"], tool["plant_id"])))


def _due(tool: Mapping[str, Any], as_of: dt.date, soon_days: int, horizon_years: float) -> Due | None:
    arrives = tool["replacement_due_on"]
    when = wear_out_in_words(tool, horizon_years, as_of)

    def due(kind: Kind, number: str, more: str = when) -> Due:
        return Due(kind, tool["tool_id"], _where(tool), number, more)

    if tool["status"] == "held":
        return due("held", "STOP", "")
    comes = replacement_in_words(arrives, as_of).removeprefix("due ") if arrives else ""
    if tool["status"] == "worn":
        usual = f"one usually takes {tool['lead_time_weeks']:.0f} weeks"
        return due("worn", comes, "") if arrives else due("worn", "none on order", usual)
    if tool["p_within_12_months"] is None or not tool["order_by"]:
        return None
    near = tool["overdue"] or (dt.date.fromisoformat(tool["order_by"]) - as_of).days <= soon_days
    if arrives:
        return due("on_order", comes) if near else None
    if tool["overdue"]:
        return due("overdue", frequency(tool["gap_risk_if_ordered_today"]))
    return due("soon", day_in_words(tool["order_by"])) if near else None
