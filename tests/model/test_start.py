"""Where chains start: among the draws that they are to give, each at a place of its own."""

import numpy as np
import pytest
from recovery_fleet import recovery_fleet

from wearfit.model.data import ModelData
from wearfit.model.information import SCALES, USUAL_SCALE, LogDensity, unit
from wearfit.model.layout import GROUPS, SHARES
from wearfit.model.native import Coordinates, log_density
from wearfit.model.prepare import prepare
from wearfit.model.priors import read_priors
from wearfit.model.sampler import Compiled, sample
from wearfit.model.scale_coordinates import coordinate_of
from wearfit.model.start import LEAST_BENT, SCALES_APART, scattered, start_and_width, start_of_chain

Array = np.ndarray

SEEDS = range(4)


@pytest.fixture(scope="module")
def laid(compiled_for_recovery: Compiled) -> ModelData:
    return compiled_for_recovery.laid(prepare(recovery_fleet().history.exposures, read_priors(), compiled_for_recovery.layout))


@pytest.fixture(scope="module")
def density(compiled_for_recovery: Compiled, laid: ModelData) -> LogDensity:
    return log_density(compiled_for_recovery.on(laid))


def test_each_coordinate_lies_twice_as_far_from_the_middle_as_it_usually_does(laid: ModelData) -> None:
    points = np.stack([scattered(laid.start, np.random.default_rng(seed)) for seed in range(200)])
    off = (points - laid.start[0]) / laid.start[1]
    rest = np.delete(np.arange(off.shape[1]), SCALES)
    assert np.abs(off[:, rest]) == pytest.approx(2.0)
    assert np.abs(off[:, rest].mean(axis=0)).max() < 10.0 / np.sqrt(len(points))
    scales, usual = np.abs(points[:, SCALES]), coordinate_of(np.full(len(GROUPS), USUAL_SCALE), laid.log_from)
    assert (scales > usual / SCALES_APART).all() and (scales < usual * SCALES_APART).all()


def test_a_chain_starts_about_its_draws(compiled_for_recovery: Compiled, laid: ModelData, density: LogDensity) -> None:
    """Half way to the likeliest point it is as likely as they are, where by the prior it is not; and slopes are those of draws."""
    chains = sample(compiled_for_recovery, laid, 1, draws=100, tune=200)
    layout, kept = compiled_for_recovery.layout, chains.coordinates
    odds, scales = np.log(kept["share"] / (1.0 - kept["share"])), coordinate_of(kept["w"], laid.log_from)
    draws = np.concatenate([odds, scales, kept["slot"], kept["z"], kept["read"]], axis=-1).reshape(-1, Coordinates.of(layout).size)
    usual, moving = np.array([density(draw)[0] for draw in draws[::10]]), draws.std(axis=0) > 1e-9
    least, most = usual.min() - 2.0 * np.ptp(usual), usual.max() + 2.0 * np.ptp(usual)
    by_prior = prepare(recovery_fleet().history.exposures, read_priors(), layout).start
    for seed in SEEDS:
        start = start_of_chain(laid, density, seed)
        slope = density(start)[1]
        assert 1.0 < np.median(np.abs(slope * draws.std(axis=0))[moving]) < 4.0
        middle, far = laid.start[0].copy(), scattered(by_prior, np.random.default_rng(seed))
        middle[SCALES] = start[SCALES]
        assert least < density(0.5 * (middle + start))[0] < most
        assert density(0.5 * (by_prior[0] + far))[0] < least


def test_scales_are_the_likeliest_given_the_rest_but_for_a_step(laid: ModelData, density: LogDensity) -> None:
    for seed in SEEDS:
        start, first = start_of_chain(laid, density, seed), scattered(laid.start, np.random.default_rng(seed))
        rest = np.delete(np.arange(len(start)), SCALES)
        assert np.array_equal(start[rest], first[rest])
        assert density(start)[0] > density(first)[0] - len(GROUPS)  # each scale one spread off: half a nat each
        assert not np.isclose(start[SCALES], first[SCALES]).any()


def test_chains_start_apart_and_by_their_seed_alone(laid: ModelData, density: LogDensity) -> None:
    starts = [start_of_chain(laid, density, seed) for seed in SEEDS]
    assert np.array_equal(starts[1], start_of_chain(laid, density, 1))
    for a in SEEDS:
        for b in range(a):
            apart = np.abs(starts[a] - starts[b])[len(SHARES) + len(GROUPS) :]
            assert 0.4 < (apart > 1e-6).mean() < 0.6


def test_a_density_that_is_no_number_keeps_a_chain_where_it_is(laid: ModelData) -> None:
    start = start_of_chain(laid, lambda at: (np.nan, np.full_like(at, np.nan)), 1)
    assert np.isfinite(start).all()


def test_scales_are_as_wide_as_the_density_is_bent_and_all_else_as_it_was_laid(laid: ModelData, density: LogDensity) -> None:
    """By how its slopes change where the scales are the likeliest."""
    for seed in SEEDS:
        at, width = start_and_width(laid, density, seed)
        assert np.array_equal(np.delete(width, SCALES), np.delete(laid.start[1], SCALES))
        rng = np.random.default_rng(seed)
        scattered(laid.start, rng)
        middle = at.copy()
        middle[SCALES] -= width[SCALES] * rng.choice([-1.0, 1.0], len(GROUPS))  # on either side of the likeliest by chance
        for place in SCALES:
            step = 1e-3 * unit(len(at), int(place))
            bent = (density(middle - step)[1][place] - density(middle + step)[1][place]) / 2e-3
            assert width[place] == pytest.approx(max(bent, LEAST_BENT) ** -0.5, rel=0.01), (seed, place)
