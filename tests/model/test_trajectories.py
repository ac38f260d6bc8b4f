"""Draws by trajectories: each trajectory can be walked back, and the draws are those of densities that are known in full."""

import time
from functools import partial

import numpy as np
import pytest
from arviz_stats.base import array_stats
from scipy.stats import kstest, loggamma, truncnorm
from written_density import written

from wearfit.model.compiled_density import CompiledDensity
from wearfit.model.trajectories import JITTER, KEPT, LENGTH, Progress, Tuned, walk
from wearfit.model.trajectory import DRIFT, KICK, STAGES, Point, trajectory

Array = np.ndarray

CHAINS = 4
COVARIANCE = np.array([[1.0, 0.5, -0.2], [0.5, 1.0, 0.1], [-0.2, 0.1, 1.0]])
PRECISION = np.linalg.inv(COVARIANCE)
WIDE = np.array([10.0, 1.0, 0.02])
MIDDLE = np.array([3.0, -1.0, 0.0])
SHAPE = 2.0  # of a gamma variate, whose logarithm is drawn


def normal(x: Array) -> tuple[float, Array]:
    off = (x - MIDDLE) / WIDE
    return float(-0.5 * off @ PRECISION @ off), -(PRECISION @ off) / WIDE


def log_gamma(x: Array) -> tuple[float, Array]:
    return float((SHAPE * x - np.exp(x)).sum()), SHAPE - np.exp(x)


def standard(x: Array) -> tuple[float, Array]:
    return float(-0.5 * x @ x), -x


of_normal, of_log_gamma, of_standard = written(normal, 3), written(log_gamma, 2), partial(written, standard)


def point(log_density: CompiledDensity, at: Array) -> Point:
    return Point(at, *log_density(at))


def energy(where: Point, momentum: Array) -> float:
    return float(0.5 * momentum @ momentum - where.value)


def test_the_way_back() -> None:
    """With the momentum reversed a trajectory leads where it came from, with the momentum that it began with, reversed."""
    start, momentum, step = point(of_log_gamma, np.array([0.3, -1.2])), np.array([0.7, -0.4]), np.array([0.4, 0.7])
    there, arrived = trajectory(of_log_gamma, start, momentum, step, 5)
    back, returned = trajectory(of_log_gamma, there, -arrived, step, 5)
    assert np.abs(there.at - start.at).max() > 0.5
    assert back.at == pytest.approx(start.at, abs=1e-12)
    assert -returned == pytest.approx(momentum, abs=1e-12)


def test_kicks_and_drifts_in_their_order() -> None:
    """The splitting of three stages as it is written down: two kicks of neighbouring steps are one kick."""
    start, momentum, step = point(of_log_gamma, np.array([0.3, -1.2])), np.array([0.7, -0.4]), np.array([0.4, 0.7])
    x, p = start.at.copy(), momentum.copy()
    for _ in range(2):
        for kick, drift in ((KICK, DRIFT), (0.5 - KICK, 1.0 - 2.0 * DRIFT), (0.5 - KICK, DRIFT)):
            p = p + kick * step * of_log_gamma(x)[1]
            x = x + drift * step * p
        p = p + KICK * step * of_log_gamma(x)[1]
    there, arrived = trajectory(of_log_gamma, start, momentum, step, 2)
    assert there.at == pytest.approx(x, abs=1e-14)
    assert arrived == pytest.approx(p, abs=1e-14)
    assert (there.value, list(there.slope)) == (of_log_gamma(there.at)[0], list(of_log_gamma(there.at)[1]))
    assert (start.at == [0.3, -1.2]).all() and (momentum == [0.7, -0.4]).all()


def test_volumes_are_kept() -> None:
    """The determinant of the map of places and momenta is one, so that no draw is weighed by it."""

    def mapped(x: Array) -> Array:
        there, arrived = trajectory(of_log_gamma, point(of_log_gamma, x[:2]), x[2:], np.array([0.5, 0.9]), 3)
        return np.concatenate([there.at, arrived])

    x, small = np.array([0.2, -0.7, 0.5, 1.1]), 1e-5
    slopes = np.stack([(mapped(x + small * e) - mapped(x - small * e)) / (2.0 * small) for e in np.eye(4)], axis=1)
    assert np.linalg.det(slopes) == pytest.approx(1.0, abs=1e-8)


def test_energy_goes_astray_with_the_square_of_the_step() -> None:
    """An integrator of second order; Blanes, Casas & Sanz-Serna 2014 (from memory)."""
    start, momentum = point(of_log_gamma, np.array([0.3, -1.2])), np.array([0.7, -0.4])

    def astray(steps: int) -> float:
        there, arrived = trajectory(of_log_gamma, start, momentum, np.full(2, 1.0 / steps), steps)
        return abs(energy(there, arrived) - energy(start, momentum))

    assert astray(20) / astray(40) == pytest.approx(4.0, rel=0.05)


def test_the_stages_go_astray_far_less_than_leapfrog_steps_that_cost_as_much() -> None:
    """That is what the splitting is chosen for: on normals, by the mean over draws (Blanes, Casas & Sanz-Serna 2014, from memory)."""
    rng, steps = np.random.default_rng(3), 2
    ours, leapfrog = [], []
    for _ in range(200):
        start, momentum = point(of_standard(50), rng.standard_normal(50)), rng.standard_normal(50)
        there, arrived = trajectory(of_standard(50), start, momentum, np.full(50, LENGTH / steps), steps)
        ours.append(energy(there, arrived) - energy(start, momentum))
        x, p, h = start.at, momentum, LENGTH / (STAGES * steps)
        for _ in range(STAGES * steps):
            p = p - 0.5 * h * x
            x = x + h * p
            p = p - 0.5 * h * x
        leapfrog.append(energy(point(of_standard(50), x), p) - energy(start, momentum))
    assert np.mean(np.square(ours)) < 0.1 * np.mean(np.square(leapfrog))
    assert 0.0 < KICK < 0.5 and 0.0 < DRIFT < 0.5


