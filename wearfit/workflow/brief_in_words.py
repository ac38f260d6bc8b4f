"""The one-page brief on a tool in plain words: what is asked, the answer, what it hangs on, the cautions."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from wearfit import __version__
from wearfit.forecasts.hangs_on import Dependence
from wearfit.forecasts.remaining_life import RemainingLife
from wearfit.report.page import Page
from wearfit.store.overrides import Override
from wearfit.workflow.answers import Accepted, Current
from wearfit.workflow.brief_picture import picture_of
from wearfit.workflow.due import cases_within, due_or_overdue, wear_out_months
from wearfit.workflow.laws_in_words import by_law
from wearfit.workflow.noted_words import LOOK, last_to_look_at, why_look
from wearfit.workflow.overrides import said
from wearfit.workflow.run_in_words import percent
from wearfit.workflow.wording import CAUTION, FLASH, MOVING, count, cut, day_in_words, frequency, month_in_words, readings_since, shots

LONGEST_TOOL: Final = 48  # letters of a name that the page has room for
LONGEST_NAME: Final = 28
LONGEST_REASON: Final = 160
SHOWN_RESINS: Final = 2
MOST: Final = 3  # assumptions on the page
WORTH_DAYS: Final = 31  # a difference in days that is told
MOSTLY_LUCK: Final = 0.5  # of the spread of dates that the assumptions together leave
NEAR_HORIZON: Final = 0.93  # of it, beyond which a mean of days is not named
GAS: Final = "Some resins give off corrosive or harmful gas when overheated."

SETTLES: Final[Mapping[str, str]] = {
    "use": "A plan, or its shots a month on the list of tools, settles it.",
    "conditions": "Wear-outs and climate recorded there, and what the resins are, tell of it.",
    "tool": "A feature measured against its limit tells most about it.",
    "kind": "Every wear-out of such a tool that is recorded tells of it.",
    "age": "Its count of shots when its records begin, and its renewals before, tell of it.",
    "shape": "Wear-outs of sister tools tell of it.",
}
"""What would make each assumption surer, judgement."""


@dataclass(frozen=True)
class Told:
    """What is told of a tool: its forecast, its curves, what its date hangs on, and the owner's last judgement."""

    tool: Mapping[str, Any]
    left: RemainingLife
    hangs: tuple[Dependence, ...]
    owner: Override | None


def page_of(told: Told, current: Current, within: Accepted) -> Page:
    """What stands on the page."""
    tool, name = told.tool, cut(told.tool["tool_id"], LONGEST_TOOL)
    what = (
        cut(tool["design_id"] or "", LONGEST_NAME),
        f"service class {tool['service_class']}" if tool["service_class"] else "",
        f"at {cut(tool['plant_id'], LONGEST_NAME)}" if tool["plant_id"] else "",
        tool["status"].replace("_", " "),
    )
    return Page(
        title=f"Tool {name}: when it wears out",
        question=f"When will tool {name} wear out, and what is to be done?",
        about=f"{', '.join(filter(None, what))}. As of {day_in_words(current.as_of)}.",
        answer=answer_of(tool, within, current.as_of),
        detail=_detail(told, within, current.as_of),
        facts=_facts(tool, within, current.as_of),
        picture=None if tool["status"] == "worn" or not told.left.known else picture_of(tool, told.left, within, current.as_of),
        assumptions=_assumptions(told, within, current.as_of),
        beyond=_beyond(told),
        cautions=(CAUTION, FLASH, f"{MOVING} {GAS}"),
        rests_on=_rests_on(current, within),
    )


def answer_of(tool: Mapping[str, Any], within: Accepted, as_of: dt.date) -> str:
    """What to take away, in a sentence or two."""
    if tool["status"] == "held":
        return "STOP: this tool is held and must not run until it is released."
    look = f"{LOOK}. " if last_to_look_at(tool) else ""
    return f"{look}{_to_do(tool, within, as_of)}"


def _to_do(tool: Mapping[str, Any], within: Accepted, as_of: dt.date) -> str:
    on_order = tool["replacement_due_on"]
    comes = f"{due_or_overdue(on_order, as_of)} {day_in_words(on_order)}" if on_order else ""
    if tool["status"] == "worn" and on_order:
        return f"It is worn out. Its replacement is {comes}."
    if tool["status"] == "worn":
        return "It is worn out. Order its replacement now."
    if tool["p_within_12_months"] is None:
        return "Its date cannot be told yet."
    if on_order:
        return f"Its replacement is on order, {comes}."
    if tool["overdue"]:
        return "Order its replacement now."
    if tool["order_by"]:
        return f"Order its replacement by {day_in_words(tool['order_by'])}."
    return f"It needs no order within the next {within.horizon_years:g} years."


def _facts(tool: Mapping[str, Any], within: Accepted, as_of: dt.date) -> tuple[tuple[str, str], ...]:
    months = wear_out_months(tool, within.horizon_years, as_of)
    if months is None:
        return ()
    left, p = tool["remaining_shots"], tool["p_within_12_months"]
    facts = [("Worn out within 12 months", f"{frequency(p)} ({percent(p)})")]
    if left is not None and left["p50"] is not None:
        facts.append(("Shots left, and in 8 of 10 cases", f"{shots(left['p50'])} ({shots(left['p10'])} to {shots(left['p90'])})"))
    facts.append(("Replacement usually takes", f"{tool['lead_time_weeks']:.0f} weeks"))
    return tuple(facts)


