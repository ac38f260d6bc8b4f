"""Modes that are sought side by side are modes by SciPy's densities, and those that each search by itself ends at."""

import numpy as np
import pytest
from numba import njit
from one_reading import log_density

from wearfit.growth import Growth, Readings
from wearfit.model.data import ReadingColumns
from wearfit.model.growth_batch import tracks_log_likelihood
from wearfit.model.growth_kernel import NODE_ROWS, NODES, log_integral
from wearfit.model.growth_mode import LIFE_COLUMNS, LIFE_SD, climb, lay_out, lay_out_noise
from wearfit.model.growth_together import LANE_ROWS, LANES, STRAIGHT, G, S, climb_together
from wearfit.remaining import Track

Array = np.ndarray

C = ReadingColumns
LEFT = np.linspace(0.02, 1.6, LANES)
COMPILED = {function: njit(function, error_model="numpy") for function in (climb, climb_together, lay_out, lay_out_noise, log_integral)}


def a_life(rng: np.random.Generator, faults: float) -> tuple[Array, Array, Array]:
    """Readings as `ModelData` has them, log of the wear at each over that at the last, and a law."""
    n = int(rng.integers(1, 6))
    law = np.array([0.0, 1.2, rng.uniform(0.06, 0.3), rng.uniform(0.05, 0.4), rng.uniform(0.02, 0.3)])
    log_share, reading = np.log(np.sort(rng.uniform(0.2, 1.0, n))), np.zeros((n, 7))
    middle, (s, g) = law[1] * (log_share - rng.uniform(0.05, 1.0)), rng.standard_normal(2)
    reading[:, C.log_way] = middle + law[3] * s + law[4] * g * log_share + law[2] * rng.standard_t(4, n)
    reading[:, C.log_way] += np.log(8.0) * (rng.random(n) < faults)
    return reading, log_share, law


def together(reading: Array, log_share: Array, law: Array, left: Array = LEFT) -> tuple[Array, Array, Array]:
    """s and g at each capacity, and whether they were gone to straight."""
    life, lanes = np.zeros((len(reading), LIFE_COLUMNS)), np.full(LANE_ROWS * LANES, np.nan)
    COMPILED[lay_out_noise](reading, law, life)
    COMPILED[climb_together](reading, log_share, law, life, lanes, left)
    n = len(left)
    return lanes[S : S + n], lanes[G : G + n], lanes[STRAIGHT : STRAIGHT + n] > 0.0


@pytest.mark.parametrize(("faults", "least"), [(0.0, 0.8), (0.3, 0.5)])
def test_modes_gone_to_straight_are_those_of_a_search_by_itself(faults: float, least: float) -> None:
    rng = np.random.default_rng(3)
    straight_at = 0
    for _ in range(300):
        reading, log_share, law = a_life(rng, faults)
        s, g, straight = together(reading, log_share, law)
        straight_at += int(straight.sum())
        life = np.zeros((len(reading), LIFE_COLUMNS))
        COMPILED[lay_out_noise](reading, law, life)
        for k in np.flatnonzero(straight):
            COMPILED[lay_out](reading, log_share - LEFT[k], law, life)
            mode, reached = COMPILED[climb](life, law[LIFE_SD], (0.0, 0.0), False)
            assert reached
            assert (s[k], g[k]) == pytest.approx(mode, abs=1e-4)
    assert straight_at > least * 300 * LANES  # else nothing would be gained


def test_there_the_density_of_readings_is_highest_by_scipy() -> None:
    """Its slope, by differences, is none beside its curvature."""
    rng, step = np.random.default_rng(4), 1e-4
    seen = 0
    for _ in range(40):
        reading, log_share, law = a_life(rng, 0.1)
        s, g, straight = together(reading, log_share, law)
        share = log_share[:, None] - LEFT

        def joint(s: Array, g: Array, reading: Array = reading, law: Array = law, share: Array = share) -> Array:
            error = reading[:, C.log_way, None] - law[0] - law[3] * s - (law[1] + law[4] * g) * share
            return np.asarray(log_density(error, law[2]).sum(axis=0) - 0.5 * (s * s + g * g))

        middle = joint(s, g)
        for up, down in ((joint(s + step, g), joint(s - step, g)), (joint(s, g + step), joint(s, g - step))):
            slope, bend = (up - down) / (2.0 * step), -(up - 2.0 * middle + down) / step**2
            assert (bend[straight] > 0.1).all()
            assert np.abs(slope / bend)[straight].max(initial=0.0) < 1e-4
        seen += int(straight.sum())
    assert seen > 100


def test_a_law_that_is_no_number_is_not_gone_to() -> None:
    reading, log_share, law = a_life(np.random.default_rng(5), 0.0)
    law[2] = np.nan
    assert not together(reading, log_share, law)[2].any()


@pytest.mark.parametrize("capacities", [1, 7, 8, 9, 17])
@pytest.mark.parametrize("below", [False, True])
def test_integrals_are_those_of_each_capacity_by_itself(capacities: int, below: bool) -> None:
    """However many there are beside those that are in step, with faults among the readings, and some below the gauge."""
    rng, left = np.random.default_rng(6), np.linspace(0.0, 1.5, capacities)
    for _ in range(20):
        reading, log_share, law = a_life(rng, 0.2)
        if below:
            reading[0, C.below] = 1.0
        n, nodes = len(reading), np.zeros((NODE_ROWS, NODES))
        life = np.zeros((n, LIFE_COLUMNS))
        alone = [COMPILED[log_integral](reading, log_share - of_one, law, life, nodes) for of_one in left]
        readings = Readings(reading[:, C.log_way], reading[:, C.below], reading[:, C.rounding])
        track = Track(readings, log_share[None], Growth(*(np.array([value]) for value in law)))
        assert tracks_log_likelihood(left, 1, [track])[0] == pytest.approx(alone, abs=1e-6)
