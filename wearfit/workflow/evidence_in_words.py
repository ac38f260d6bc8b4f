"""How far to trust the current calibration: what it was believed from, and whether its own draws are sound."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.forecasts.believed import Belief, class_lives, wear_factors
from wearfit.workflow.moved_in_words import belief_name, entry_of
from wearfit.workflow.wording import count, shots

SEARCHES: Final = 4  # chains of a calibration
MOST_SEARCHED: Final = 10  # quantities that are drawn search by search
TOLD: Final = 0.2  # share of a belief's width that the records must have taken away, to say that they told of it; judgement


@dataclass(frozen=True)
class Beliefs:
    """What was believed before the records, and after.

    Parameters
    ----------
    lives : tuple of Belief
        Of new tools of each service class. [machine shots]
    factors : tuple of Belief
        On the wear of a shot.
    """

    lives: tuple[Belief, ...]
    factors: tuple[Belief, ...]


def beliefs_of(calibration: Calibration) -> Beliefs:
    """Beliefs before and after the records of a calibration."""
    return Beliefs(class_lives(calibration), wear_factors(calibration))


def life_sentence(belief: Belief) -> str:
    """One class's life before and after, in words."""
    (low, likely, high), (was_low, was, was_high) = belief.after, belief.before
    return (
        f"Class {belief.name}: likely {shots(likely)} shots ({shots(low)} to {shots(high)}); the band alone said {shots(was)} "
        f"({shots(was_low)} to {shots(was_high)})"
    )


def factor_sentence(belief: Belief) -> str:
    """One covariate's effect before and after, in words."""
    (low, likely, high), (was_low, was, was_high) = belief.after, belief.before
    told = (
        "the records have told little of it" if belief.narrowed < 0.2 else f"believed before: {was:.2f} ({was_low:.2f} to {was_high:.2f})"
    )
    meaning = belief.meaning[0].upper() + belief.meaning[1:]
    return f"{meaning}: wear times {likely:.2f} ({low:.2f} to {high:.2f}); {told}"


def factor_sentences(beliefs: Sequence[Belief]) -> list[str]:
    """What the records have told of each covariate, and of which they have told little."""
    told = [factor_sentence(belief) for belief in beliefs if belief.narrowed >= TOLD]
    open_still = [belief.short for belief in beliefs if belief.narrowed < TOLD]
    return told + ([f"The records have told little of: {'; '.join(open_still)}"] if open_still else [])


def soundness(diagnostics: Mapping[str, Any], lives: int, wear_outs: int) -> list[str]:
    """Whether the draws of a calibration are sound, in plain words.

    Parameters
    ----------
    diagnostics : mapping
        Of `Identity.diagnostics`.
    """
    draws, astray = diagnostics["draws"], diagnostics["divergences"]
    return [
        f"It rests on {count(lives, 'life', 'lives')}, of which {count(wear_outs, 'is', 'are')} known to have worn out.",
        "Four separate searches through what is possible came to the same answer."
        if diagnostics["passed"]
        else "Its separate searches through what is possible did not come to the same answer.",
        f"Each number rests on at least {_independent(diagnostics):,} independent draws; 400 are enough to read off ranges.",
        "No draw went astray." if astray == 0 else f"{astray} of {draws:,} draws went astray; one in a thousand may.",
    ]


@dataclass(frozen=True)
class Searched:
    """One quantity as the separate searches found it: medians and middle halves, in standard deviations about the mean of all.

    Parameters
    ----------
    name : str
    found : tuple of (low, middle, high)
        One a search.
    """

    name: str
    found: tuple[tuple[float, float, float], ...]


def searches(calibration: Calibration) -> tuple[Searched, ...]:
    """The quantities in which the searches differ most, that first; their draws lie one search after another.

    Raises
    ------
    ValueError
        Where the draws are no whole number for each search.
    """
    drawn, levels = calibration.draws, calibration.levels
    names = [
        *(belief_name(entry_of(str(name))) for name in levels.coefficient),
        *(belief_name(str(name)) for name in levels.share),
        *(belief_name(f"group.{name}") for name in levels.group),
    ]
    values = np.concatenate([drawn.coefficient, drawn.share, drawn.scale], axis=1).astype(float)
    sd = values.std(axis=0)
    apart = ((values - values.mean(axis=0)) / np.where(sd > 1e-9, sd, 1.0)).reshape(SEARCHES, -1, len(names))
    low, middle, high = np.quantile(apart, (0.25, 0.5, 0.75), axis=1)
    furthest = np.argsort(-np.where(sd > 1e-9, np.ptp(middle, axis=0), -1.0))[:MOST_SEARCHED]
    return tuple(
        Searched(names[i], tuple((float(low[s, i]), float(middle[s, i]), float(high[s, i])) for s in range(SEARCHES)))
        for i in furthest
        if sd[i] > 1e-9
    )


def _independent(diagnostics: Mapping[str, Any]) -> int:
    return int(min(diagnostics["ess_bulk_min"], diagnostics["ess_tail_min"]))


def diagnostic_rows(diagnostics: Mapping[str, Any]) -> Sequence[tuple[str, float, str]]:
    """The numbers behind that: name, value, and what is asked of it."""
    return (
        (
            "R-hat, the largest of all parameters",
            float(diagnostics["rhat_max"]),
            "1.01 at most (1.02 for single plants, tools and the like)",
        ),
        ("Effective draws of the middle, the fewest", float(diagnostics["ess_bulk_min"]), "400 at least"),
        ("Effective draws of the tails, the fewest", float(diagnostics["ess_tail_min"]), "400 at least"),
        ("Divergent draws", float(diagnostics["divergences"]), "1 in 1,000 at most"),
        ("E-BFMI, the smallest of the chains", float(diagnostics["ebfmi_min"]), "above 0.3"),
    )
