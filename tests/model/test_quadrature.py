"""With one class and every other effect switched off, the sampled posterior is the one of an independent quadrature."""

import numpy as np
import pytest
from one_class_fleet import fleet_of, simulated_lives
from priors_text import changed, own_tables
from sampled import Sampled, mcse, sampled
from scipy.stats import norm, weibull_min

from wearfit.model.bands import band_offsets, class_log_band
from wearfit.model.priors import parse_priors
from wearfit.model.priors_file import SWITCHES
from wearfit.model.sampler import Compiled

Array = np.ndarray

LIVES = simulated_lives(60, shape=2.2, eta=300_000.0, seed=101)
KEPT = ("class_offset", "shape")
# Sudden stops tell of the class offset too: their rate is held next to nothing.
TEXT = changed(*(((*entry.split("."), "off"), True) for entry in SWITCHES if entry not in KEPT), (("sudden", "per_life", "median"), 1e-12))


@pytest.fixture(scope="module")
def posterior(compiled: Compiled) -> Sampled:
    return sampled(compiled, fleet_of(LIVES), parse_priors(TEXT), seed=11)


def log_likelihood(log_eta: Array, shape: Array) -> Array:
    """Of all lives, with scipy's Weibull law alone."""
    law = weibull_min(shape, scale=np.exp(log_eta))
    total = np.zeros(np.broadcast_shapes(log_eta.shape, shape.shape))
    for life in LIVES:
        end = life.opening + life.shots
        if life.ending == "running":
            total += law.logsf(end)
        elif life.ending == "worn":
            total += law.logpdf(end)
        else:
            good = law.logsf(life.opening + life.shots / 2.0)
            total += good + np.log(-np.expm1(law.logsf(end) - good))
        total -= law.logsf(life.opening)
    return total


def test_lives_are_of_every_kind() -> None:
    endings = [life.ending for life in LIVES]
    assert min(endings.count(ending) for ending in ("running", "worn", "found worn")) >= 5
    assert sum(life.opening > 0 for life in LIVES) >= 5


def test_posterior_of_shape_and_class_offset(posterior: Sampled) -> None:
    tables, priors = own_tables(), parse_priors(TEXT)
    mu = class_log_band(priors, band_offsets(priors))[2]
    offset, log_shape = np.meshgrid(np.linspace(-1.5, 1.5, 241), np.linspace(-0.5, 2.2, 271), indexing="ij")
    spread = np.hypot(tables["class_offset"]["overall_sd"], tables["class_offset"]["class_sd"]["103"])
    log_prior = norm.logpdf(offset, 0.0, spread) + norm.logpdf(log_shape, np.log(tables["shape"]["median"]), tables["shape"]["log_sd"])
    log_density = log_prior + log_likelihood(mu + offset, np.exp(log_shape))
    probability = np.exp(log_density - log_density.max())
    probability /= probability.sum()
    assert max(probability[[0, -1]].max(), probability[:, [0, -1]].max()) < 1e-9 * probability.max()
    for name, value in (("class_offset.103", offset), ("log_shape", log_shape)):
        mean = float(np.sum(probability * value))
        sd = float(np.sqrt(np.sum(probability * (value - mean) ** 2)))
        drawn = posterior.coefficient(name)
        assert drawn.mean() == pytest.approx(mean, abs=0.1 * sd + 4.0 * mcse(drawn)), name
        assert drawn.std() == pytest.approx(sd, abs=0.05 * sd + 4.0 * mcse(drawn, "sd")), name
    both = float(np.sum(probability * offset * log_shape) - np.sum(probability * offset) * np.sum(probability * log_shape))
    drawn_both = float(np.cov(posterior.coefficient("class_offset.103"), posterior.coefficient("log_shape"))[0, 1])
    sds = posterior.coefficient("class_offset.103").std() * posterior.coefficient("log_shape").std()
    assert drawn_both / sds == pytest.approx(both / sds, abs=0.1)