def test_draws_of_a_normal() -> None:
    tuned = Tuned(MIDDLE + WIDE * np.random.default_rng(1).standard_normal((CHAINS, 3)), WIDE, 2)
    walked = walk(of_normal, tuned, 5000, seed=7)
    off = (walked.at - MIDDLE) / WIDE
    for i in range(3):
        for j in range(i + 1):
            product = off[..., i] * off[..., j]
            error = float(array_stats.mcse(product, chain_axis=0, draw_axis=1))
            assert abs(product.mean() - COVARIANCE[i, j]) < 4.0 * error < 0.2
        error = float(array_stats.mcse(off[..., i], chain_axis=0, draw_axis=1))
        assert abs(off[..., i].mean()) < 4.0 * error < 0.1
    assert not walked.diverging.any()
    assert walked.likely.mean() > 0.9


def test_draws_of_a_skewed_density() -> None:
    """Trajectories whose steps are far too long for it are refused often enough."""
    tuned = Tuned(np.zeros((CHAINS, 2)), np.full(2, 1.5), 1)
    walked = walk(of_log_gamma, tuned, 12_000, seed=11)
    assert walked.likely.mean() < 0.9
    for i in range(2):
        apart = walked.at[:, 100::12, i].ravel()
        assert kstest(apart, loggamma(SHAPE).cdf).pvalue > 0.001


@pytest.mark.parametrize("wider", [1.0, 3.0])
def test_some_of_the_momentum_is_kept(wider: float) -> None:
    """On a normal, x and momentum after a trajectory of length t are a turn by t of those before: so draws go with those before them."""
    rng, steps = np.random.default_rng(2), 4
    walked = walk(of_standard(40), Tuned(rng.standard_normal((CHAINS, 40)), np.full(40, 1.0 / wider), steps), 2000, seed=9)
    assert walked.likely.mean() > 0.99
    t = LENGTH / wider * np.linspace(1.0 - JITTER, 1.0 + JITTER, 1001)
    c, s = np.cos(t).mean(), np.sin(t).mean()
    x = walked.at
    for apart, expected in ((1, c), (2, c * c - KEPT * s * s)):
        assert (x[:, apart:] * x[:, :-apart]).mean() == pytest.approx(expected, abs=0.02)


def test_at_one_go_or_at_several_and_on_however_many_cores() -> None:
    tuned = Tuned(np.zeros((CHAINS, 3)) + MIDDLE, WIDE, 2)
    at_once = walk(of_normal, tuned, 30, seed=5, cores=2, slopes=True)
    first = walk(of_normal, tuned, 12, seed=5, cores=1, slopes=True)
    rest = walk(of_normal, first.tuned, 18, seed=5, cores=3, slopes=True)
    for name in ("at", "slope", "energy", "likely", "diverging"):
        assert np.array_equal(getattr(at_once, name), np.concatenate([getattr(first, name), getattr(rest, name)], axis=1)), name
    for name in ("at", "momentum"):
        assert np.array_equal(getattr(at_once.tuned, name), getattr(rest.tuned, name)), name
    assert (at_once.tuned.walked, rest.tuned.walked) == (30, 30)
    assert at_once.tuned.gradients == CHAINS * (1 + 30 * STAGES * 2)
    other = walk(of_normal, tuned, 30, seed=6)
    assert other.slope.shape[1] == 0
    assert not np.isin(other.at[..., 0], at_once.at[..., 0]).any()
    assert len(np.unique(at_once.at[:, 0, 0])) == CHAINS


def test_a_trajectory_that_leads_nowhere_is_no_draw() -> None:
    """Beyond a wall there is no number: the chain stays where it stood, and it is told that the trajectory diverged.

    Draws are those of the normal cut off there: were the momentum kept as it was, chains would go on against the wall.
    """

    def walled(x: Array) -> tuple[float, Array]:
        return (-0.5 * float(x @ x), -x) if x[0] < 0.0 else (np.nan, np.full_like(x, np.nan))

    walked = walk(written(walled, 1), Tuned(-np.ones((CHAINS, 1)), np.ones(1), 2), 6_000, seed=3)
    assert 0.3 < walked.diverging.mean() < 0.7
    assert (walked.at < 0.0).all() and np.isfinite(walked.energy).all()
    assert kstest(walked.at[:, 100::6].ravel(), truncnorm(-np.inf, 0.0).cdf).pvalue > 0.001
    stood = walked.diverging[:, 1:]
    assert (walked.at[:, 1:][stood] == walked.at[:, :-1][stood]).all()


def test_progress_is_told_and_may_end_the_chains() -> None:
    def without_the_interpreter(x: Array) -> tuple[float, Array]:
        time.sleep(2e-4)
        return log_gamma(x)

    slow = written(without_the_interpreter, 2)

    told: list[float] = []
    tuned = Tuned(np.zeros((CHAINS, 2)), np.ones(2), 2)
    walk(slow, tuned, 200, seed=3, progress=told.append)
    assert told and told == sorted(told) and told[0] >= 0.0 and told[-1] <= 1.0

    class EnoughError(Exception):
        pass

    def enough(share: float) -> None:
        raise EnoughError

    stop: Progress = enough
    with pytest.raises(EnoughError):
        walk(slow, tuned, 1_000_000, seed=3, progress=stop)
