"""How the laws of wear compare, in sentences."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from wearfit.calibration import STACKED
from wearfit.workflow.wording import count

LAW_NAMES: Final[Mapping[str, str]] = {
    "weibull": "Weibull",
    "log-logistic": "log-logistic",
    "lognormal": "lognormal",
    STACKED: "all laws by their weights",
}
UNTOLD: Final = "not told"  # of a calibration that cannot be read
LEAST_MOVE: Final = 0.01  # of a number of shots; less is told as no change


def sentences(document: Mapping[str, Any]) -> list[str]:
    """What the comparison says, what it rests on, and what the choice changes: the choice and its reason first."""
    return [reason(document), _what_to_do(document), *_repairs(document), *_left_out(document), *_failed(document), *_changes(document)]


def of_law(name: str) -> str:
    """Which of several laws something is about."""
    return f"the {LAW_NAMES[name]} law"


def listed(name: str | None) -> str:
    """The law of a calibration where several calibrations are listed: "Weibull", "stacked"."""
    return UNTOLD if name is None else STACKED if name == STACKED else LAW_NAMES[name]


def by_law(name: str | None) -> str:
    """The same among other things that are said of it: "Weibull law", "all laws by their weights"."""
    return f"law {UNTOLD}" if name is None else LAW_NAMES[name] if name == STACKED else f"{LAW_NAMES[name]} law"


def reason(document: Mapping[str, Any]) -> str:
    """Which law, and why, in a sentence."""
    best = document["best"]
    others = [law for law in document["laws"] if law["law"] != best]
    over = f"over {count(document['lives'], 'life', 'lives')}, each forecast from all others"
    behind = " and ".join(
        f"the {LAW_NAMES[law['law']]} law is {-law['difference']:.1f} nat behind (standard error {law['error']:.1f})" for law in others
    )
    if document["chosen"] != STACKED:
        return f"The {LAW_NAMES[best]} law is clearly the best: {behind}, {over}."
    return (
        f"No law is clearly the best, which would take 4 nat and two standard errors: the {LAW_NAMES[best]} law is ahead, {behind}, "
        f"{over}; by the weights with which they forecast best together they count {_weights(document)}."
    )


def why_stacked(document: Mapping[str, Any]) -> str:
    """Why a calibration has all laws, which may have been asked for although one is clearly the best."""
    if document["chosen"] == STACKED:
        return reason(document)
    return f"All laws were asked for, and count {_weights(document)}; one alone would do. {reason(document)}"


def _weights(document: Mapping[str, Any]) -> str:
    return ", ".join(f"{LAW_NAMES[law['law']]} {100 * law['weight']:.0f} %" for law in document["laws"])


def _what_to_do(document: Mapping[str, Any]) -> str:
    chosen, used = document["chosen"], document["wear_law"]
    if chosen == used:
        return "The calibration that answers has it so."
    now = "mixes all laws" if used == STACKED else f"has the {LAW_NAMES[used]} law"
    return f"The calibration that answers {now}; `wearfit recalibrate --law {chosen}` makes one that follows this."


def _repairs(document: Mapping[str, Any]) -> list[str]:
    repaired = [law for law in document["laws"] if law["repaired"]]
    if not repaired:
        return ["Every life could be left out by weighing the draws anew; the weights can be relied on."]
    found = []
    for law in repaired:
        how = (
            "the model was sampled without each of them"
            if law["together"] == 1
            else f"the model was sampled without them, up to {law['together']} at a time"
        )
        lives = count(law["repaired"], "life weighs", "lives weigh")
        found.append(f"Under the {LAW_NAMES[law['law']]} law {lives} too much to be left out by weights: {how}.")
    return found


def _left_out(document: Mapping[str, Any]) -> list[str]:
    left_out = document["left_out"]
    if not left_out:
        return []
    one = left_out == 1
    return [
        f"{count(left_out, 'life', 'lives')} renewed on a known day for a cause that nobody stated "
        f"{'is' if one else 'are'} not compared: what {'it adds' if one else 'they add'} is no density."
    ]


def _failed(document: Mapping[str, Any]) -> list[str]:
    failed = [LAW_NAMES[law["law"]] for law in document["laws"] if not law["passed"]]
    if not failed:
        return []
    return [f"Under the {' and the '.join(failed)} law the chains do not agree well enough: take the comparison with care."]


def _changes(document: Mapping[str, Any]) -> list[str]:
    others = [forecast for forecast in document["forecasts"] if forecast["law"] != document["wear_law"]]
    return [f"Beside the calibration that answers, {change_sentence(forecast)}." for forecast in others]


def change_sentence(forecast: Mapping[str, Any]) -> str:
    """How the forecasts of the middle tool would move under a law."""
    name = forecast["law"]
    under = "all laws together" if name == STACKED else f"the {LAW_NAMES[name]} law"
    parts = [f"{what} {_moved(forecast[key])}" for what, key in (("the likely number of shots left", "likely"), ("the late end", "late"))]
    if forecast["likely"] is None or forecast["late"] is None:
        return f"{under} cannot be compared: no tool has shots left that can be told"
    return f"{under} would move {parts[0]} and {parts[1]} at the middle tool"


def _moved(ratio: float | None) -> str:
    if ratio is None or abs(ratio - 1.0) < LEAST_MOVE:
        return "by less than 1 %"
    return f"{'up' if ratio > 1.0 else 'down'} by {100 * abs(ratio - 1.0):.0f} %"


def khat_words(law: Mapping[str, Any]) -> str:
    """How well lives could be left out by weights, in two or three words."""
    return "all by weights" if not law["repaired"] else f"{law['repaired']} sampled anew"


def law_rows(document: Mapping[str, Any]) -> Sequence[tuple[str, str, str, str, str, str]]:
    """Law, elpd, difference, its standard error, weight, and how lives were left out."""
    return [
        (
            LAW_NAMES[law["law"]], f"{law['elpd']:.1f}", f"{law['difference']:.1f}", f"{law['error']:.1f}", f"{100 * law['weight']:.0f} %",
            khat_words(law),
        )
        for law in document["laws"]
    ]  # fmt: skip
