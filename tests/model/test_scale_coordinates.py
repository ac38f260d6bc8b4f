"""Coordinates of scales: near zero what they are, far off their logarithms, and the same posterior whichever."""

from dataclasses import replace

import numpy as np
import pytest
from small_fleet import laid_anyhow, prior_draws, small_fleet

from wearfit.model.axes import KNOWN
from wearfit.model.graph import build_graph
from wearfit.model.layout import GROUPS
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors
from wearfit.model.scale_coordinates import NOWHERE, coordinate_of, of_coordinate

Array = np.ndarray

FLEET = small_fleet()
LAYOUT = layout_of(FLEET)
PLAIN = prepare(FLEET, read_priors(), LAYOUT)
LAID = laid_anyhow(PLAIN, LAYOUT)
FROM = 0.2


def test_there_and_back() -> None:
    w = np.concatenate([-np.logspace(-6, 1, 50), [0.0], np.logspace(-6, 1, 50)])
    assert of_coordinate(coordinate_of(w, np.float64(FROM)), np.float64(FROM)) == pytest.approx(w, rel=1e-12)


def test_small_it_is_the_scale_and_large_its_logarithm() -> None:
    assert coordinate_of(np.array([0.01 * FROM]), np.float64(FROM)) == pytest.approx([0.01 * FROM], rel=1e-4)
    apart = np.diff(coordinate_of(np.array([10.0, 20.0, 40.0]) * FROM, np.float64(FROM)))
    assert apart == pytest.approx(FROM * np.log(2.0), rel=4e-3)
    assert coordinate_of(np.array([2.0]), np.float64(NOWHERE)) == pytest.approx([2.0], rel=3e-4)


def test_the_density_counts_how_far_a_coordinate_stretches() -> None:
    """Of one point by two kinds of coordinates, the densities differ by the slope of one kind by the other, here by differences."""
    at = prior_draws(PLAIN, LAYOUT, draws=1, seed=6).draw(0)
    bent = replace(PLAIN, log_from=np.linspace(0.1, 2.0, len(GROUPS)))
    plain, other = (
        float(build_graph(d, LAYOUT).model.compile_logp(jacobian=False, mode="FAST_COMPILE")(at.point(d))) for d in (PLAIN, bent)
    )
    step = 1e-6

    def slope(log_from: Array) -> Array:
        middle = coordinate_of(at.w, log_from)
        return (of_coordinate(middle + step, log_from) - of_coordinate(middle - step, log_from)) / (2.0 * step)

    stretched = np.log(slope(bent.log_from)).sum() - np.log(slope(PLAIN.log_from)).sum()
    assert abs(stretched) > 0.1
    assert other - plain == pytest.approx(stretched, abs=1e-6)


def test_logarithms_begin_where_the_levels_of_a_group_are_known() -> None:
    for i, name in enumerate(GROUPS):
        told = np.zeros(0) if name == "tool" else LAID.slot_told[LAYOUT.block(name)]
        known = told[told > 0.0]
        if len(known):
            assert LAID.log_from[i] * LAID.group_prior[0, i] == pytest.approx(KNOWN * np.median(known) ** -0.5), name
        else:
            assert LAID.log_from[i] == NOWHERE, name
    assert (LAID.log_from < NOWHERE).sum() == len(GROUPS) - 1
    assert (PLAIN.log_from == NOWHERE).all()
