"""Published posteriors, and exact ones by quadrature, with their priors built around the product's per-life likelihood.

"seen" = the value was read in the text named. Quadrature must give the digits stated; a sampled posterior its mean within
0.1 posterior sd and its sd within 5 %, each plus four Monte Carlo standard errors.
"""

from typing import Any

import numpy as np
import nutpie
import pymc as pm
import pytensor
import pytensor.tensor as pt
import pytest
from arviz_stats.base import array_stats
from published_lives import DATA, nist_lives, observed
from quadrature import Posterior, grid, posterior

from wearfit import law

Array = np.ndarray


def sample(model: pm.Model, seed: int, jittered: set[Any]) -> Any:
    """Posterior of a small model, four chains."""
    with pytensor.config.change_flags(numba__fastmath=False):
        compiled = nutpie.compile_pymc_model(model, backend="numba", freeze_model=True, jitter_rvs=jittered)
    trace = nutpie.sample(compiled, draws=6000, tune=1000, chains=4, cores=2, seed=seed, progress_bar=False, target_accept=0.95)
    assert trace.sample_stats.diverging.mean() <= 0.001
    return trace.posterior


def assert_sampled(draws: Array, mean: float, sd: float) -> None:
    """`draws` has shape (chain, draw)."""
    of_mean, of_sd = (float(array_stats.mcse(draws, chain_axis=0, draw_axis=1, method=m)) for m in ("mean", "sd"))
    assert draws.mean() == pytest.approx(mean, abs=0.1 * sd + 4.0 * of_mean)
    assert draws.std() == pytest.approx(sd, abs=0.05 * sd + 4.0 * of_sd)


# --- NIST/SEMATECH e-Handbook 8.4.1.2: own priors, exact by quadrature --------------------------------------------------

LOG_ETA, LOG_SHAPE = grid(np.linspace(5.0, 20.0, 1201), np.linspace(-3.5, 2.2, 241))


def nist_log_likelihood() -> Array:
    """By node of (LOG_ETA, LOG_SHAPE)."""
    return np.asarray(nist_lives().log_likelihood(LOG_ETA[..., None], np.exp(LOG_SHAPE)[..., None]).sum(axis=-1))


def test_nist_with_an_informed_prior() -> None:
    """log eta ~ N(log 500, 1.5), log k ~ N(log 2, .7). Expected: quadrature, own specification."""
    log_prior = -0.5 * (((LOG_ETA - np.log(500.0)) / 1.5) ** 2 + ((LOG_SHAPE - np.log(2.0)) / 0.7) ** 2)
    known = posterior(nist_log_likelihood() + log_prior)
    shape = np.exp(LOG_SHAPE)
    log_b10 = np.log(law.wear_at(-np.log1p(-0.1), LOG_ETA, shape))
    assert (known.mean(LOG_ETA), known.sd(LOG_ETA)) == pytest.approx((6.4788, 0.2439), abs=1e-4)
    assert (known.mean(shape), known.sd(shape)) == pytest.approx((1.6463, 0.4497), abs=1e-4)
    assert (known.mean(log_b10), known.sd(log_b10)) == pytest.approx((5.0026, 0.3873), abs=1e-4)


def test_nist_with_a_flat_prior() -> None:
    """Flat on (log eta, log k). Expected: quadrature, own specification; the mean of eta is infinite, so its median."""
    known = posterior(nist_log_likelihood())
    shape = np.exp(LOG_SHAPE)
    survival = law.survival(200.0, LOG_ETA, shape)
    assert (known.mean(LOG_ETA), known.sd(LOG_ETA)) == pytest.approx((6.5206, 0.2908), abs=1e-4)
    assert np.exp(known.median(LOG_ETA[:, 0], axis=0)) == pytest.approx(646.4, abs=0.3)
    assert (known.mean(shape), known.sd(shape)) == pytest.approx((1.5631, 0.4813), abs=1e-4)
    assert (known.mean(survival), known.sd(survival)) == pytest.approx((0.8400, 0.0689), abs=1e-4)


def test_nist_sampled() -> None:
    """The informed prior again, with the likelihood in a PyTensor graph and sampled by NUTS."""
    with pm.Model() as model:
        log_eta = pm.Normal("log_eta", np.log(500.0), 1.5)
        log_shape = pm.Normal("log_shape", np.log(2.0), 0.7)
        pm.Potential("lives", nist_lives().log_likelihood(log_eta, pt.exp(log_shape), pt).sum())
    draws = sample(model, seed=1, jittered={log_eta, log_shape})
    assert_sampled(draws["log_eta"].to_numpy(), 6.4788, 0.2439)
    assert_sampled(np.exp(draws["log_shape"].to_numpy()), 1.6463, 0.4497)


# --- a conjugate case --------------------------------------------------------------------------------------------------


def test_conjugate_exponential() -> None:
    """31 failures in 17,907 h, rate ~ Gamma(2.5, 2350). Hamada, Wilson, Reese & Martz 2008, Bayesian Reliability, ex. 4.3."""
    lives = observed(np.full(31, 17_907.0 / 31.0), np.ones(31))  # at a constant hazard only their sum matters
    rate = np.linspace(2e-4, 5e-3, 2001)
    log_prior = 1.5 * np.log(rate) - 2350.0 * rate
    known = posterior(lives.log_likelihood(-np.log(rate)[:, None], 1.0).sum(axis=-1) + log_prior)
    assert known.mean(rate) == pytest.approx(1.65375e-3, abs=1e-8)
    assert known.mean(1.0 / rate) == pytest.approx(623.29, abs=0.01)


