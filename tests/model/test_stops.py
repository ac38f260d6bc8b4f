"""What sudden stops are beyond lines in the coefficients, which plants' effects on them are counted short of."""

from dataclasses import replace

import numpy as np
import pytest
from small_fleet import laid_anyhow, prior_draws, small_fleet

from wearfit.model.layout import COEFFICIENTS, GROUPS
from wearfit.model.likelihood import sudden_log_likelihood
from wearfit.model.parameters import Parameters, build_parameters
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors
from wearfit.model.stops import stops_beyond_lines

Array = np.ndarray

FLEET = small_fleet()
LAYOUT = layout_of(FLEET)
LAID = laid_anyhow(prepare(FLEET, read_priors(), LAYOUT), LAYOUT)
N = len(COEFFICIENTS)


def stops_logged(coefficients: Array) -> Array:
    """Log of the stops to be expected of each plant without an effect, shape (draw, plant), by the likelihood's own derivatives.

    A Poisson log-likelihood of no stops is minus what is expected.
    """
    values = np.zeros((len(coefficients), N + LAYOUT.size))
    values[:, :N] = coefficients
    without = replace(LAID, sudden=LAID.sudden * np.array([0.0, 1.0, 1.0])[:, None, None])
    expected = -sudden_log_likelihood(Parameters(values, np.zeros(0)), without, LAYOUT).sum(axis=-2)
    return np.log(expected[:, : len(FLEET.plant_ids)])


def test_stops_beyond_lines_are_what_a_tangent_leaves() -> None:
    likely = LAID.likely[:N]
    off = 0.5 * np.random.default_rng(9).standard_normal((3, N))
    beyond = stops_beyond_lines(likely + off, LAID)[:, : len(FLEET.plant_ids)]
    per_unit = (stops_logged(likely + 1e-5 * off) - stops_logged(likely - 1e-5 * off)) / 2e-5
    assert np.abs(beyond).min() > 0.001
    assert beyond == pytest.approx(stops_logged(likely + off) - stops_logged(likely[None]) - per_unit, rel=1e-5)


def test_a_plant_without_shots_or_handlings_has_no_stops_beyond_lines() -> None:
    nothing = replace(LAID, sudden=np.zeros_like(LAID.sudden))
    assert np.array_equal(stops_beyond_lines(LAID.likely[:N] + 1.0, nothing), np.zeros(LAYOUT.plants))


@pytest.mark.parametrize("scale", [0.05, 0.5])
def test_effects_on_stops_are_counted_from_where_they_are_likely_given_what_is_beyond_lines(scale: float) -> None:
    at = prior_draws(LAID, LAYOUT, draws=4, seed=10)
    w, group = at.w.copy(), GROUPS.index("sudden_plant")
    w[:, group] = scale / LAID.group_prior[0, group]
    p, span = build_parameters(at.z, at.share, w, np.zeros_like(at.slot), LAID, LAYOUT).all, LAYOUT.block("sudden_plant")
    told, alone, score = LAID.slot_told[span], LAID.plant_told[1], LAID.slot_score[span]
    axes = LAID.contrast[-LAYOUT.plants :, -LAYOUT.plants :]
    beyond = stops_beyond_lines(p[:, :N], LAID) @ axes
    assert np.abs(beyond).max() > 0.01
    mean = score / (told + scale**-2) - beyond * alone / (alone + scale**-2)
    assert p[:, N:][:, span] @ axes == pytest.approx(mean, rel=1e-9)
