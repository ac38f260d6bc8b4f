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
    gaps = ", ".join(f"{NAMES[name]} by {_gap(rival['behind'])}" for name, rival in rivals.items())
    if verdict == "earned":
        return f"{asked} beat {gaps}, each by more than luck with tools would, so it has earned its keep."
    best = min(rivals, key=lambda name: rivals[name]["behind"]["mean"])
    if verdict == "not yet":
        unsure = " and ".join(NAMES[name] for name, rival in rivals.items() if rival["behind"]["range"][0] <= 0.0)
        return f"{asked} beat {gaps}; against {unsure} that may be luck with tools, so it has not yet earned its keep."
    return f"{asked} were beaten by {NAMES[best]}, so it has not earned its keep: {_signed(rivals)}."


def _signed(rivals: Mapping[str, Any]) -> str:
    return ", ".join(f"{_gap(rival['behind'])} against {NAMES[name]}" for name, rival in rivals.items())


def _gap(behind: Mapping[str, Any]) -> str:
    """A difference of log scores, and its range, in hundredths of a nat as per cent of chance given to what happened."""
    mean, (low, high) = behind["mean"], behind["range"]
    return f"{_per_cent(mean)} ({_per_cent(low)} to {_per_cent(high)})"


def _per_cent(nats: float) -> str:
    return f"{100.0 * math.expm1(nats):.1f} %"


def _how_many(document: Mapping[str, Any]) -> str:
    days = count(len(document["cutoffs"]), "past day", "past days")
    tools = count(document["tools"], "tool", "tools")
    return (
        "By so many per cent it gave what happened more of a chance, run by run on average; in brackets the range that holds 9 of 10 such "
        f"fleets. Asked on {days} about {tools}, {document['horizon_months']} months ahead each, on what was then known: "
        f"{_number(document['wear_outs'])} runs wore their tool out, {_number(document['expected_wear_outs'])} were expected to."
    )


def _calibrated(document: Mapping[str, Any]) -> str:
    off = [group for group in document["calibration_curve"] if not group["low"] <= group["observed"] <= group["high"]]
    groups = len(document["calibration_curve"])
    if not off:
        return f"Told chances came true: in all {groups} groups of runs with like chances as many wore out as one would expect."
    said = "; ".join(f"of {group['n']} runs told {frequency(group['forecast'])}, {frequency(group['observed'])} did" for group in off)
    return f"In {len(off)} of {groups} groups of runs with like chances more or fewer wore out than luck allows: {said}."


def _covered(document: Mapping[str, Any]) -> str:
    held, spread = document["coverage"]["80"], document["coverage_range"]["80"]
    lives = count(document["lives"], "life", "lives")
    return (
        f"The range of shots left that should hold 8 of 10 tools held {100 * held:.0f} % of {lives} ({100 * spread[0]:.0f} to "
        f"{100 * spread[1]:.0f} %); {_number(document['lives_worn'])} of them have worn out since, the others count as far as they were seen."
    )


def _cautions(document: Mapping[str, Any]) -> list[str]:
    said = []
    failed = [day["cutoff"] for day in document["by_cutoff"] if not day["passed_the_gate"]]
    if failed:
        said.append(f"On {', '.join(failed)} the calibration did not pass its gate; it would not have answered then.")
    if document["left_out"]:
        many = count(document["left_out"], "forecast of a tool is", "forecasts of tools are")
        said.append(f"{many} left out, as its shots before the records are not known and no rival could place it.")
    said.append(
        "Tools that were renewed ahead of wear count as good until then; where they were renewed because they looked worn, this flatters "
        "whoever expects late wear-outs."
    )
    return said


def _number(wear_outs: float) -> str:
    """A number of wear-outs; a renewal without a stated cause counts as part of one."""
    return f"{wear_outs:.0f}" if abs(wear_outs - round(wear_outs)) < 0.05 else f"about {wear_outs:.0f}"
