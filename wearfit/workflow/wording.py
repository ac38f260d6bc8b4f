"""Numbers, dates and risks as a reader takes them in."""

import datetime as dt
import math
from collections.abc import Mapping
from typing import Any, Final

CAUTION: Final = (
    "This is a planning aid. It does not replace inspection by a competent person, the makers' instructions, local codes and "
    "regulations or licensed judgement; where they differ, they govern."
)
FLASH: Final = (
    "Sharp flash or broken-off small parts on a child's product stop a run whatever the numbers say (toy safety standards such as "
    "EN 71-1, ISO 8124-1, ASTM F963; 16 CFR 1501)."
)
HELD: Final = f"STOP marks a tool that is held: it must not run. {FLASH}"
MOVING: Final = "Moving a tool: tools are heavy; use their rated lifting points and rated racks, and lock out before opening."

UNKNOWN: Final = "-"
PLAIN: Final = ((0.45, (4, 10)), (0.55, (1, 2)), (0.635, (6, 10)), (0.71, (2, 3)), (0.775, (3, 4)))
"""Chances up to a limit, and how they are called: so many in so many."""
MONTHS: Final = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def frequency(p: float | None) -> str:
    """A probability as a natural frequency: "about 1 in 12", "about 2 in 3".

    Notes
    -----
    Tenths where no smaller number of cases is near, so that a quarter, a third and a half are called that.
    """
    if p is None:
        return UNKNOWN
    if p < 0.001:
        return "< 1 in 1,000"
    if p > 0.999:
        return "> 999 in 1,000"
    if p < 0.365:
        return f"about 1 in {_round(1 / p):,}"
    if p < 0.945:
        part, of = next((fraction for limit, fraction in PLAIN if p < limit), (round(10 * p), 10))
        return f"about {part} in {of}"
    of = max(20, _round(1 / (1 - p)))  # as all beyond it can be pictured, and 17 in 18 cannot
    return f"about {of - 1:,} in {of:,}"


def frequencies(interval: tuple[float, float] | list[float] | None) -> str:
    """An interval of probabilities: "1 in 20 to 1 in 7"."""
    if interval is None:
        return UNKNOWN
    low, high = (frequency(p).removeprefix("about ") for p in interval)
    return low if low == high else f"{low} to {high}"


def _round(n: float) -> int:
    """To a number that one can picture."""
    size = next(size for limit, size in ((20, 1), (50, 5), (100, 10), (math.inf, 50)) if n <= limit)
    return size * round(n / size)


def shots(n: float | None) -> str:
    """A number of shots, no finer than it is known."""
    if n is None:
        return UNKNOWN
    if n < 1000:
        return f"{n:,.0f}"
    size = 10 ** (len(str(int(n))) - 3)
    return f"{round(n / size) * size:,.0f}"


def spread(q: Mapping[str, Any] | float | None) -> str:
    """Likely value of shots, with the range that holds 8 of 10."""
    if q is None or isinstance(q, int | float):
        return shots(q)
    if q["p50"] is None:
        return UNKNOWN
    return f"{shots(q['p50'])} ({shots(q['p10'])} to {shots(q['p90'])})"


def month(day: str | None, beyond: str) -> str:
    """The month of a day; `beyond` where the day lies past the horizon."""
    return beyond if day is None else day[:7]


def factor(q: Mapping[str, float | None] | None) -> str:
    """Likely value of a life factor, with the range that holds 9 of 10."""
    if q is None or q["p50"] is None:
        return UNKNOWN
    return f"{q['p50']:.2f} ({q['p05']:.2f} to {q['p95']:.2f})"


def count(n: int, one: str, many: str) -> str:
    """A number with its noun: "1 row", "2 rows"."""
    return f"{n:,} {one if n == 1 else many}"


def capital(text: str) -> str:
    """With a capital letter first, as a sentence begins."""
    return text[:1].upper() + text[1:]


def cut(text: str, longest: int) -> str:
    """Text in one paragraph, cut with an ellipsis where it is longer than `longest` characters."""
    line = " ".join(text.split())
    return line if len(line) <= longest else line[: longest - 1].rstrip() + "…"


def readings_since(answer: Mapping[str, Any]) -> list[str]:
    """What the readings since the calibration are to a tool's answer, in sentences."""
    n = answer["readings_since"]
    counted = f"{count(n, 'reading', 'readings')} since the calibration {'is' if n == 1 else 'are'} counted." if n else None
    return [sentence for sentence in (counted, answer["readings_note"]) if sentence]


def readings_uncounted(document: Mapping[str, Any]) -> list[str]:
    """Which readings of the store and of a file are not counted, and why, in sentences."""
    given = document.get("readings_given", {"problems": []})
    sentences = [f"Row {each['row']} of the readings given is not counted: {each['problem']}" for each in given["problems"]]
    if later := document["readings_later"]:
        n, day = later["count"], later["latest_on"]
        stored = f"{count(n, 'stored reading is', 'stored readings are')} dated after {document['as_of']} and not counted"
        sentences.append(f"{stored}: ask with `--as-of {day}` to count {'it' if n == 1 else 'them'}.")
    return sentences


def day_in_words(day: dt.date | str) -> str:
    """A day as one says it: "30 Jun 2026"."""
    day = dt.date.fromisoformat(day) if isinstance(day, str) else day
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def month_in_words(day: dt.date | str) -> str:
    """The month of a day, or of a month written 2026-06: "Jun 2026"."""
    year, number = str(day).split("-")[:2]
    return f"{MONTHS[int(number) - 1]} {year}"
