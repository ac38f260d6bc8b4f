"""The answer to a next run in words: the chance, what it hangs on, and how it compares with what is accepted."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from wearfit.forecasts.hangs_on import Dependence
from wearfit.workflow.wording import frequencies, frequency, shots

CAUSES: Final[Mapping[str, tuple[str, str]]] = {
    "tool": ("this very tool", "how long this very tool lasts beside others of its kind"),
    "kind": ("tools of its kind", "how long tools of its class, steel and design last"),
    "age": ("wear behind it", "how much wear it has behind it"),
    "use": ("use until the run", "how much it is used before the run begins"),
    "plant": ("the plant", "what the plant does to a tool"),
    "resin": ("the resin", "what the resin does to a tool"),
    "setup": ("the set-up", "what a set-up costs"),
    "shape": ("how sharply tools wear out", "how sharply tools wear out once they begin to"),
}
"""Each cause by its short name and as what is not known."""

TELLS: Final[Mapping[str, str]] = {
    "tool": "A feature that is measured against its limit tells most about it.",
    "kind": "Each wear-out of a tool of this kind that is recorded tells of it.",
    "age": "Its count of shots when the records begin, and its renewals before, tell of it.",
    "use": "A plan for the months until then tells of it.",
    "plant": "Runs and wear-outs at that plant, and its climate, tell of it.",
    "resin": "The resin's filler and chemistry, and wear-outs of tools that run it, tell of it.",
    "setup": "Set-ups that are recorded with the runs tell of it.",
    "shape": "Second lives and wear-outs of sister tools tell of it.",
}
"""What would make each cause surer, judgement."""

WORTH_TELLING: Final = 0.02  # share of the spread that is told


def chance_sentence(answer: Mapping[str, Any]) -> str:
    """What the chance is of, to stand after the chance itself."""
    return (
        f"that {answer['tool_id']} wears out before the run of {shots_exactly(answer['shots'])} at {answer['plant_id']} in "
        f"{answer['resin_id']} is finished."
    )


def interval_sentence(answer: Mapping[str, Any]) -> str:
    """How sure the chance is."""
    low, high = answer["p_wear_out_interval"]
    ends = frequencies((low, high)).split(" to ")
    if len(ends) == 1:
        return f"The records leave little doubt about that chance ({percents(low, high)})."
    return f"The chance itself is not known exactly: with 9 in 10 certainty it lies between {ends[0]} and {ends[1]}."


def accepted_sentence(answer: Mapping[str, Any], risk: float, largest: int) -> str:
    """The run against the largest one at the accepted chance."""
    if largest == 0:
        return f"No run is small enough for a chance of {percent(risk)}."
    if largest >= answer["shots"]:
        return f"This run stays within {percent(risk)}, and so would one of {shots(largest)} shots."
    return f"This run goes beyond {percent(risk)}: the largest run within it is {shots(largest)} shots."


def hangs_sentence(found: Sequence[Dependence]) -> str:
    """What the answer hangs on most, and what it would be at either end."""
    most = found[0]
    if most.share < WORTH_TELLING:
        return "No single thing that is unknown moves this chance by much."
    _, unknown = CAUSES[most.name]
    good, bad = frequency(most.good), frequency(most.bad)
    best = f"In the best fifth of what is possible the chance would be {good}, in the worst {bad}"
    ends = best if good != bad else f"In the best fifth of what is possible and in the worst the chance would be {good}"
    return (
        f"The answer hangs most on {unknown}. {ends}; knowing it exactly would take away {percent(most.share)} of the variance of the "
        f"chance. {TELLS[most.name]}"
    )


def new_sentences(answer: Mapping[str, Any]) -> list[str]:
    """What no record tells of."""
    asked = {answer["plant_id"], answer["resin_id"]}
    return [
        f"{name}, never seen here: drawn from its population" + (", so that the answer is wide." if name in asked else ".")
        for name in answer["new"]
    ]


def shots_exactly(n: float) -> str:
    """A number of shots that somebody asked for."""
    return f"{n:,.0f} shot" if n == 1 else f"{n:,.0f} shots"


def percents(low: float, high: float) -> str:
    """An interval of chances in per cent."""
    least, most = percent(low), percent(high)
    return least if least == most else f"{least} to {most}"


def percent(p: float) -> str:
    """A chance in per cent, to two digits."""
    return "under 0.1 %" if p < 0.001 else "over 99.9 %" if p > 0.999 else f"{float(f'{100 * p:.2g}'):g} %"
