"""The plan in words: what needs doing, what is paid, where it will be short, and how often each design is renewed."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from wearfit.decisions.money import amount
from wearfit.workflow.wording import count, day_in_words, frequency, month_in_words

TIMES: Final = ("none", "once", "twice", "3 times", "4 times")  # words, for "1 in 4" would be read as odds
LEAST_EXPECTED: Final = 0.005  # renewals; fewer are told as none
ORDERS: Final[Mapping[bool, tuple[str, str]]] = {
    True: ("Order now", "The order day is past. Beside each, the chance that a replacement ordered today still comes too late."),
    False: ("Order later", "Beside each, the last day on which an order keeps the accepted chance of having no usable tool."),
}
"""Orders whose day is past (True), and those whose day is to come: a heading, and what the number beside each means."""
LATER: Final = "later than in ten years"
HELD_SIGN: Final = "Held, so it makes nothing"  # begins the plan's note on held tools


def summary(document: Mapping[str, Any]) -> str:
    """What needs doing over the plan, what it costs and where it may be short."""
    orders, n = document["orders"], document["months"]
    months = "this month" if n == 1 else f"these {n} months"
    overdue = sum(order["overdue"] for order in orders)
    if not orders:
        said = f"No order falls due in {months}."
    else:
        now = f", {overdue} of them now: their order day is past" if overdue else ""
        said = f"{count(len(orders), 'order falls', 'orders fall')} due in {months}{now}."
    short = [d for d in document["designs"] if d["p_shortage"] > document["tolerance"]]
    risk = (
        f"{count(len(short), 'design runs', 'designs run')} a chance above {100 * document['tolerance']:.3g} % of a short month."
        if short
        else f"No design runs a chance above {100 * document['tolerance']:.3g} % of a short month."
    )
    return f"{said} {spend_sentence(document)} {risk}"


def spend_sentence(document: Mapping[str, Any]) -> str:
    """What is spent in all."""
    whole = document["spend_in_all"]
    low, high = whole["range_80"]
    likely = amount(whole["cost"]["p50"])
    return f"Renewals cost some {likely} in all; 8 in 10 futures lie between {amount(low)} and {amount(high)}."


def order_words(order: Mapping[str, Any]) -> tuple[str, str]:
    """The one number that matters of an order, which ORDERS explains, and why it is due."""
    lead = f"{order['lead_time_weeks']:.3g} weeks from order to tool"
    if order["reason"].startswith("it is worn"):
        return "worn out", lead
    early, half = (f"by {month_in_words(order[name])}" if order[name] else LATER for name in ("ends_early", "ends_likely"))
    number = frequency(order["p_late_if_ordered_today"]) if order["overdue"] else day_in_words(order["order_by"])
    return number, f"1 in 10 such tools has ended {early}, half {half}; {lead}"


def quarter_words(spend: Mapping[str, Any]) -> tuple[str, str]:
    """What a quarter costs, and its ranges."""
    (low, high), (least, most) = ((amount(end) for end in spend[name]) for name in ("range_80", "range_95"))
    return f"{amount(spend['cost']['p50'])} likely", f"8 in 10 from {low} to {high}; 95 in 100 from {least} to {most}"


def quarter(name: str) -> str:
    """A quarter as one says it: "third quarter of 2026"."""
    year, number = name.split("-Q")
    return f"{('first', 'second', 'third', 'fourth')[int(number) - 1]} quarter of {year}"


def renewals_words(design: Mapping[str, Any]) -> tuple[str, str]:
    """How often a design is renewed, and how that is spread."""
    shares = design["p_renewals"]
    told = [*zip(TIMES, shares, strict=False), (f"{len(TIMES)} times or more", sum(shares[len(TIMES) :]))]
    each = [f"{often} in {100 * share:.0f}" for often, share in told if round(100 * share)]
    expected = design["expected_renewals"]
    number = "none" if expected < LEAST_EXPECTED else f"{expected:.1f}" if expected >= 0.1 else f"{expected:.2f}"
    return f"{number} to expect", f"of 100 futures: {', '.join(each)}"


def short_words(month: Mapping[str, Any], most: int = 3) -> tuple[str, str]:
    """How likely some design is short in a month, and which are at risk."""
    named = [f"{d['design_id']} ({frequency(d['p'])})" for d in month["designs"]]
    more = f" and {len(named) - most} more" if len(named) > most else ""
    at_risk = f"; at risk: {', '.join(named[:most])}{more}" if named else ""
    return frequency(month["p"]), f"{100 * month['share_short']:.1f} % of the shots not made{at_risk}"


def some(names: Sequence[str], most: int = 3) -> str:
    """The first few names."""
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more


def held_of(document: Mapping[str, Any]) -> str:
    """The plan's note on tools that are held; empty where none is."""
    return next((note for note in document["notes"] if note.startswith(HELD_SIGN)), "")
