"""Laws held against each other: leave-one-life-out scores, which law is clearly better, and weights where none is.

A life is forecast from all others: by draws of the posterior with the life, weighed by one over what the life adds (Pareto-smoothed:
Vehtari, Gelman & Gabry 2017, Stat. Comput. 27), or where these weights cannot be relied on by draws of a posterior without it. The
scores' sum is the expected log predictive density (elpd). Its difference between laws is told from noise by more than two standard
errors, and by more than four nats, under which a standard error itself misleads (Sivula, Magnusson, Matamoros & Vehtari 2020,
arXiv 2008.10296). Where no law is clearly better all are kept, by the weights with which their mixture forecasts lives best (stacking:
Yao, Vehtari, Simpson & Gelman 2018, Bayesian Anal. 13).
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from wearfit.calibration import STACKED
from wearfit.model.importance import smoothed

Array = np.ndarray

ERRORS: Final = 2.0  # standard errors by which a law must be better
NATS: Final = 4.0
TURNS: Final = 20_000
CLOSE: Final = 1e-12  # [nat] a life, of one turn
MOST_REFITS: Final = 8  # posteriors without lives whose weights cannot be relied on
LEAST: Final = 1e-300
LEAST_WEIGHT: Final = 0.02  # of a law that is kept

Refit = Callable[[Array], Array]
"""Log-likelihoods, shape (draw, life), of some lives, given by their places, from a posterior without all of them."""


@dataclass(frozen=True)
class Scores:
    """One law. Arrays of shape (life,).

    Parameters
    ----------
    elpd : array
        Log predictive density of each life given the others. [nat]
    khat : array
        Shape of the tail of its weights; -inf where they are all but even.
    repaired : array
        Whether its weights could not be relied on, so that a posterior without it was sampled.
    together : int
        Most lives that one such posterior was without.
    """

    elpd: Array
    khat: Array
    repaired: Array
    together: int


def leave_one_out(log_likelihood: Array, refit: Refit, told: Callable[[float], None] = lambda share: None) -> Scores:
    """Scores of all lives; `log_likelihood` (draw, life) from the posterior with all of them. `told` hears how much of it is done."""
    scores = by_weights(log_likelihood)
    groups, anew = without_together(scores), list[Array]()
    for lives in groups:
        anew.append(forecast(refit(lives)))
        told(len(anew) / len(groups))
    return repaired_by(scores, groups, anew)


def by_weights(log_likelihood: Array) -> Scores:
    """Scores by weights alone; `repaired` are the lives whose weights cannot be relied on."""
    n = log_likelihood.shape[1]
    elpd, khat, repaired = np.zeros(n), np.zeros(n), np.zeros(n, dtype=bool)
    for i, of_life in enumerate(log_likelihood.T):
        weighed = smoothed(-of_life)
        elpd[i] = np.logaddexp.reduce(np.log(np.maximum(weighed.weights, LEAST)) + of_life)
        khat[i], repaired[i] = weighed.khat, not weighed.reliable
    return Scores(elpd, khat, repaired, 0)


def without_together(scores: Scores) -> list[Array]:
    """Lives to be repaired, by which are left out together: one by one, or where there are more than MOST_REFITS in as many groups.

    Each life is then forecast from somewhat fewer lives than it might be.
    """
    bad = np.flatnonzero(scores.repaired)
    folds = min(len(bad), MOST_REFITS)
    return [bad[fold::folds] for fold in range(folds)]


def forecast(log_likelihood: Array) -> Array:
    """Log predictive density of lives, shape (life,), by draws from a posterior without them, (draw, life)."""
    return np.asarray(np.logaddexp.reduce(log_likelihood, axis=0) - np.log(len(log_likelihood)))


def repaired_by(scores: Scores, groups: list[Array], anew: list[Array]) -> Scores:
    """Scores with those of some lives, group by group, taken from posteriors without them."""
    elpd = scores.elpd.copy()
    for lives, of_lives in zip(groups, anew, strict=True):
        elpd[lives] = of_lives
    return replace(scores, elpd=elpd, together=max((len(lives) for lives in groups), default=0))


@dataclass(frozen=True)
class Choice:
    """What to use, and how laws compare. Arrays of shape (law,).

    Parameters
    ----------
    chosen : str
        A law's name, or `calibration.STACKED`.
    best : int
        The law of the highest elpd.
    difference, error : array
        elpd less that of the best, and its standard error. [nat]
    weights : array
        Of stacking; a law under LEAST_WEIGHT has none.
    """

    chosen: str
    best: int
    difference: Array
    error: Array
    weights: Array


def choose(names: tuple[str, ...], elpd: Array) -> Choice:
    """The law that is clearly better than every other, or all of them stacked; `elpd` (life, law)."""
    total = elpd.sum(axis=0)
    best = int(total.argmax())
    apart = elpd - elpd[:, [best]]
    difference, error = apart.sum(axis=0), np.sqrt(len(elpd) * apart.var(axis=0, ddof=1))
    others = np.arange(len(names)) != best
    clear = bool((-difference[others] > np.maximum(ERRORS * error[others], NATS)).all())
    weights = stacking_weights(elpd)
    weights = np.where(weights < LEAST_WEIGHT, 0.0, weights)
    return Choice(names[best] if clear else STACKED, best, difference, error, weights / weights.sum())


def stacking_weights(elpd: Array) -> Array:
    """Weights of the mixture of laws that forecasts lives best, shape (law,): sum of log(sum of weight times density) at its highest.

    By steps that only rise (expectation and maximisation of a mixture whose parts are known); the sum is concave, so they end at the top.
    """
    density = np.exp(elpd - elpd.max(axis=1, keepdims=True))
    weights = np.full(elpd.shape[1], 1.0 / elpd.shape[1])
    before = -np.inf
    for _ in range(TURNS):
        mixed = density @ weights
        now = float(np.log(mixed).mean())
        if now - before < CLOSE:
            break
        before = now
        weights = weights * (density / mixed[:, None]).mean(axis=0)
    return np.asarray(weights / weights.sum())
