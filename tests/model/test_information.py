"""What a history tells, of log-densities that are quadratics: against the algebra of normal distributions."""

from dataclasses import replace

import numpy as np
import pytest
from small_fleet import small_fleet

import wearfit.model.information as of_information
from wearfit.model.axes import axes_of
from wearfit.model.data import ModelData
from wearfit.model.information import USUAL_SCALE, bend, information, usual_scales
from wearfit.model.layout import COEFFICIENTS, GROUPS, MOST_TURNED, SHARES, Layout
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors

Array = np.ndarray

FLEET = small_fleet()
NARROW = layout_of(FLEET)
WIDE = Layout(NARROW.plants, NARROW.resins, 2 * MOST_TURNED, NARROW.makers, NARROW.features, NARROW.reads)
OBSERVATIONS = 60  # of each kind


class Quadratic:
    """A standard normal prior of all coordinates, and normal observations of sums of some: of `z`, turned effects and shares,
    and of those with one mirrored effect or one capacity."""

    def __init__(self, layout: Layout, seed: int) -> None:
        rng, first = np.random.default_rng(seed), len(SHARES) + len(GROUPS)
        n = len(COEFFICIENTS) + layout.unscaled
        self.z = first + layout.scaled + np.arange(n)
        self.turned = first + layout.turned
        self.mirrored = first + np.arange(layout.mirrored.start, layout.mirrored.stop)
        self.shares = np.arange(len(SHARES))
        self.read = self.z[-1] + 1 + np.arange(layout.reads)
        self.scales = len(SHARES) + np.arange(len(GROUPS))
        size = self.read[-1] + 1
        few = np.concatenate([self.z, self.turned, self.shares])
        slopes = np.zeros((3 * OBSERVATIONS, size))
        slopes[:, few] = 0.3 * rng.standard_normal((len(slopes), len(few)))
        for kind, some in ((1, self.mirrored), (2, self.read)):
            if len(some):
                rows = OBSERVATIONS * kind + np.arange(OBSERVATIONS)
                slopes[rows, rng.choice(some, OBSERVATIONS)] = rng.standard_normal(OBSERVATIONS)
        self.precision = slopes.T @ slopes + np.eye(size)
        self.pull = slopes.T @ rng.standard_normal(len(slopes))

    def __call__(self, at: Array) -> tuple[float, Array]:
        by = self.precision @ at
        return float(self.pull @ at - 0.5 * at @ by), self.pull - by

    def likeliest(self) -> Array:
        """Where the coordinates of scales are the usual ones."""
        at = np.full(len(self.pull), USUAL_SCALE)
        free = np.delete(np.arange(len(at)), self.scales)
        fixed = self.precision[np.ix_(free, self.scales)] @ at[self.scales]
        at[free] = np.linalg.solve(self.precision[np.ix_(free, free)], self.pull[free] - fixed)
        return at

    def told(self, by: Array, of: Array) -> Array:
        """Precision of `by` and `of` once capacities and shares are at their likeliest, the prior's taken away."""
        out, kept = np.concatenate([self.shares, self.read]), self.precision
        left = kept[np.ix_(by, of)] - kept[np.ix_(by, out)] @ np.linalg.solve(kept[np.ix_(out, out)], kept[np.ix_(out, of)])
        return np.asarray(left - (by[:, None] == of))


def prepared(layout: Layout) -> ModelData:
    return prepare(FLEET, read_priors(), layout)


