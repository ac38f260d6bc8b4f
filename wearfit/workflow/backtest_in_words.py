"""What a backtest says, in sentences."""

import math
from collections.abc import Mapping
from typing import Any, Final

from wearfit.workflow.wording import count, frequency

NAMES: Final = {"class_band": "the class band", "pooled_weibull": "one pooled Weibull law", "weibull_aft": "a Weibull AFT model"}
"""The rivals, as a sentence calls them."""


def sentences(document: Mapping[str, Any]) -> list[str]:
    """The answer of a backtest, what it rests on, and what to be wary of; the first one says whether it earned its keep.

    Parameters
    ----------
    document : mapping
        With the keys of `evidence.report.report`.
    """
    return [
        earned(document),
        _how_many(document),
        _calibrated(document),
        _covered(document),
        *_cautions(document),
    ]


def earned(document: Mapping[str, Any]) -> str:
    """Whether the forecasts have earned their keep."""
    asked = f"Its forecasts of {count(document['n'], 'run', 'runs')}"
    verdict, rivals = document["verdict"], document["baselines"]
    if verdict == "too few":
        return f"{asked} met {_number(document['wear_outs'])} wear-outs, too few to tell whether it has earned its keep."
    gaps = [f"{_gap(rival['behind'])} than {NAMES[name]}" for name, rival in rivals.items()]
    gave = f"on average it gave what then happened {', '.join(gaps[:-1])} and {gaps[-1]}"
    if verdict == "earned":
        return (
            f"{asked} beat all that the owner would do without it by more than luck with tools explains, so it has earned its keep: {gave}."
        )
    if verdict == "not yet":
        unsure = " and ".join(NAMES[name] for name, rival in rivals.items() if rival["behind"]["range"][0] <= 0.0)
        return f"{asked} beat {unsure} by no more than luck with tools explains, so it has not yet earned its keep: {gave}."
    best = min(rivals, key=lambda name: rivals[name]["behind"]["mean"])
    return f"{asked} were no better than those of {NAMES[best]}, so it has not earned its keep: {gave}."


def _gap(behind: Mapping[str, Any]) -> str:
    """A difference of log scores as so much more of a chance given to what happened, with its range."""
    mean, low, high = (100.0 * math.expm1(nats) for nats in (behind["mean"], *behind["range"]))
    if mean < 0.0:
        return f"{-mean:.1f} % ({-high:.1f} to {-low:.1f}) less of a chance"
    return f"{mean:.1f} % ({low:.1f} to {high:.1f}) more of a chance"


def _how_many(document: Mapping[str, Any]) -> str:
    days = count(len(document["cutoffs"]), "past day", "past days")
    tools = count(document["tools"], "tool", "tools")
    low, high = document["wear_outs_range"]
    worn, expected = document["wear_outs"], document["expected_wear_outs"]
    said = (
        f"It was asked on {days} about {tools}, {document['horizon_months']} months ahead each, on what was then known. Of the runs "
        f"{_number(worn)} wore their tool out; it expected {_number(expected)}: luck, and what it did not know of all tools together, "
        f"leave {low} to {high}."
    )
    if low <= worn <= high:
        return said
    return f"{said} Its chances were too {'low' if worn > high else 'high'}."


def _calibrated(document: Mapping[str, Any]) -> str:
    off = [group for group in document["calibration_curve"] if not group["low"] <= group["observed"] <= group["high"]]
    groups = len(document["calibration_curve"])
    if not off:
        return f"Its chances came true: in each of {groups} groups of runs with like chances no more or fewer wore out than luck allows."
    said = "; ".join(f"told {frequency(group['forecast'])}, {frequency(group['observed'])} of {group['n']} runs did" for group in off)
    return f"In {len(off)} of {groups} groups of runs with like chances more or fewer wore out than luck allows: {said}."


def _covered(document: Mapping[str, Any]) -> str:
    held, spread = document["coverage"]["80"], document["coverage_range"]["80"]
    lives = count(document["lives"], "life", "lives")
    return (
        f"The ranges of shots left that should hold 8 of 10 tools held {100 * held:.0f} % of {lives} ({100 * spread[0]:.0f} to "
        f"{100 * spread[1]:.0f} %): {_number(document['lives_worn'])} have worn out since, the others count as far as they were seen."
    )


def _cautions(document: Mapping[str, Any]) -> list[str]:
    said = []
    failed = [day["cutoff"] for day in document["by_cutoff"] if not day["passed_the_gate"]]
    if failed:
        said.append(f"On {', '.join(failed)} the calibration did not pass its gate; it would not have answered then.")
    if document["left_out"]:
        many = count(document["left_out"], "forecast of a tool is", "forecasts of tools are")
        said.append(f"{many} left out: no rival can place a tool whose shots before the records are not known.")
    said.append(
        "Tools that were renewed ahead of wear count as good until then; where they were renewed because they looked worn, this flatters "
        "whoever expects late wear-outs."
    )
    return said


def _number(wear_outs: float) -> str:
    """A number of wear-outs; a renewal without a stated cause counts as part of one."""
    return f"{wear_outs:.0f}" if abs(wear_outs - round(wear_outs)) < 0.05 else f"about {wear_outs:.0f}"
