"""The peers of the accuracy benchmark against libraries, closed forms and simple known cases."""

import dataclasses

import numpy as np
import pytest
from accuracy_parts.lives import PeerLives
from accuracy_parts.peers import fit_forest, joined_steps
from accuracy_parts.regression import (
    aft_log_likelihood,
    chosen,
    cox_log_likelihood,
    fit_aft,
    fit_cox,
    held_out_aft,
    held_out_cox,
    risk_sets,
)
from scipy.optimize import approx_fprime
from sksurv.linear_model import CoxPHSurvivalAnalysis
from sksurv.util import Surv

from wearfit.evidence.weibull import Lives, fit_weibull


def made_up(n: int, seed: int, slope: float = 0.5, late: bool = True, shape: float = 2.5) -> PeerLives:
    """Weibull lives with one covariate that matters, one that does not and three groups; some entered late, some found late."""
    rng = np.random.default_rng(seed)
    x, group = rng.standard_normal((n, 2)), rng.integers(0, 3, n)
    life = np.exp(slope * x[:, 0] + 0.3 * (group == 1)) * rng.weibull(shape, n)
    entry = np.where(rng.random(n) < 0.3, rng.uniform(0.0, 0.7, n), 0.0) if late else np.zeros(n)
    stop = entry + rng.exponential(1.5, n)
    seen = life > entry
    event = (life <= stop).astype(float)
    end = np.minimum(life, stop)
    good = np.where((rng.random(n) < 0.2) & (event == 1) & late, entry + 0.8 * (end - entry), end)
    lives = PeerLives(entry, good, end, event, np.arange(n), x, (group[:, None] == np.arange(3)).astype(float), np.ones(3, bool))
    return lives.part(seen)


def test_the_gradients_are_those_of_differences():
    lives = dataclasses.replace(made_up(30, 1), event=np.random.default_rng(1).choice([0.0, 0.6, 1.0], len(made_up(30, 1).end)))
    rng = np.random.default_rng(2)
    log_life = 0.3 * rng.standard_normal(len(lives.end))
    _, by_life, by_shape = aft_log_likelihood(lives, log_life, 0.7)
    numeric = approx_fprime(log_life, lambda v: aft_log_likelihood(lives, v, 0.7)[0], 1e-7)
    np.testing.assert_allclose(by_life, numeric, atol=2e-5)
    shape = approx_fprime(np.array([0.7]), lambda v: aft_log_likelihood(lives, log_life, v[0])[0], 1e-7)
    assert by_shape == pytest.approx(shape[0], abs=2e-5)
    _, by_score = cox_log_likelihood(lives, risk_sets(lives), log_life)
    np.testing.assert_allclose(
        by_score, approx_fprime(log_life, lambda v: cox_log_likelihood(lives, risk_sets(lives), v)[0], 1e-7), atol=2e-5
    )


def test_without_groups_the_aft_is_the_products_own_rival():
    lives = made_up(150, 3)
    theirs = fit_weibull(
        Lives(lives.entry, lives.good, lives.end, lives.good < lives.end, lives.event > 0, np.zeros(len(lives.end), bool)),
        lives.covariates,
        ridge=4.0,
    )
    ours = fit_aft(lives, 4.0, np.inf)
    assert np.exp(ours.log_shape) == pytest.approx(theirs.shape, rel=1e-3)
    for row in range(5):
        mine = ours.log_life(lives.covariates[row], lives.groups[row])
        assert mine == pytest.approx(float(theirs.log_life(lives.covariates[row])), abs=1e-3)


def test_cox_without_late_entry_is_the_librarys():
    lives = made_up(200, 4, late=False)
    z = (lives.covariates - lives.covariates.mean(axis=0)) / lives.covariates.std(axis=0)
    theirs = CoxPHSurvivalAnalysis(alpha=4.0, ties="breslow", tol=1e-12).fit(z, Surv.from_arrays(lives.event > 0, lives.end))
    ours = fit_cox(lives, 4.0, np.inf)
    np.testing.assert_allclose(ours.slopes, theirs.coef_, atol=2e-4)
    at = theirs.cum_baseline_hazard_
    steps = np.interp(ours.times, at.x, at.y)
    np.testing.assert_allclose(ours.hazard, steps, rtol=2e-3)


def test_late_entry_is_heeded_by_both():
    """Many lives entered late: the slope and the law come out as they are, which they would not if entry were ignored."""
    lives = made_up(4_000, 5)
    aft = fit_aft(lives, 0.0, 1e-6)
    spread = lives.covariates[:, 0].std()  # slopes are of standardised covariates
    assert aft.slopes[0] / spread == pytest.approx(0.5, abs=0.04)
    assert np.exp(aft.log_shape) == pytest.approx(2.5, abs=0.12)
    cox = fit_cox(lives, 0.0, 1e-6)
    assert cox.slopes[0] / spread == pytest.approx(-0.5 * 2.5, abs=0.1)
    reference = joined_steps(cox.times, cox.hazard)
    x = np.array([lives.covariates[:, 0].mean(), lives.covariates[:, 1].mean()])
    ratio = np.exp(cox.log_hazard_ratio(x, np.array([1.0, 0.0, 0.0])))
    at = np.array([0.5, 1.0, 1.5])
    truth = (at * np.exp(-0.5 * x[0])) ** 2.5
    np.testing.assert_allclose(ratio * reference(at), truth, rtol=0.15)


def test_cross_validation_keeps_what_matters_and_drops_what_does_not():
    plain, strong = made_up(120, 6, slope=0.0), made_up(120, 6, slope=0.8)
    for held_out in (held_out_aft, held_out_cox):
        assert chosen(plain, held_out)[0] > chosen(strong, held_out)[0]


def test_the_forest_tells_long_lives_from_short_ones():
    lives = made_up(300, 7, slope=1.0, late=False)
    forest = fit_forest(lives, 8, True, 100)
    long, short = (forest.hazards(np.array([[x, 0.0]]), np.array([[1.0, 0.0, 0.0]]))[0](np.array([0.8]))[0] for x in (1.2, -1.2))
    assert long < 0.5 * short


def test_a_joined_hazard_follows_a_power_between_and_beyond_its_steps():
    hazard = np.arange(1, 2_001) / 2_000.0
    joined = joined_steps((hazard - 0.5 / 2_000.0) ** (1.0 / 3.0), hazard)
    at = np.array([0.03, 0.2, 0.5, 0.9, 3.0])
    np.testing.assert_allclose(joined(at), at**3, rtol=0.02)
    assert np.all(np.diff(joined(np.linspace(0.001, 5.0, 500))) > 0)
