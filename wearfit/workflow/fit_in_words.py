"""What the fit to the records says, in sentences."""

import math
from collections.abc import Mapping
from typing import Any, Final

from wearfit.workflow.wording import count

MONTHS: Final = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December",
)  # fmt: skip
TITLES: Final[Mapping[str, str]] = {
    "all": "All lives",
    "class": "Service class",
    "plant": "Plant",
    "month": "Month of the year",
    "year": "Year",
    "age": "Shots of the life so far, % of its band",
    "filler": "Filler of the resin, %",
    "corrosive": "Corrosive resin",
    "sweating": "Hours in which the mould sweats, %",
    "corrosivity": "Corrosion in the plant's air, times a dry hall's",
    "speed": "Speed of the press",
    "modifications": "Modifications since the last retool",
    "refurbishments": "Refurbishments since the last retool",
    "earlier_lives": "Lives of the tool before",
    "steel": "Cavity steel",
    "maker": "Toolmaker",
    "cavities": "Cavities",
    "measured": "Measured as it wore",
}
"""What lives are parted by, as a table calls it."""

_SUBJECTS: Final[Mapping[str, str]] = {
    "class": "tools of class {}",
    "plant": "tools at {}",
    "month": "tools in {}",
    "year": "tools in {}",
    "age": "tools that have made {} % of their band's shots",
    "filler": "tools in resins with {} % of filler",
    "sweating": "tools in hours of which the mould sweats in {} %",
    "corrosivity": "tools in air that corrodes {} times as fast as a dry hall's",
    "speed": "tools on presses that run {}",
    "modifications": "tools modified {} times since their last retool",
    "refurbishments": "tools refurbished {} times since their last retool",
    "earlier_lives": "tools with {} lives behind them",
    "steel": "tools with cavities of {} steel",
    "maker": "tools made by {}",
    "cavities": "tools with {} cavities",
}
_BY_NAME: Final[Mapping[tuple[str, str], str]] = {
    ("all", ""): "tools",
    ("class", "own_band"): "tools with a band of their own",
    ("class", "not known"): "tools whose class is not known",
    ("corrosive", "yes"): "tools in corrosive resins",
    ("corrosive", "no"): "tools in resins that do not corrode",
    ("measured", "yes"): "tools that were measured as they wore",
    ("measured", "no"): "tools that nobody measured",
}


def part_name(by: str, name: str) -> str:
    """A part, as a table calls it."""
    if by == "month":
        return MONTHS[int(name) - 1]
    if by == "class":
        return {"own_band": "band of its own"}.get(name, name)
    return name.replace("_", " ")


def subject(by: str, name: str) -> str:
    """The tools of a part, as a sentence calls them."""
    return _BY_NAME.get((by, name)) or _SUBJECTS[by].format(part_name(by, name) if by in ("month", "steel") else name)


def sentences(document: Mapping[str, Any]) -> list[str]:
    """The answer first, then each misfit, then what it rests on."""
    told = sorted((c for c in document["checks"] if c["told"]), key=lambda c: c["p"])
    return [_answer(document, told), *(misfit(c) for c in told), _whole(document["checks"][0]), *_counted(document["counted"])]


def _answer(document: Mapping[str, Any], told: list[Mapping[str, Any]]) -> str:
    looked = f"{count(document['looked_at'], 'thing', 'things')} looked at"
    if not told:
        return f"Nothing stands out: of {looked}, in none did more or fewer tools wear out than luck allows."
    stands = "one stands" if len(told) == 1 else f"{len(told)} stand"
    return f"Of {looked}, {stands} out by more than luck allows: the forecasts are to be doubted there."


def misfit(c: Mapping[str, Any]) -> str:
    """One misfit as a sentence."""
    named = subject(c["by"], c["name"])
    when = "earlier" if c["observed"] > c["expected"] else "later"
    return (
        f"{named[0].upper()}{named[1:]} end {when} than the model believes: {_number(c['observed'])} wore out where "
        f"{c['expected']:.1f} were expected; by chance alone in {odds(c['p'])}."
    )


def odds(p: float) -> str:
    """How often luck alone leaves a number as far off: "1 of 40"."""
    if p > 0.5:
        return "often"
    if p < 1e-4:
        return "less than 1 of 10,000"
    n = 1.0 / p
    size = next(size for limit, size in ((20, 1), (50, 5), (200, 10), (2000, 100), (math.inf, 500)) if n < limit)
    return f"1 of {size * round(n / size):,}"


def _whole(c: Mapping[str, Any]) -> str:
    return (
        f"In all {_number(c['observed'])} wore out where {c['expected']:.0f} were expected; luck, and what is not known, leave "
        f"{c['low']:.0f} to {c['high']:.0f} in 9 of 10 such histories."
    )


_DOUBTS: Final = (
    ("between", "wear-out found between two days is placed where it was likeliest",
     "wear-outs found between two days are placed where they were likeliest"),
    ("unstated", "renewal whose cause nobody stated counts as the part of a wear-out that it may be",
     "renewals whose cause nobody stated count as the part of a wear-out that they may be"),
    ("measured", "life that was measured is held against the law alone, not against its readings",
     "lives that were measured are held against the law alone, not against their readings"),
    ("reckoned", "life whose age at its first record is reckoned counts at each age by its chance, and has no place in the curves",
     "lives whose age at their first record is reckoned count at each age by its chance, and have no place in the curves"),
    ("left_out", "life is left out, as its age is not on record and cannot be reckoned",
     "lives are left out, as their age is not on record and cannot be reckoned"),
)  # fmt: skip


def _counted(n: Mapping[str, int]) -> list[str]:
    rests = (
        f"Each of {count(n['lives'], 'life', 'lives')} counts with its own entry, end and conditions. What a tool's earlier lives told "
        "of it is heeded, its own life never: a life is not used to expect itself, but through what all lives share."
    )
    return [rests, *(f"{count(n[what], one, more)}." for what, one, more in _DOUBTS if n[what])]


def _number(wear_outs: float) -> str:
    """A number of wear-outs; a renewal without a stated cause counts as part of one."""
    return f"{wear_outs:.0f}" if abs(wear_outs - round(wear_outs)) < 0.05 else f"about {wear_outs:.{0 if wear_outs >= 20.0 else 1}f}"
