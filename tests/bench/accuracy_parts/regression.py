"""Penalised regressions for lives that are entered late: the Weibull accelerated failure time model, and Cox's.

Each has two ridges, one on the slopes of standardised covariates and one on the levels of groups, chosen by cross-validation over tools.
No library at hand has late entry, interval censoring and both ridges; tests hold these equal to libraries where they overlap.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import product
from typing import Any, Final

import numpy as np
from scipy.optimize import minimize

from accuracy_parts.lives import PeerLives

Array = np.ndarray

RIDGES: Final = (1.0, 4.0, 16.0, 64.0)  # on slopes
GROUP_RIDGES: Final = (2.0, 8.0, 32.0, np.inf)  # on levels; inf leaves the groups out
FOLDS: Final = 5
LEAST: Final = 1e-300


@dataclass(frozen=True)
class Scaling:
    """How a row of covariates and groups becomes a row of the regression."""

    centre: Array
    spread: Array
    varies: Array  # bool
    groups: bool  # whether levels are used

    def columns(self, covariates: Array, groups: Array) -> Array:
        """Columns of the regression, shape (row, column)."""
        z = ((np.atleast_2d(covariates) - self.centre) / self.spread)[:, self.varies]
        return np.concatenate([z, np.atleast_2d(groups)], axis=1) if self.groups else z

    def ridges(self, levels: int, ridge: float, group_ridge: float) -> Array:
        return np.concatenate([np.full(int(self.varies.sum()), ridge), np.full(levels if self.groups else 0, group_ridge)])


def scaling(lives: PeerLives, groups: bool) -> Scaling:
    centre, spread = lives.covariates.mean(axis=0), lives.covariates.std(axis=0)
    varies = spread > 1e-9 * (1.0 + np.abs(lives.covariates).max(axis=0, initial=0.0))
    return Scaling(centre, np.where(varies, spread, 1.0), varies, groups)


@dataclass(frozen=True)
class WeibullAft:
    """Log characteristic life is `intercept` plus columns times `slopes`, in lives of the band."""

    scaling: Scaling
    intercept: float
    log_shape: float
    slopes: Array

    def log_life(self, covariates: Array, groups: Array) -> float:
        return float(self.intercept + (self.scaling.columns(covariates, groups) @ self.slopes)[0])


def aft_log_likelihood(lives: PeerLives, log_life: Array, log_shape: float) -> tuple[float, Array, float]:
    """Log-likelihood of lives, its derivatives by each log life, shape (life,), and by the log shape.

    A life whose cause of ending nobody stated counts as a wear-out by its chance of one, and as censored by the rest.
    """
    k, w = np.exp(log_shape), lives.event
    found = lives.good < lives.end
    y_entry, y_good, y_end = (np.clip(k * (np.log(np.maximum(t, LEAST)) - log_life), -700.0, 50.0) for t in _times(lives))
    entry, good, end = np.exp(y_entry), np.exp(y_good), np.exp(y_end)
    by_shape_entry, by_shape_good, by_shape_end = entry * y_entry, good * y_good, end * y_end
    rise = np.maximum(end - good, 1e-12)
    odds = 1.0 / np.expm1(np.minimum(rise, 500.0))
    exact_value = log_shape + y_end - np.log(np.maximum(lives.end, LEAST))
    event_value = np.where(found, np.log(-np.expm1(-rise)), exact_value)
    event_life = np.where(found, -k * odds * rise, -k)
    event_shape = np.where(found, odds * (by_shape_end - by_shape_good), 1.0 + y_end)
    value = entry - good + w * event_value
    by_life = k * (good - entry) + w * event_life
    by_shape = by_shape_entry - by_shape_good + w * event_shape
    return float(value.sum()), by_life, float(by_shape.sum())


def _times(lives: PeerLives) -> tuple[Array, Array, Array]:
    return lives.entry, lives.good, lives.end


def fit_aft(lives: PeerLives, ridge: float, group_ridge: float, plain: bool = False) -> WeibullAft:
    """Fit by penalised maximum likelihood; `plain` takes no covariates at all."""
    scale = scaling(lives, np.isfinite(group_ridge) and not plain)
    x = np.zeros((len(lives.end), 0)) if plain else scale.columns(lives.covariates, lives.groups)
    penalty = np.zeros(0) if plain else scale.ridges(lives.groups.shape[1], ridge, group_ridge)

    def loss(p: Array) -> tuple[float, Array]:
        value, by_life, by_shape = aft_log_likelihood(lives, p[0] + x @ p[2:], p[1])
        gradient = np.concatenate([[by_life.sum(), by_shape], x.T @ by_life - penalty * p[2:]])
        return 0.5 * float(penalty @ p[2:] ** 2) - value, -gradient

    found = _minimised(loss, np.concatenate([[0.0, np.log(2.0)], np.zeros(x.shape[1])]), [(-8.0, 8.0), (-2.0, 3.0)])
    slopes = np.zeros(len(scale.columns(lives.covariates[:1], lives.groups[:1])[0])) if plain else found[2:]
    return WeibullAft(scale, float(found[0]), float(found[1]), slopes)


def held_out_aft(train: PeerLives, test: PeerLives, ridge: float, group_ridge: float) -> float:
    fitted = fit_aft(train, ridge, group_ridge)
    log_life = fitted.intercept + fitted.scaling.columns(test.covariates, test.groups) @ fitted.slopes
    return aft_log_likelihood(test, log_life, fitted.log_shape)[0]


@dataclass(frozen=True)
class Cox:
    """Hazard is exp(columns times slopes) times a baseline that steps at `times` to `hazard`, its cumulative value."""

    scaling: Scaling
    slopes: Array
    times: Array
    hazard: Array

    def log_hazard_ratio(self, covariates: Array, groups: Array) -> float:
        return float((self.scaling.columns(covariates, groups) @ self.slopes)[0])


def cox_log_likelihood(lives: PeerLives, at_risk: Array, score: Array) -> tuple[float, Array]:
    """Breslow's log partial likelihood, weighted by the chance of each event, and its derivative by each score, shape (life,)."""
    events = np.flatnonzero(lives.event > 0)
    shift = float(score.max(initial=0.0))
    risk = np.exp(score - shift)
    total = at_risk @ risk
    w = lives.event[events]
    by_score = lives.event - risk * ((w / total) @ at_risk)
    return float(w @ (score[events] - np.log(total) - shift)), by_score


