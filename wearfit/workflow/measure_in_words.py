"""What to measure next, in words: which record, what it would narrow, and by when to look at a tool."""

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any, Final

from wearfit.workflow.wording import count, frequency, month_in_words

WORTH_MONTHS: Final = 0.5  # a record that narrows the range by less is not worth a line, judgement
SOON_DAYS: Final = 365  # an inspection further ahead is none to plan now
LATE: Final = "9999"

RECORDS: Final[Mapping[str, str]] = {
    "reading": "a reading of {feature} now",
    "opening": "its shots before its records",
    "steel": "its cavity steel",
    "class": "its service class",
    "use": "how much it will be used",
    "coolant": "the coolant temperature at {of}",
    "hall_air": "the hall air at {of}",
    "climate": "the climate of every month at {of}",
    "deposits": "chloride and sulfur dioxide at {of}",
    "description": "what {of} is: filler, corrosive or not",
}
WHERE: Final[Mapping[str, str]] = {
    "reading": "readings",
    "opening": "tools: opening_life_shots",
    "steel": "tools: cavity_steel",
    "class": "tools: service_class",
    "use": "plan; or tools: shots_per_month",
    "coolant": "plants: coolant_temp_c",
    "hall_air": "climate, place = hall",
    "climate": "climate",
    "deposits": "plants: chloride_mg_m2_day, so2_mg_m2_day",
    "description": "resins: filler_pct, filler_kind, corrosive",
}
"""The table and column that each goes to."""


def record_in_words(record: Mapping[str, Any]) -> str:
    """A record: "its cavity steel", "a reading of flash_mm now"."""
    return RECORDS[record["record"]].format(**record)


def best_of(tool: Mapping[str, Any]) -> Mapping[str, Any] | None:
    """The record that narrows a tool's range most, or that it lacks for any date; None where none is worth it."""
    records = tool["records"]
    if not records or (records[0]["narrows_months"] is not None and records[0]["narrows_months"] < WORTH_MONTHS):
        return None
    first: Mapping[str, Any] = records[0]
    return first


def best_in_words(tool: Mapping[str, Any]) -> str:
    """What to find out about a tool next."""
    if tool["status"] in ("held", "worn"):
        return "held: must not run" if tool["status"] == "held" else "worn out"
    best = best_of(tool)
    return "nothing that would help much" if best is None else record_in_words(best)


def narrows_in_words(tool: Mapping[str, Any], horizon_years: float) -> str:
    """The range before and after: "27 → 15 months"."""
    if tool["status"] in ("held", "worn"):
        return ""
    if tool["range_months"] is None:
        return "no date yet"
    if tool["range_months"] == 0.0:
        return f"past {horizon_years:g} years"
    now, best = months(tool["range_months"]), best_of(tool)
    return f"{now} months" if best is None else f"{now} → {months(best['range_months'])} months"


def inspect_in_words(tool: Mapping[str, Any], as_of: str, horizon_years: float) -> str:
    """By when to look at a tool: "now", "Sep 2026"."""
    if tool["status"] in ("held", "worn") or tool["range_months"] is None:
        return ""
    if tool["status"] == "stored":
        return "before it runs"
    if tool["inspect_by"] is None:
        return f"past {horizon_years:g} years"
    return "now" if tool["inspect_by"] <= as_of else month_in_words(tool["inspect_by"])


def months(n: float) -> str:
    """A number of months, no finer than it is known."""
    return f"{n:.0f}" if n >= 9.95 else f"{n:.1f}"


def by_urgency(tools: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Tools in the order in which they are to be looked at; those that need none last, held and worn ones after them."""
    return sorted(
        tools,
        key=lambda t: (
            t["status"] in ("held", "worn"),
            t["status"] == "stored",
            t["inspect_by"] or LATE,
            -(t["records"][0]["narrows_months"] or 0.0) if t["records"] else 0.0,
            t["tool_id"],
        ),
    )


def summary(document: Mapping[str, Any]) -> list[str]:
    """What is to be done, in sentences."""
    as_of = document["as_of"]
    soon = (dt.date.fromisoformat(as_of) + dt.timedelta(days=SOON_DAYS)).isoformat()
    asked = [t for t in document["tools"] if t["status"] not in ("held", "worn", "stored") and t["range_months"] is not None]
    now = sum((t["inspect_by"] or LATE) <= as_of for t in asked)
    later = sum(as_of < (t["inspect_by"] or LATE) <= soon for t in asked)
    said = []
    if asked:
        first = f"{now:,} {'is' if now == 1 else 'are'} to be looked at now, {later:,} more within 12 months"
        rest = f"{len(asked) - now - later:,} not before {month_in_words(soon)}"
        said.append(f"Of {count(len(asked), 'tool', 'tools')} that may run, {first}, and {rest}.")
    best = [record for record in map(best_of, document["tools"]) if record is not None]
    kinds = {kind: sum(record["record"] == kind for record in best) for kind in RECORDS}
    if any(kinds.values()):
        ranked = sorted(((n, kind) for kind, n in kinds.items() if n), key=lambda pair: -pair[0])
        parts = [f"{RECORDS[kind].format(feature='a feature', of='its plant or resin')} for {n:,}" for n, kind in ranked]
        said.append(f"What would narrow the wear-out date most: {'; '.join(parts)}.")
    return said


def meaning(document: Mapping[str, Any]) -> str:
    """What the columns mean."""
    return (
        f"The range is that of the days that hold 8 in 10 of a wear-out within {document['horizon_years']:g} years, now and as it would be "
        f"on average with the record. Inspect by: until then the chance that it has worn out unnoticed stays under "
        f"{frequency(document['unnoticed']).removeprefix('about ')}, and two weeks are left before its order day."
    )


def shared_rows(document: Mapping[str, Any]) -> list[tuple[str, str, str]]:
    """Records that several tools share: what, how many tools, and what it would narrow over all of them."""
    return [
        (record_in_words(record), count(record["tools"], "tool", "tools"), f"{months(record['narrows_months'])} months in all")
        for record in (*document["plants"], *document["resins"])
    ]