@pytest.mark.parametrize("layout", [NARROW, WIDE], ids=["turned", "mirrored"])
def test_curvatures_are_those_of_a_normal_posterior(layout: Layout) -> None:
    of, data = Quadratic(layout, seed=1), prepared(layout)
    told, scale = information(of, data, layout), usual_scales(data, layout)
    assert (scale > 0.0).all()
    assert np.abs(told.z - np.diag(np.diag(told.z))).max() > 0.1
    assert told.z == pytest.approx(of.told(of.z, of.z), abs=1e-4)
    turned = scale[layout.turned]
    assert told.between[:, layout.turned] * turned == pytest.approx(of.told(of.z, of.turned), abs=1e-4)
    assert told.turned * np.outer(turned, turned) == pytest.approx(of.told(of.turned, of.turned), abs=1e-4)
    mirrored = scale[layout.mirrored]
    assert told.between[:, layout.mirrored] * mirrored == pytest.approx(of.precision[np.ix_(of.z, of.mirrored)], abs=1e-4)
    assert told.mirrored * mirrored**2 == pytest.approx(np.diag(of.precision)[of.mirrored] - 1.0, abs=1e-4)
    assert told.share[1] == pytest.approx(np.diag(of.precision)[of.shares], abs=1e-4)
    assert told.read[1] == pytest.approx(np.diag(of.precision)[of.read], abs=1e-4)


@pytest.mark.parametrize("layout", [NARROW, WIDE], ids=["turned", "mirrored"])
def test_the_likeliest_point_is_that_of_a_normal_posterior(layout: Layout) -> None:
    of, data = Quadratic(layout, seed=2), prepared(layout)
    first, told, at = len(SHARES) + len(GROUPS), information(of, data, layout), of.likeliest()
    wanted = usual_scales(data, layout) * at[first : first + layout.scaled]
    assert np.abs(wanted).max() > 0.03
    assert told.effect == pytest.approx(wanted, abs=2e-3)
    for found, places in ((told.likely_z, of.z), (told.share[0], of.shares), (told.read[0], of.read)):
        assert np.abs(at[places]).max() > 0.03
        assert found == pytest.approx(at[places], abs=5e-3)


def test_nothing_is_told_of_effects_that_are_switched_off() -> None:
    data = prepared(NARROW)
    off = replace(data, group_prior=data.group_prior * np.array([[1.0], [0.0]]))
    told = information(Quadratic(NARROW, seed=3), off, NARROW)
    assert not told.turned.any() and not told.between.any() and not told.effect.any()
    assert told.z.any()


def test_of_coordinates_that_nothing_is_told_of_no_curvature_is_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    of, data = Quadratic(NARROW, seed=6), prepared(NARROW)
    untold = np.concatenate([of.z[::2], of.turned[::3]])
    of.precision[untold], of.precision[:, untold], of.pull[untold] = 0.0, 0.0, 0.0
    of.precision[untold, untold] = 1.0
    asked: list[Array] = []

    def noted(log_density: Quadratic, at: Array, along: Array) -> Array:
        asked.append(np.flatnonzero(along))
        return bend(log_density, at, along)

    monkeypatch.setattr(of_information, "bend", noted)
    told = information(of, data, NARROW)
    single = [int(places[0]) for places in asked if len(places) == 1]
    assert sorted(single) == sorted({*of.z, *of.turned, *of.shares} - {*untold})
    assert told.z == pytest.approx(of.told(of.z, of.z), abs=1e-4)
    assert not told.z[::2].any() and not told.z[:, ::2].any() and not told.turned[::3].any()


def test_a_point_at_which_the_density_is_no_number_is_gone_round() -> None:
    """The search for the likeliest point comes back from a cliff."""
    of = Quadratic(NARROW, seed=4)
    data, cliff = prepared(NARROW), np.abs(of.likeliest()).max() + 0.5

    def steep(at: Array) -> tuple[float, Array]:
        return of(at) if np.abs(at).max() < cliff else (np.nan, np.full_like(at, np.nan))

    assert information(steep, data, NARROW).effect == pytest.approx(information(of, data, NARROW).effect, abs=2e-3)


def test_a_density_that_is_no_number_tells_nothing() -> None:
    data = prepared(NARROW)
    axes = axes_of(information(lambda at: (np.nan, np.full_like(at, np.nan)), data, NARROW), data, NARROW)
    assert not axes.lean.any()
    assert not axes.slot_told.any()
    assert axes.root @ axes.root.T == pytest.approx(data.root @ data.root.T, abs=1e-12)
