"""A group of many levels: its effects are mirrored into those that sum to zero, without a matrix of its own."""

from dataclasses import replace

import numpy as np
import pytensor
import pytensor.tensor as pt
import pytest
from small_fleet import laid_anyhow, small_fleet

from wearfit.model.clock import log_life, run_clock
from wearfit.model.data import check_bounds
from wearfit.model.layout import COEFFICIENTS, GROUPS, MOST_TURNED, SHARES, Layout, mirror
from wearfit.model.levels_seen import levels_seen
from wearfit.model.parameters import build_parameters
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors

Array = np.ndarray

FLEET = small_fleet()
NARROW = layout_of(FLEET)
WIDE = Layout(NARROW.plants, NARROW.resins, 2 * MOST_TURNED, NARROW.makers, NARROW.features, NARROW.reads)
DATA = laid_anyhow(prepare(FLEET, read_priors(), WIDE), WIDE)
N = len(COEFFICIENTS)
DESIGN = WIDE.block("design")
SEEN = np.flatnonzero(levels_seen(FLEET).design)


def image(data: Array, x: Array) -> Array:
    return np.asarray(data[1] * x - (data[1] * x) @ data[0] * data[0])


@pytest.mark.parametrize("levels", [1, 2, 5, 300])
def test_images_of_the_axes_are_orthonormal_contrasts(levels: int) -> None:
    seen = np.zeros(levels + 4, dtype=bool)
    seen[2 : 2 + levels] = True
    by_axis = np.stack([image(mirror(seen), axis) for axis in np.eye(len(seen))], axis=1)
    counted = by_axis[:, mirror(seen)[1] > 0]
    assert counted.shape[1] == levels - 1
    assert counted.T @ counted == pytest.approx(np.eye(levels - 1), abs=1e-12)
    assert counted.sum(axis=0) == pytest.approx(np.zeros(levels - 1), abs=1e-12)
    assert not counted[~seen].any()


def test_only_a_group_of_many_levels_is_mirrored() -> None:
    assert NARROW.mirrored.start == NARROW.mirrored.stop
    assert len(NARROW.turned) == NARROW.scaled
    assert WIDE.mirrored == DESIGN
    assert sorted([*WIDE.turned, *range(DESIGN.start, DESIGN.stop)]) == list(range(WIDE.scaled))
    assert DATA.contrast.shape == (NARROW.scaled - NARROW.designs,) * 2
    assert "mirror" in DATA.as_dict()
    assert "mirror" not in prepare(FLEET, read_priors(), NARROW).as_dict()


def coordinates(seed: int) -> tuple[Array, Array, Array, Array]:
    rng = np.random.default_rng(seed)
    z, slot = rng.standard_normal(N + WIDE.unscaled), rng.standard_normal(WIDE.scaled)
    return z, rng.uniform(0.1, 0.9, len(SHARES)), rng.standard_normal(len(GROUPS)), slot


def test_effects_have_the_variances_of_contrasts() -> None:
    """Scale^2 (1 - 1/J), and covariances of -scale^2 / J: from slots drawn from their prior."""
    rng, draws = np.random.default_rng(3), 20_000
    plain = replace(DATA, slot_told=np.zeros(WIDE.scaled), slot_score=np.zeros(WIDE.scaled))
    w = np.ones((draws, len(GROUPS)))
    slot = rng.standard_normal((draws, WIDE.scaled))
    p = build_parameters(np.zeros((draws, N + WIDE.unscaled)), np.full((draws, len(SHARES)), 0.5), w, slot, plain, WIDE)
    effects = p.all[:, WIDE.parameter("design", SEEN)] / DATA.group_prior[0, GROUPS.index("design")]
    assert effects.sum(axis=1) == pytest.approx(np.zeros(draws), abs=1e-12)
    assert np.cov(effects.T) == pytest.approx(np.eye(len(SEEN)) - 1.0 / len(SEEN), abs=0.05)


def test_parameters_are_the_same_in_the_graph() -> None:
    at = coordinates(4)
    given = [pt.vector(name) for name in ("z", "share", "w", "slot")]
    p = build_parameters(*given, DATA, WIDE, pt)
    found = pytensor.function(given, [p.all, p.share], mode="FAST_COMPILE")(*at)
    assert found[0] == pytest.approx(build_parameters(*at, DATA, WIDE).all, rel=1e-12)


def test_a_mirror_that_does_not_fit_is_refused() -> None:
    with pytest.raises(ValueError, match="mirror has shape"):
        check_bounds(replace(DATA, mirror=DATA.mirror[:, 1:]), WIDE)


def test_lives_do_not_depend_on_the_padding() -> None:
    """The same effects in a narrow layout, turned, and in a wide one, mirrored."""
    narrow = prepare(FLEET, read_priors(), NARROW)
    wide = build_parameters(*coordinates(5), DATA, WIDE)
    moved = np.zeros(N + NARROW.size)
    for name, _ in NARROW.blocks:
        slots = np.arange(min(NARROW.block(name).stop - NARROW.block(name).start, WIDE.block(name).stop - WIDE.block(name).start))
        moved[NARROW.parameter(name, slots)] = wide.all[WIDE.parameter(name, slots)]
    moved[:N] = wide.all[:N]
    same = type(wide)(moved, wide.share)
    assert log_life(same, narrow) == pytest.approx(log_life(wide, DATA), rel=1e-12)
    assert run_clock(same, narrow).end == pytest.approx(run_clock(wide, DATA).end, rel=1e-12)
