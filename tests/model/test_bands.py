"""The prior predictive life of a new tool keeps its band, against a simulation from the priors file's own entries."""

import tomllib

import numpy as np
import pytest
from priors_text import changed, switched_off
from small_fleet import exposures_of

from wearfit.exposures.classes import BANDED, CLASSES
from wearfit.law import LOG_LOGISTIC, LOGNORMAL
from wearfit.model.bands import DRAWS, band_offsets, class_log_band, life_spread, log_band
from wearfit.model.layout import coefficient_index
from wearfit.model.priors import parse_priors, read_priors
from wearfit.model.priors_file import own_priors_text

Array = np.ndarray

SIMULATED = 200_000
QUANTILES = {  # [shots] and probability: what a band says of the life of a new tool
    "101": (1_000_000, 0.25),
    "102": (800_000, 0.5),
    "103": (400_000, 0.5),
    "104": (80_000, 0.5),
    "105": (400, 0.5),
}
OWN_QUANTILES = {
    "floor": (300_000, 0.25),
    "cap": (0.8 * 90_000, 0.5),
    "floor and cap": (np.sqrt(200_000 * 800_000), 0.5),
    "one shot": (0.8, 0.5),
    "band and class": (np.sqrt(70_000 * 90_000), 0.5),  # the band holds
}
OWN_TOOLS = """
tool_id,service_class,band_low,band_high,commissioned_on
floor,,300000,,2018-01-02
cap,,,90000,2018-01-02
floor and cap,,200000,800000,2018-01-02
one shot,,,1,2018-01-02
band and class,101,70000,90000,2018-01-02
known,104,,,2018-01-02
unknown,,,,2018-01-02
"""
ONE_RUN = "tool_id,plant_id,resin_id,started_on,ended_on,shots\nknown,Heath,plain,2018-02-01,2018-02-20,9000"
NO_EVENTS = "tool_id,date,event"
WIDER = {("group", "tool", "scale"): 1.2, ("group", "maker", "scale"): 0.01, ("shape", "median"): 1.3, ("class_offset", "overall_sd"): 0.9}
TEXTS = {
    "the package's own": own_priors_text(),
    "an owner's, wider": changed(*WIDER.items()),
    "tools all alike": switched_off("class_offset", "group.tool", "group.design", "group.maker"),
}


def spread_of_log_life(text: str, service_class: str, seed: int) -> Array:
    """Log life of new tools at reference conditions less mu, simulated from the entries of a priors file."""
    entries, rng = tomllib.loads(text), np.random.default_rng(seed)
    log_life = np.zeros(SIMULATED)
    offset = entries["class_offset"]
    if "off" not in offset:
        log_life += np.hypot(offset["overall_sd"], offset["class_sd"][service_class]) * rng.standard_normal(SIMULATED)
    for group in ("design", "maker", "tool"):
        if "off" not in entries["group"][group]:
            log_life += np.abs(rng.normal(0.0, entries["group"][group]["scale"], SIMULATED)) * rng.standard_normal(SIMULATED)
    shape = entries["shape"]["median"] * np.exp(entries["shape"]["log_sd"] * rng.standard_normal(SIMULATED))
    return np.asarray(log_life + np.log(rng.weibull(shape)))


def assert_kept(log_life: Array, quantile: tuple[float, float]) -> None:
    """Within four binomial standard errors of this simulation and of the one behind the table of offsets."""
    life, probability = quantile
    error = np.sqrt(probability * (1.0 - probability) * (1.0 / SIMULATED + 1.0 / DRAWS))
    assert np.mean(log_life < np.log(life)) == pytest.approx(probability, abs=4.0 * error)


@pytest.mark.parametrize("text", TEXTS.values(), ids=TEXTS)
@pytest.mark.parametrize("service_class", QUANTILES)
def test_a_new_tool_keeps_its_band(service_class: str, text: str) -> None:
    """One in four misses the floor of 101, half of the others .8 of their cap, whatever spreads an owner chooses."""
    priors = parse_priors(text)
    mu = class_log_band(priors, band_offsets(priors))[CLASSES.index(service_class)]
    assert_kept(mu + spread_of_log_life(text, service_class, seed=61), QUANTILES[service_class])


def test_prototypes_are_less_sure() -> None:
    """The offset of class 105 has log-sd 1, of every other class .5."""
    priors = read_priors()
    variance = np.diag(priors.root @ priors.root.T)
    for service_class in CLASSES:
        expected = 1.0 if service_class == "105" else 0.5
        assert np.sqrt(variance[coefficient_index(f"class_offset.{service_class}")]) == pytest.approx(expected, abs=1e-3)
    tenth, ninetieth = np.quantile(band_offsets(priors).spread, [0.1, 0.9], axis=1)
    width = ninetieth - tenth
    assert width[CLASSES.index("105")] > 1.3 * np.delete(width, CLASSES.index("105")).max()


@pytest.mark.parametrize("text", TEXTS.values(), ids=TEXTS)
def test_a_tool_keeps_the_band_written_for_it(text: str) -> None:
    """A floor alone, a cap alone, or both: then the median is their geometric mean."""
    exposures, priors = exposures_of({"tools": OWN_TOOLS, "runs": ONE_RUN, "events": NO_EVENTS}), parse_priors(text)
    bands = log_band(exposures, priors, band_offsets(priors))
    spread = spread_of_log_life(text, "own_band", seed=62)
    ids = np.array(exposures.tools.tool_id)[exposures.candidates.tool]
    for name, quantile in OWN_QUANTILES.items():
        assert_kept(bands[ids == name] + spread, quantile)
    by_class = class_log_band(priors, band_offsets(priors))
    assert (bands[ids == "known"] == by_class[CLASSES.index("104")]).all()
    assert np.array_equal(bands[ids == "unknown"], by_class)  # it may be of any class
    assert len(by_class) == BANDED


@pytest.mark.parametrize("service_class", range(len(CLASSES)))
def test_survival_is_the_other_side_of_the_quantile(service_class: int) -> None:
    offsets = band_offsets(read_priors())
    for probability in (0.01, 0.25, 0.5, 0.999):
        at = offsets.quantile(service_class, probability)
        assert offsets.survival(service_class, at) == pytest.approx(1.0 - probability, abs=2.0 / DRAWS)
    # However far out, neither impossible nor certain.
    assert 0.0 < offsets.survival(service_class, 1e3) < 1.0 / DRAWS
    assert 0.0 < 1.0 - offsets.survival(service_class, -1e3) < 1.0 / DRAWS


@pytest.mark.parametrize("code", [LOG_LOGISTIC, LOGNORMAL])
def test_a_band_holds_under_the_other_laws_nearly(code: int) -> None:
    priors = read_priors()
    mu = class_log_band(priors, band_offsets(priors))
    life = np.exp(mu[:, None] + life_spread(priors, SIMULATED, 5, code)[:BANDED])
    for place, name in enumerate(CLASSES[:BANDED]):
        shots, probability = QUANTILES[name]
        assert np.log(np.quantile(life[place], probability) / shots) == pytest.approx(0.0, abs=0.06), name
