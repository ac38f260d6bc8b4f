"""Leave-one-out scores against closed forms, stacking against a general optimiser, and when a law is clearly better."""

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.stats import norm

from wearfit import law
from wearfit.calibration import STACKED
from wearfit.evidence.law_scores import MOST_REFITS, choose, leave_one_out, stacking_weights

Array = np.ndarray
NAMES = ("weibull", "log-logistic", "lognormal")


def no_refit(lives: Array) -> Array:
    raise AssertionError("nothing is to be repaired")


def posterior_of_mean(values: Array, rng: np.random.Generator, draws: int) -> Array:
    """Draws of the mean of normal values of variance one under a flat prior."""
    return np.asarray(values.mean() + rng.standard_normal(draws) / np.sqrt(len(values)))


def test_scores_are_those_of_the_closed_form() -> None:
    """Leaving out one of n normal values, the others' mean and a variance of 1 + 1/(n-1) forecast it."""
    rng = np.random.default_rng(3)
    values = rng.standard_normal(40)
    mean = posterior_of_mean(values, rng, 4000)
    scores = leave_one_out(norm.logpdf(values, loc=mean[:, None]), no_refit)
    others = (values.sum() - values) / 39
    assert scores.elpd == pytest.approx(norm.logpdf(values, loc=others, scale=np.sqrt(1.0 + 1.0 / 39)), abs=0.02)
    assert not scores.repaired.any()


def test_a_life_whose_weights_cannot_be_relied_on_is_forecast_by_a_posterior_without_it() -> None:
    rng = np.random.default_rng(4)
    values = np.append(rng.standard_normal(5), 9.0)
    mean = posterior_of_mean(values, rng, 1000)
    asked = []

    def refit(lives: Array) -> Array:
        asked.append(lives.tolist())
        less = np.delete(values, lives)
        return np.asarray(norm.logpdf(values[lives], loc=posterior_of_mean(less, rng, 4000)[:, None]))

    scores = leave_one_out(norm.logpdf(values, loc=mean[:, None]), refit)
    assert scores.repaired[-1] and asked == [[int(i)] for i in np.flatnonzero(scores.repaired)]
    assert scores.together == 1
    expected = norm.logpdf(9.0, loc=values[:-1].mean(), scale=np.sqrt(1.2))
    assert scores.elpd[-1] == pytest.approx(expected, rel=0.1)


def test_many_such_lives_are_left_out_in_groups() -> None:
    rng = np.random.default_rng(5)
    asked: list[int] = []

    def refit(lives: Array) -> Array:
        asked.extend(lives.tolist())
        return np.zeros((10, len(lives)))

    wild = 40.0 * rng.standard_cauchy((1000, 20))
    told: list[float] = []
    scores = leave_one_out(wild, refit, told.append)
    assert told == pytest.approx((np.arange(MOST_REFITS) + 1) / MOST_REFITS)
    bad = np.flatnonzero(scores.repaired)
    assert len(bad) > MOST_REFITS
    assert sorted(asked) == bad.tolist()
    assert scores.together == int(np.ceil(len(bad) / MOST_REFITS))
    assert scores.elpd[bad] == pytest.approx(0.0)


def test_stacking_weights_are_those_of_a_general_optimiser() -> None:
    elpd = np.random.default_rng(6).standard_normal((60, 3)) + np.array([0.3, 0.0, 0.2])

    def short(free: Array) -> float:
        weight = np.exp(np.append(free, 0.0) - np.logaddexp.reduce(np.append(free, 0.0)))
        return -float(np.logaddexp.reduce(elpd + np.log(weight), axis=1).sum())

    best = minimize(short, np.zeros(2), method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 1e-10, "maxiter": 4000})
    weight = np.exp(np.append(best.x, 0.0) - np.logaddexp.reduce(np.append(best.x, 0.0)))
    assert stacking_weights(elpd) == pytest.approx(weight, abs=2e-3)


def test_a_law_is_chosen_alone_only_where_it_is_clearly_better() -> None:
    rng = np.random.default_rng(7)
    noise = 0.05 * rng.standard_normal((100, 3))
    clear = choose(NAMES, noise + np.array([0.0, 0.1, -0.1]))
    assert clear.chosen == "log-logistic" and clear.best == 1
    assert clear.difference[0] == pytest.approx(-10.0, abs=2.0)
    assert clear.error[1] == 0.0
    assert choose(NAMES, noise + np.array([0.0, 0.03, 0.0])).chosen == STACKED  # three nats are no clear difference, however sure
    assert choose(NAMES, 2.0 * rng.standard_normal((100, 3)) + np.array([0.0, 0.1, 0.0])).chosen == STACKED  # nor are ten within the noise
    assert choose(NAMES, noise).weights.sum() == pytest.approx(1.0)


def lives_under(code: int, rng: np.random.Generator, n: int) -> tuple[Array, Array]:
    """Wear at the end of lives of a law of shape 2 and characteristic life 1, and whether they wore out; a fifth or so goes on."""
    capacity = law.wear_at(rng.standard_exponential(n), 0.0, law.Shape(2.0, code))
    seen = rng.uniform(0.3, 2.5, n)
    return np.minimum(capacity, seen), capacity <= seen


class Posterior:
    """Log k and log eta of lives under a law, by a grid under flat priors."""

    def __init__(self, code: int, end: Array, worn: Array, rng: np.random.Generator) -> None:
        self._k, self._eta = (a.ravel() for a in np.meshgrid(np.linspace(0.2, 1.2, 41), np.linspace(-0.4, 0.4, 41), indexing="ij"))
        shape, eta, self._rng = law.Shape(np.exp(self._k)[:, None], code), self._eta[:, None], rng
        self._told = np.where(worn, law.log_hazard(end, eta, shape), 0.0) - law.cumulative_hazard(end, eta, shape)

    def draws(self, without: Array) -> Array:
        """Places on the grid of draws of the posterior without some lives."""
        total = np.delete(self._told, without, axis=1).sum(axis=1)
        return self._rng.choice(len(total), 1000, p=np.exp(total - np.logaddexp.reduce(total)))

    def elpd(self) -> Array:
        everything = self._told[self.draws(np.array([], dtype=int))]
        return leave_one_out(everything, lambda lives: self._told[self.draws(lives)][:, lives]).elpd

    def log_k(self) -> Array:
        return np.asarray(self._k[self.draws(np.array([], dtype=int))])


@pytest.mark.parametrize("code", range(len(NAMES)), ids=NAMES)
def test_the_law_that_lives_were_drawn_by_is_the_one_they_speak_for(code: int) -> None:
    rng, ahead = np.random.default_rng(8 + code), 0
    for _ in range(6):
        end, worn = lives_under(code, rng, 300)
        fits = [Posterior(c, end, worn, rng) for c in range(len(NAMES))]
        found = choose(NAMES, np.stack([fit.elpd() for fit in fits], axis=1))
        assert found.chosen in (NAMES[code], STACKED)  # the truth is never rejected
        ahead += found.best == code
        log_k = fits[code].log_k()
        assert abs(log_k.mean() - np.log(2.0)) < 4.0 * log_k.std()
    assert ahead >= 4  # of 300 lives each; the log-logistic and the lognormal law lie close to one another