def risk_sets(lives: PeerLives) -> Array:
    """Which lives are under observation just before each event, shape (event, life); events in order of life."""
    at = lives.middle[lives.event > 0]
    return ((lives.entry[None, :] < at[:, None]) & (lives.middle[None, :] >= at[:, None])).astype(float)


def fit_cox(lives: PeerLives, ridge: float, group_ridge: float) -> Cox:
    """Fit by penalised partial likelihood with late entry; the baseline is Breslow's."""
    scale = scaling(lives, bool(np.isfinite(group_ridge)))
    x, at_risk = scale.columns(lives.covariates, lives.groups), risk_sets(lives)
    penalty = scale.ridges(lives.groups.shape[1], ridge, group_ridge)

    def loss(p: Array) -> tuple[float, Array]:
        value, by_score = cox_log_likelihood(lives, at_risk, x @ p)
        return 0.5 * float(penalty @ p**2) - value, penalty * p - x.T @ by_score

    slopes = _minimised(loss, np.zeros(x.shape[1]), [])
    events = np.flatnonzero(lives.event > 0)
    order = np.argsort(lives.middle[events], kind="stable")
    steps = lives.event[events] / (at_risk @ np.exp(x @ slopes))
    return Cox(scale, slopes, lives.middle[events][order], np.cumsum(steps[order]))


def held_out_cox(train: PeerLives, test: PeerLives, ridge: float, group_ridge: float) -> float:
    """What the held-out lives add to the log partial likelihood of all (Verweij & van Houwelingen 1993, Stat. Med. 12)."""
    fitted = fit_cox(train, ridge, group_ridge)
    both = PeerLives(*(np.concatenate([getattr(train, n), getattr(test, n)]) for n in PARTS), train.broad)

    def value(lives: PeerLives) -> float:
        return cox_log_likelihood(lives, risk_sets(lives), fitted.scaling.columns(lives.covariates, lives.groups) @ fitted.slopes)[0]

    return value(both) - value(train)


PARTS: Final = ("entry", "good", "end", "event", "tool", "covariates", "groups")


def folds(lives: PeerLives, number: int = FOLDS) -> list[Array]:
    """Masks of the lives held out, a tool's lives together."""
    tools = np.unique(lives.tool)
    of_tool = np.random.default_rng(len(tools)).permutation(len(tools)) % number
    return [of_tool[np.searchsorted(tools, lives.tool)] == fold for fold in range(min(number, len(tools)))]


def chosen(lives: PeerLives, held_out: Callable[..., float], grid: Any = None) -> tuple[Any, ...]:
    """The setting under which lives that are held out are likeliest."""
    grid = list(product(RIDGES, GROUP_RIDGES)) if grid is None else list(grid)
    parts = [(lives.part(~fold), lives.part(fold)) for fold in folds(lives)]
    parts = [(train, test) for train, test in parts if train.event.sum() >= 2.0]
    totals = [sum(held_out(train, test, *setting) for train, test in parts) for setting in grid]
    return tuple(grid[int(np.argmax(totals))])


def _minimised(loss: Callable[[Array], tuple[float, Array]], start: Array, bounds: list[tuple[float, float]]) -> Array:
    limits = bounds + [(-20.0, 20.0)] * (len(start) - len(bounds))
    found = minimize(loss, start, jac=True, method="L-BFGS-B", bounds=limits, options={"maxiter": 500, "ftol": 1e-10})
    return np.asarray(found.x)
