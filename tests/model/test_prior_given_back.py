"""What no record speaks of stays as the priors have it."""

import numpy as np
import pytest
from one_class_fleet import Life, fleet_of, simulated_lives
from priors_text import changed
from sampled import Sampled, mcse, sampled

from wearfit.exposures.classes import CLASSES
from wearfit.model.bands import band_offsets, class_log_band
from wearfit.model.layout import COEFFICIENTS, GROUPS, SHARES
from wearfit.model.priors import parse_priors, read_priors
from wearfit.model.sampler import Compiled

Array = np.ndarray


def assert_normal(drawn: Array, mean: float, sd: float, what: str) -> None:
    """Moments within four Monte Carlo standard errors."""
    assert drawn.mean() == pytest.approx(mean, abs=4.0 * mcse(drawn)), what
    assert drawn.std() == pytest.approx(sd, abs=4.0 * mcse(drawn, "sd")), what


@pytest.fixture(scope="module")
def untaught(compiled: Compiled) -> Sampled:
    """One shot of one tool, no event: as good as nothing."""
    return sampled(compiled, fleet_of([Life(1)]), read_priors(), seed=12)


def test_without_data_every_parameter_is_as_before(untaught: Sampled) -> None:
    priors = untaught.priors
    sds = np.sqrt(np.diag(priors.root @ priors.root.T))
    for i, name in enumerate(COEFFICIENTS):
        if sds[i] > 0.0:
            assert_normal(untaught.coefficient(name), priors.loc[i], sds[i], name)
    for i, name in enumerate(SHARES):
        a, b = priors.share_a[i], priors.share_b[i]
        assert_normal(untaught.parameters.share[:, i], a / (a + b), np.sqrt(a * b / (a + b + 1.0)) / (a + b), name)
    for i, group in enumerate(GROUPS):  # half-normal
        scale = priors.scale[i]
        assert_normal(untaught.scale(group), scale * np.sqrt(2.0 / np.pi), scale * np.sqrt(1.0 - 2.0 / np.pi), group)


@pytest.mark.parametrize(("service_class", "life", "probability"), [("101", 1_000_000, 0.25), ("103", 400_000, 0.5), ("105", 400, 0.5)])
def test_without_data_a_new_tool_has_its_band(untaught: Sampled, service_class: str, life: int, probability: float) -> None:
    rng = np.random.default_rng(102)
    mu = class_log_band(untaught.priors, band_offsets(untaught.priors))[CLASSES.index(service_class)]
    offset, shape = untaught.coefficient(f"class_offset.{service_class}"), np.exp(untaught.coefficient("log_shape"))
    log_life = mu + offset + np.log(rng.standard_exponential(len(offset))) / shape
    for group in ("design", "maker", "tool"):
        log_life += untaught.scale(group) * rng.standard_normal(len(offset))
    below = (log_life < np.log(life)).astype(float)
    assert below.mean() == pytest.approx(probability, abs=4.0 * mcse(below))


@pytest.fixture(scope="module")
def taught(compiled: Compiled) -> Sampled:
    """Forty lives of class 103, and classes that have nothing to do with one another."""
    priors = parse_priors(changed((("class_offset", "overall_sd"), 0.0)))
    return sampled(compiled, fleet_of(simulated_lives(40, shape=3.0, eta=900_000.0, seed=103)), priors, seed=13)


def test_a_class_without_data_keeps_its_band(taught: Sampled) -> None:
    for service_class, sd in (("101", 0.3), ("102", 0.3), ("104", 0.3), ("105", 0.917), ("own_band", 0.3)):
        assert_normal(taught.coefficient(f"class_offset.{service_class}"), 0.0, sd, service_class)
    # While the class that has data has left its own far behind.
    own = taught.coefficient("class_offset.103")
    assert own.mean() - 2.0 * own.std() > 0.0


OTHERS = {
    "steel.copper_alloy": (-0.69, 0.40),
    "slope.filler_hard": (0.15, 0.08),
    "slope.corrosive_stainless": (0.15, 0.15),
    "slope.modification": (0.08, 0.08),
    "slope.speed": (0.10, 0.15),
}


def test_what_only_other_conditions_would_show_stays_as_it_was(taught: Sampled) -> None:
    for name, (mean, sd) in OTHERS.items():
        assert_normal(taught.coefficient(name), mean, sd, name)
