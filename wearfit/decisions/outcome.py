"""What comes of a decision: each action's cost and how often it is the best, the advice, and what that hangs on."""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from wearfit.decisions.costs import Costs
from wearfit.decisions.hangs_on import HangsOn
from wearfit.decisions.inputs import Values
from wearfit.decisions.money import amount
from wearfit.forecasts.quantiles import Quantiles, as_numbers, weighted_quantiles

Array = np.ndarray

TIED: Final = 1e-9  # share of the cost: actions that differ by less cost the same
SURE: Final = 0.9  # share of draws from which a choice is called clear; judgement
OPEN: Final = 0.6  # and up to which the draws do not tell the actions apart; judgement


@dataclass(frozen=True)
class Action:
    """One action, compared with the others."""

    action: str
    cost: Quantiles  # over draws and futures
    expected_cost: float
    expected_range: tuple[float, float]  # holds the expected cost, given the parameters, 9 times in 10
    p_best: float  # share of the draws in which its expected cost is the lowest


@dataclass(frozen=True)
class Outcome:
    """The answer of a calculator."""

    what: str
    question: str
    values: Values
    per: str
    actions: tuple[Action, ...]
    best: str
    advice: str
    hangs_on: tuple[HangsOn, ...]  # all that was tried, the nearest first
    p_best_error: float  # how far the shares may be off for want of more futures
    notes: tuple[str, ...]
    details: dict[str, Any]

    def as_json(self) -> dict[str, Any]:
        return {
            "what": self.what,
            "question": self.question,
            "inputs": [known.as_json() for known in self.values.known],
            "cost_of": self.per,
            "actions": [
                {
                    "action": a.action, "cost": a.cost, "expected_cost": a.expected_cost, "expected_cost_range": list(a.expected_range),
                    "p_best": a.p_best,
                }
                for a in self.actions
            ],
            "best": self.best,
            "advice": self.advice,
            "hangs_on": self.hangs_on[0].sentence,
            "tried": [tried.as_json() for tried in self.hangs_on],
            "p_best_error": self.p_best_error,
            "notes": list(self.notes),
            **self.details,
        }  # fmt: skip


def outcome_of(what: str, question: str, values: Values, costs: Costs, hangs: tuple[HangsOn, ...], cautions: tuple[str, ...]) -> Outcome:
    """Compare the actions."""
    samples, futures = costs.cost.shape[1:]
    each = np.repeat(costs.weights, futures)
    expected, mean = costs.expected, costs.mean
    shares = p_best(expected, costs.weights)
    quantiles = weighted_quantiles(costs.cost.reshape(len(costs.actions), samples * futures).T, each[:, None])
    ranges = weighted_quantiles(expected.T, costs.weights[:, None], (0.05, 0.95))
    actions = tuple(
        Action(name, as_numbers(quantiles[:, i]), float(mean[i]), (float(ranges[0, i]), float(ranges[1, i])), float(shares[i]))
        for i, name in enumerate(costs.actions)
    )
    best = int(np.argmin(mean))
    advice = _advice(actions, best)
    return Outcome(
        what=what,
        question=question,
        values=values,
        per=costs.per,
        actions=actions,
        best=costs.actions[best],
        advice=f"{costs.finding} {advice}" if costs.finding else advice,
        hangs_on=hangs,
        p_best_error=_error(costs),
        notes=(*costs.notes, *cautions),
        details=dict(costs.details),
    )


def p_best(expected: Array, weights: Array) -> Array:
    """Weighted share of draws in which each action's expected cost is the lowest, shape (action,); actions that tie share the draw.

    Parameters
    ----------
    expected : array, shape (action, sample)
    weights : array, shape (sample,)
    """
    least = expected.min(axis=0)
    lowest = expected <= least + TIED * np.abs(least)
    return np.asarray((lowest / lowest.sum(axis=0)) @ weights / weights.sum())


def _error(costs: Costs) -> float:
    """The most that a share moves where each draw is given half of its futures: about what is missing to endlessly many.

    Noise of expected costs spreads the shares, by an amount that goes with one over the number of futures.
    """
    futures = costs.cost.shape[2]
    if futures < 2:
        return 0.0
    halves = [p_best(half.mean(axis=2), costs.weights) for half in (costs.cost[:, :, : futures // 2], costs.cost[:, :, futures // 2 :])]
    return float(np.abs(p_best(costs.expected, costs.weights) - np.mean(halves, axis=0)).max())


def _advice(actions: tuple[Action, ...], best: int) -> str:
    """The advice in a sentence or two, as sure as the draws are."""
    first = actions[best]
    if len(actions) < 2:
        return f"There is nothing to do but {first.action} (expected cost {amount(first.expected_cost)})."
    second = min((a for i, a in enumerate(actions) if i != best), key=lambda a: a.expected_cost)
    saves = second.expected_cost - first.expected_cost
    less = f"expected cost {amount(first.expected_cost)}, {amount(saves)} less than to {second.action}"
    often = f"It is the cheapest in {100 * first.p_best:.0f} of 100 draws"
    if first.p_best >= SURE:
        return f"Best: {first.action} ({less}). {often}: a clear choice."
    likelier = max(actions, key=lambda a: a.p_best)
    if likelier.p_best > first.p_best:
        likelier_best = f"{likelier.action} is so in {100 * likelier.p_best:.0f}, but costs much more in others"
        return f"Best: {first.action} ({less}). {often}; {likelier_best}."
    if first.p_best <= OPEN:
        return f"Best by a little: {first.action} ({less}). {often}: what is known hardly tells the actions apart."
    return f"Best: {first.action} ({less}). {often}."
