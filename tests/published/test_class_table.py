"""The service classes as wearfit holds them, against the trade's Classifications of Injection Molds.

Moulds for machines up to 400 t; seen on several pages, editions differ. The table gives bands without a guarantee; which
quantile of life a band fixes is wearfit's own judgement, checked last.
"""

import tomllib

import numpy as np
import pandas as pd
import pytest

from wearfit.exposures.classes import BANDED, CLASSES, GROUP_OF_STEEL, USUAL_STEEL, recorded_steel
from wearfit.model.bands import band_offsets, class_log_band
from wearfit.model.priors import read_priors
from wearfit.model.priors_file import own_priors_text

# class: "floor" (that many cycles or more) or "cap" (not more than), and the cycles
BANDS = {"101": ("floor", 1_000_000), "102": ("cap", 1_000_000), "103": ("cap", 500_000), "104": ("cap", 100_000), "105": ("cap", 500)}
LEAST_HARDNESS_HRC = {"101": 48.0, "102": 48.0, "103": 28.0}  # of the cavity steel


def test_classes() -> None:
    assert CLASSES[:BANDED] == tuple(BANDS)


@pytest.mark.parametrize("service_class", BANDS)
def test_bands(service_class: str) -> None:
    entry = tomllib.loads(own_priors_text())["band"][service_class]
    kind, cycles = BANDS[service_class]
    assert entry[kind] == cycles
    assert ("floor" in entry) != ("cap" in entry)
    assert entry["unit"] == "shots"


@pytest.mark.parametrize("service_class", LEAST_HARDNESS_HRC)
def test_usual_steel_is_as_hard_as_the_class_asks(service_class: str) -> None:
    tools = pd.DataFrame({"cavity_steel": [""], "hardness_hrc": [LEAST_HARDNESS_HRC[service_class]]})
    assert recorded_steel(tools) == [USUAL_STEEL[CLASSES.index(service_class)]]
    assert GROUP_OF_STEEL[recorded_steel(tools)[0]] == ("hard" if LEAST_HARDNESS_HRC[service_class] >= 48.0 else "soft")


def new_tool_lives(service_class: str, rng: np.random.Generator, draws: int) -> np.ndarray:
    """Lives of new tools at reference conditions under the priors file, simulated from its own entries. [shots]"""
    entries = tomllib.loads(own_priors_text())
    offset = entries["class_offset"]
    spread = np.hypot(offset["overall_sd"], offset["class_sd"][service_class]) * rng.standard_normal(draws)
    for group in ("design", "maker", "tool"):
        spread += np.abs(rng.normal(0.0, entries["group"][group]["scale"], draws)) * rng.standard_normal(draws)
    shape = entries["shape"]["median"] * np.exp(entries["shape"]["log_sd"] * rng.standard_normal(draws))
    priors = read_priors()
    log_band = class_log_band(priors, band_offsets(priors))[CLASSES.index(service_class)]
    return np.asarray(np.exp(log_band + spread) * rng.weibull(shape))


@pytest.mark.parametrize("service_class", BANDS)
def test_prior_predictive_keeps_the_band(service_class: str) -> None:
    """Judgement: a floor is missed by one new tool in four; the median life under a cap is .8 of it."""
    draws = 200_000
    lives = new_tool_lives(service_class, np.random.default_rng(105), draws)
    kind, cycles = BANDS[service_class]
    share_below = float(np.mean(lives < (cycles if kind == "floor" else 0.8 * cycles)))
    expected = 0.25 if kind == "floor" else 0.5
    # Four binomial standard errors of this simulation and of the one behind the table of offsets.
    assert share_below == pytest.approx(expected, abs=4.0 * np.sqrt(expected * (1.0 - expected) * (1.0 / draws + 1.0 / 65_536)))
