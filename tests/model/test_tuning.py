"""Tuning finds how wide coordinates are, and steps of which three trajectories of four are taken."""

import numpy as np
import pytest
from written_density import written

from wearfit.model.trajectories import LENGTH, Tuned, Walked, walk
from wearfit.model.trajectory import STAGES
from wearfit.model.tuning import FIRST_STEPS, SHORTER, STEPS_WITHIN, TAKEN, as_wide_as_sizes_vary, suited, tune, widths

Array = np.ndarray

CHAINS, TRAJECTORIES = 4, 60
WIDE = np.logspace(-2.0, 2.0, 60)
FIRST = np.zeros(1, dtype=int)


def normal(x: Array) -> tuple[float, Array]:
    return float(-0.5 * np.square(x / WIDE).sum()), -x / WIDE**2


def far_off(seed: int) -> Array:
    """Twice as far off in every coordinate as draws lie."""
    return 2.0 * WIDE * np.random.default_rng(seed).choice([-1.0, 1.0], (CHAINS, len(WIDE)))


def test_widths_of_a_normal_are_found_without_error() -> None:
    """A few draws of it tell all: slopes are in proportion to how far off they lie, whatever draws they are."""
    told = WIDE * np.exp(np.random.default_rng(1).uniform(-1.0, 1.0, len(WIDE)))
    tuned = tune(written(normal, len(WIDE)), far_off(2), told, TRAJECTORIES, seed=3)
    assert tuned.width == pytest.approx(WIDE, rel=1e-6)
    assert tuned.walked == TRAJECTORIES
    assert tuned.steps == STEPS_WITHIN[0]


def test_how_far_sizes_go_on_the_way_to_where_draws_lie_makes_no_width() -> None:
    """Chains come from afar in some coordinates of which widths are told right."""
    some, start = np.arange(0, len(WIDE), 10), far_off(6)
    start[:, some] *= 50.0
    tuned = tune(written(normal, len(WIDE)), start, WIDE, TRAJECTORIES, seed=7, signless=some)
    assert (tuned.width > 0.7 * WIDE).all() and (tuned.width < 1.5 * WIDE).all()
    fewest = CHAINS * TRAJECTORIES * STAGES * STEPS_WITHIN[0]
    assert fewest < tuned.gradients < 1.25 * fewest  # they were never so wide that more steps were asked for


def test_chains_have_come_to_where_draws_lie() -> None:
    tuned = tune(written(normal, len(WIDE)), far_off(4), WIDE, TRAJECTORIES, seed=5)
    off = np.square(tuned.at / WIDE).mean(axis=1)
    assert np.abs(off - 1.0).max() < 5.0 * np.sqrt(2.0 / len(WIDE))


@pytest.mark.parametrize("narrow", [0.3, 0.1, 0.03])
def test_a_direction_across_the_coordinates_asks_for_smaller_steps(narrow: float) -> None:
    """Along x + y a normal of width `narrow`, along x - y of one: no widths of x and y serve both."""

    def across(x: Array) -> tuple[float, Array]:
        along, across = (x[0] + x[1]) / np.sqrt(2.0), (x[0] - x[1]) / np.sqrt(2.0)
        slope = np.array([along / narrow**2 + across, along / narrow**2 - across]) / np.sqrt(2.0)
        return float(-0.5 * ((along / narrow) ** 2 + across**2)), -slope

    density = written(across, 2)
    tuned = tune(density, np.zeros((CHAINS, 2)), np.ones(2), TRAJECTORIES, seed=7)
    walked = walk(density, tuned, 300, seed=8)
    assert walked.likely.mean() > TAKEN - 0.2
    assert (
        tuned.steps <= 4.0 / narrow
    )  # a step is stable up to some four widths of the narrowest direction; widths here are about sqrt(narrow)


def test_where_the_sign_tells_nothing_a_coordinate_is_as_wide_as_its_size_varies() -> None:
    """Two normals of width .1 about -1 and 1: a trajectory should lead through one, not from one to the other and back."""
    rng = np.random.default_rng(10)
    side, off = rng.choice([-1.0, 1.0], (CHAINS, 500, 1)), 0.1 * rng.standard_normal((CHAINS, 500, 1))
    nothing = np.zeros((CHAINS, 500))
    walked = Walked(side + off, -off / 0.01, nothing, nothing, nothing > 0.0, Tuned(side[:, -1], np.ones(1), FIRST_STEPS))
    assert widths(walked, np.ones(1)) > 0.25
    assert widths(walked, np.ones(1), FIRST) == pytest.approx([0.1], rel=0.05)


def test_a_scale_is_as_wide_as_its_size_varies_where_slopes_make_it_narrower() -> None:
    """Sizes by a gamma law of shape 3: variance 3, and slopes 2 / size - 1 of variance 1, by the moments of size^-1 and size^-2."""
    rng = np.random.default_rng(11)
    size = rng.gamma(3.0, size=(CHAINS, 20_000, 1))
    side = rng.choice([-1.0, 1.0], size.shape)
    nothing = np.zeros(size.shape[:2])
    walked = Walked(side * size, side * (2.0 / size - 1.0), nothing, nothing, nothing > 0.0, Tuned(size[:, -1], np.ones(1), FIRST_STEPS))
    found = widths(walked, np.ones(1), FIRST)
    assert found == pytest.approx([3.0**0.25], rel=0.02)
    assert as_wide_as_sizes_vary(walked, found, FIRST) == pytest.approx([3.0**0.5], rel=0.02)
    assert (as_wide_as_sizes_vary(walked, np.full(1, 2.0), FIRST) == 2.0).all()


def test_fewer_taken_ask_for_shorter_steps_and_now_and_then_for_one_more() -> None:
    def after(share: float, steps: int = 2, diverged: bool = False) -> tuple[int, float]:
        all_draws = np.ones((CHAINS, 20))
        off = np.zeros((CHAINS, 20), dtype=bool)
        off[0, 0] = diverged
        nowhere = np.zeros((CHAINS, 20, 1))
        return suited(Walked(nowhere, nowhere, 0.0 * all_draws, share * all_draws, off, Tuned(nowhere[:, -1], np.ones(1), steps)))

    assert after(TAKEN) == (2, pytest.approx(LENGTH))
    assert after(0.95) == (2, LENGTH)  # no fewer steps than two, nor longer ones than are asked for
    found = [after(share) for share in np.linspace(0.79, 0.3, 50)]
    sizes = np.array([length / steps for steps, length in found])
    assert (np.diff(sizes) <= 0.0).all() and LENGTH / 2 > sizes[0] > sizes[9] > sizes[-1] == LENGTH / 4
    assert {steps for steps, _ in found} == {2, 3, 4}
    assert all((steps + SHORTER) / steps * length > LENGTH - 1e-9 for steps, length in found)
    assert after(0.95, steps=4, diverged=True) == (5, LENGTH)


def test_a_coordinate_that_did_not_move_keeps_its_width() -> None:
    draws = np.random.default_rng(9).standard_normal((CHAINS, 20, 2)) * np.array([3.0, 0.0])
    nothing = np.zeros((CHAINS, 20))
    walked = Walked(draws, -draws / 9.0, nothing, nothing, nothing > 0.0, Tuned(draws[:, -1], np.ones(2), FIRST_STEPS))
    assert widths(walked, np.array([1.0, 0.7])) == pytest.approx([3.0, 0.7])
