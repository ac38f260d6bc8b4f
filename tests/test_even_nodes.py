"""Shares of masses between even nodes, against a distribution in closed form."""

import numpy as np
import pytest
from scipy import stats

from wearfit.even_nodes import Densities, mass_below

NODES = np.linspace(-6.0, 6.0, 49)  # four to a standard deviation
LAW = stats.norm([0.0, 0.1, 0.37], 1.0)


DENSITIES = Densities.of(NODES[0], NODES[-1], LAW.pdf(NODES[:, None]))


@pytest.mark.parametrize("number", [-2.93, -1.0, -0.06, 0.247, 1.63])
def test_the_share_below_any_number_is_the_laws_own(number: float):
    assert DENSITIES.share_below(np.full(3, number)) == pytest.approx(LAW.cdf(number), abs=3e-5)


@pytest.mark.parametrize("share", [1e-6, 0.1, 0.5, 0.9, 1.0 - 1e-6])
def test_a_share_and_its_number_undo_each_other(share: float):
    assert DENSITIES.share_below(DENSITIES.number_at(np.full(3, share))) == pytest.approx(np.full(3, share), rel=1e-9)


def test_below_the_nodes_there_is_nothing_and_beyond_them_all():
    assert DENSITIES.share_below(np.full(3, -9.0)).tolist() == [0.0] * 3
    assert DENSITIES.share_below(np.full(3, 9.0)).tolist() == [1.0] * 3


def test_side_by_side_each_is_what_it_is_alone():
    other = Densities.of(-5.0, 8.0, stats.norm(1.0, [0.9, 2.0]).pdf(np.linspace(-5.0, 8.0, len(NODES))[:, None]))
    together, share = Densities.side_by_side([DENSITIES, other]), np.linspace(0.1, 0.9, 5)
    np.testing.assert_array_equal(together.number_at(share), np.append(DENSITIES.number_at(share[:3]), other.number_at(share[3:])))
    some = slice(None, None, 2)
    np.testing.assert_array_equal(together.thinned(some).number_at(share[some]), together.number_at(share)[some])


def test_a_density_that_breaks_off_takes_no_mass_away():
    density = np.array([0.0, 0.2, 1.0, 1.0, 0.9, 0.0, 0.0, 0.0])[:, None]
    assert (np.diff(mass_below(density)[:, 0]) >= 0.0).all()