def _detail(told: Told, within: Accepted, as_of: dt.date) -> tuple[str, ...]:
    tool, weeks = told.tool, f"{told.tool['lead_time_weeks']:.0f} weeks"
    found = []
    if noted := last_to_look_at(tool):
        found.append(why_look(noted))
    months, gap = wear_out_months(tool, within.horizon_years, as_of), tool["gap_risk_if_ordered_today"]
    if months is not None:
        likely, most = months
        cases = "" if most == likely else f"; in {cases_within(most)} of 10 such cases {_when(most)}"
        found.append(f"It most likely wears out {_when(likely)}{cases}.")
    accepted = frequency(within.tolerance).removeprefix("about ")
    if gap is not None and tool["status"] not in ("worn", "held") and not tool["replacement_due_on"]:
        found.append(
            f"With a replacement ordered today, the chance that this tool is done before it arrives is {frequency(gap)}; {accepted} is "
            "accepted."
        )
    elif tool["status"] == "worn" and not tool["replacement_due_on"]:
        found.append(f"A replacement usually takes {weeks}; until then there is no usable tool.")
    if tool["status"] in ("stored", "held"):
        away = "in store" if tool["status"] == "stored" else "held"
        found.append(f"It is {away}: the dates hold if it is back in use from {day_in_words(as_of)} on, and found good.")
    if tool["problem"]:
        found.append(tool["problem"])
    found += readings_since(tool)
    if told.owner is not None and not told.owner.says_nothing:
        by, reason = cut(told.owner.by, LONGEST_NAME), cut(told.owner.reason, LONGEST_REASON)
        found.append(
            f"{by} judged on {day_in_words(told.owner.at.date())}: {said(told.owner)}. {reason} The answer above does not count it."
        )
    return tuple(found)


def _when(months: str) -> str:
    """Months in a sentence: "in Oct 2026", "between Jul 2026 and Apr 2029"."""
    if " to " in months:
        return f"between {months.replace(' to ', ' and ')}"
    return months if months.startswith("after") else f"in {months}"


def _beyond(told: Told) -> str:
    """How much is luck, where that is most of it."""
    if not told.hangs or sum(each.share for each in told.hangs) >= MOSTLY_LUCK:
        return ""
    return "Most of the range of dates is luck, which nobody knows beforehand: two tools alike in all of this wear out at different times."


def _assumptions(told: Told, within: Accepted, as_of: dt.date) -> tuple[tuple[str, str], ...]:
    tool = told.tool
    if tool["status"] == "worn":
        due = tool["replacement_due_on"]
        usual = f"A replacement takes {tool['lead_time_weeks']:.0f} weeks."
        arrives = f"Its replacement is {due_or_overdue(due, as_of)} {day_in_words(due)}." if due else usual
        return (
            ("Its wear-out on record is right.", "It was written down as worn, or two inspections in a row were over their limit."),
            (arrives, "Ask its maker."),
            ("It makes nothing until it is renewed.", "Parts of a worn tool show flash and lost detail."),
        )
    if not told.hangs:
        return tuple((_assumed(name, tool), SETTLES[name]) for name in ("age", "use", "kind"))
    named = tool["wear_out_on"]["p50"] is not None  # else the horizon cuts most of the dates short, and a mean says little
    return tuple(
        (_assumed(each.name, tool), f"{_between(each, within, as_of) if named else ''}{SETTLES[each.name]}") for each in told.hangs[:MOST]
    )


def _assumed(name: str, tool: Mapping[str, Any]) -> str:
    """What the answer takes for granted, by the cause that it hangs on."""
    conditions = tool["conditions"]
    made = conditions["shots_per_month"]
    plant = f" at {cut(conditions['plant_id'], LONGEST_NAME)}" if conditions["plant_id"] else ""
    names = [cut(resin, LONGEST_NAME) for resin in conditions["resins"]]
    resins = f" in {', '.join(names[:SHOWN_RESINS])}{' and others' if len(names) > SHOWN_RESINS else ''}" if names else ""
    return {
        "use": f"It makes about {shots(made)} shots a month, as planned, stated or seen of late." if made else "It is used as of late.",
        "conditions": f"It runs{plant}{resins}, and each shot there wears it as the records say."
        if plant or resins
        else "It runs as of late.",
        "tool": "This very tool lasts as its own history so far says.",
        "kind": "Tools of its kind (class, steel, design, maker) last as their records say.",
        "age": "The wear behind it is what its records, or where they are silent its usual use, say.",
        "shape": "Once tools begin to wear out, they do so about as sharply as those on record.",
    }[name]


def _between(each: Dependence, within: Accepted, as_of: dt.date) -> str:
    """When it wears out at either end of what is possible, where that differs."""
    if each.bad - each.good < WORTH_DAYS:
        return ""
    last = within.horizon_years * 365.25 * NEAR_HORIZON
    early, late = (
        f"beyond {(as_of + dt.timedelta(days=last)).year}"
        if days > last
        else f"until about {month_in_words(as_of + dt.timedelta(days=days))}"
        for days in (each.good, each.bad)
    )
    return "" if early == late else f"By this alone it lasts, on average, {early} at one end of what is possible and {late} at the other. "


def _rests_on(current: Current, within: Accepted) -> tuple[str, ...]:
    identity = current.calibration.identity
    made = f"Calibration {current.number} on the records up to {day_in_words(identity.as_of)}"
    of = f"{count(identity.lives, 'life', 'lives')}, {count(identity.wear_outs, 'wear-out', 'wear-outs')}, {by_law(identity.wear_law)}"
    asked = f"Asked for {day_in_words(current.as_of)}, over {within.horizon_years:g} years."
    return (f"{made}: {of}. {asked} wearfit {__version__}.", f"Fingerprint of these records: {identity.fingerprint}")