# --- BUGS Examples Vol. I, Mice ----------------------------------------------------------------------------------------

SHAPE, LOG_LIFE = grid(np.linspace(0.8, 6.0, 201), np.linspace(2.2, 5.5, 331))


def mice(time: Array, group: Array, event: Array) -> tuple[Posterior, list[float]]:
    """Posterior of r, and the posterior mean of the median life of each group.

    hazard r exp(beta_g) t^(r-1), beta_g ~ N(0, precision .001), r ~ Exp(.001). In the law's terms k = r and
    log eta_g = -beta_g / r, whose density takes the factor r of the change of variable. Given r the groups are independent.
    """
    log_marginal = -0.001 * SHAPE[:, 0]
    medians = []
    for g in np.unique(group):
        lives = observed(time[group == g], event[group == g])
        log_prior = -0.5 * 0.001 * (SHAPE * LOG_LIFE) ** 2 + np.log(SHAPE)
        log_density = lives.log_likelihood(LOG_LIFE[..., None], SHAPE[..., None]).sum(axis=-1) + log_prior
        peak = log_density.max(axis=1, keepdims=True)
        mass = np.exp(log_density - peak)
        log_marginal = log_marginal + peak[:, 0] + np.log(mass.sum(axis=1))
        medians.append(np.average(law.wear_at(np.log(2.0), LOG_LIFE, SHAPE), axis=1, weights=mass))
    known = posterior(log_marginal)
    return known, [known.mean(m) for m in medians]


def test_bugs_mice() -> None:
    """Dellaportas & Smith 1993; data seen. Expected: quadrature. Printed, seen: r 2.98 (MultiBUGS), 2.908 (OpenBUGS)."""
    group, time, event = np.loadtxt(DATA / "bugs_mice.csv", delimiter=",", skiprows=1, unpack=True)
    shape, medians = mice(time, group, event)
    r = SHAPE[:, 0]
    assert (shape.mean(r), shape.sd(r)) == pytest.approx((2.9657, 0.3057), abs=1e-4)
    assert medians == pytest.approx([23.80, 35.12, 26.78, 21.37], abs=0.02)
    assert shape.mean(r) == pytest.approx(2.98, abs=0.1 * 0.3057)


def test_bugs_mice_miscopied() -> None:
    """A copy in circulation has 17 where the original has 1 for the second mouse of group 1: r 3.27, recomputed."""
    group, time, event = np.loadtxt(DATA / "bugs_mice.csv", delimiter=",", skiprows=1, unpack=True)
    time[1] = 17.0
    shape, _ = mice(time, group, event)
    assert shape.mean(SHAPE[:, 0]) == pytest.approx(3.27, abs=0.01)


# --- BUGS Examples Vol. I, Kidney --------------------------------------------------------------------------------------


def kidney_model(listing: Array) -> tuple[pm.Model, set[Any]]:
    """log mu = alpha + age + sex + disease + b_patient; r ~ Gamma(1, .001), 1 / sigma^2 ~ Gamma(.001, .001).

    In the law's terms k = r and log eta = -log mu / r. `level` is alpha at the mean age, which leaves the prior of alpha
    as it was and the sampler with less to do; frailties are drawn in units of sigma. Only they start from a jittered
    point, for a start far off overflows the hazard.
    """
    lives = observed(listing["time"], listing["status"])
    disease = (listing["disease"][:, None] == np.array([2, 3, 4])).astype(float)
    mean_age = listing["age"].mean()
    x = np.column_stack([listing["age"] - mean_age, listing["sex"], disease])
    with pm.Model() as model:
        slope = pm.Normal("slope", 0.0, 100.0, shape=5, initval=np.zeros(5))
        level = pm.Normal("level", mean_age * slope[0], 100.0, initval=-4.0)
        r = pm.Gamma("r", 1.0, 0.001, initval=1.0)
        precision = pm.Gamma("precision", 0.001, 0.001, initval=2.0)
        frailty = pm.Normal("frailty", 0.0, 1.0, shape=38)
        pm.Deterministic("alpha", level - mean_age * slope[0])
        sigma = pm.Deterministic("sigma", precision**-0.5)
        log_mu = level + pt.dot(x, slope) + sigma * frailty[listing["patient"].astype(int) - 1]
        pm.Potential("lives", lives.log_likelihood(-log_mu / r, r, pt).sum())
    return model, {frailty}


def test_bugs_kidney() -> None:
    """McGilchrist & Aisbett 1991. Printed, seen: alpha -4.693 (1.045), sex -2.005 (.557), r 1.236 (.198), sigma .684 (.387).

    Expected: the same recomputed in JAGS; alpha's sd as printed.
    """
    listing = np.genfromtxt(DATA / "bugs_kidney.csv", delimiter=",", names=True)
    model, jittered = kidney_model(listing)
    draws = sample(model, seed=2, jittered=jittered)
    assert_sampled(draws["alpha"].to_numpy(), -4.689, 1.045)
    assert_sampled(draws["slope"].to_numpy()[..., 1], -2.001, 0.545)
    assert_sampled(draws["r"].to_numpy(), 1.242, 0.184)
    assert_sampled(draws["sigma"].to_numpy(), 0.7005, 0.375)
