"""Wear summed over cells: the loop against cumulative sums, its gradient against differences, and both as they are compiled."""

import numpy as np
import pytensor
import pytensor.tensor as pt
import pytest
from small_fleet import read_fleet

from wearfit.model.cell_sums import SumCells, sum_cells, sum_cells_back
from wearfit.model.data import CellColumns, ReadingColumns, RowColumns
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors

Array = np.ndarray

FLEET = read_fleet()
DATA = prepare(FLEET, read_priors(), layout_of(FLEET))
RNG = np.random.default_rng(81)
PLACE, JOB = (np.exp(0.5 * RNG.standard_normal(len(table))) for table in (DATA.place, DATA.job))
SETUP = np.array([700.0])
OF_WORN, OF_READ = RNG.standard_normal((3, len(DATA.row))), RNG.standard_normal(len(DATA.reading))
TABLES = (DATA.cell, DATA.row, DATA.reading)


def test_sums_are_those_between_the_boundaries() -> None:
    c, bounds = CellColumns, DATA.row[:, RowColumns.boundaries].astype(int)
    # The fleet has rows that are entered late, and some last known good before their end.
    assert (bounds[:, 1] > bounds[:, 0]).any() and (bounds[:, 2] > bounds[:, 1]).any() and (bounds[:, 3] > bounds[:, 2]).any()
    wear = PLACE[DATA.cell[:, c.place].astype(int)] * JOB[DATA.cell[:, c.job].astype(int)]
    wear *= DATA.cell[:, c.shots] + SETUP * DATA.cell[:, c.setups]
    expected = [[wear[row[0] : row[i]].sum() for row in bounds] for i in (1, 2, 3)]
    worn, read = sum_cells(PLACE, JOB, SETUP, *TABLES)
    assert worn == pytest.approx(np.array(expected), rel=1e-12)
    assert len(read) > 10
    at = DATA.reading[:, [ReadingColumns.row, ReadingColumns.stop]].astype(int)
    assert read == pytest.approx(np.array([wear[bounds[row, 0] : stop].sum() for row, stop in at]), rel=1e-12)


@pytest.mark.parametrize("which", [0, 1, 2], ids=["place", "job", "setup"])
def test_gradient_is_that_of_the_sums(which: int) -> None:
    """The sums are linear in each factor, so that a difference over any step is exact but for rounding."""
    factors = [PLACE, JOB, SETUP]
    exact = sum_cells_back(*factors, *TABLES, OF_WORN, OF_READ)[which]
    assert exact.any()
    for i in range(len(exact)):
        up, down = ([f.copy() for f in factors] for _ in range(2))
        up[which][i] *= 1.5
        down[which][i] *= 0.5
        above, below = sum_cells(*up, *TABLES), sum_cells(*down, *TABLES)
        rise = (OF_WORN * (above[0] - below[0])).sum() + (OF_READ * (above[1] - below[1])).sum()
        assert rise / factors[which][i] == pytest.approx(exact[i], rel=1e-9, abs=1e-6 * np.abs(exact).max())


def test_compiled_equals_the_loop() -> None:
    place, job, setup = pt.dvector("place"), pt.dvector("job"), pt.dvector("setup")
    worn, read = SumCells()(place, job, setup, *(pt.as_tensor_variable(table) for table in TABLES))
    gradient = pt.grad((worn * OF_WORN).sum() + (read * OF_READ).sum(), [place, job, setup])
    with pytensor.config.change_flags(numba__fastmath=False):
        compiled = pytensor.function([place, job, setup], [worn, read, *gradient], mode="NUMBA")
    expected = (*sum_cells(PLACE, JOB, SETUP, *TABLES), *sum_cells_back(PLACE, JOB, SETUP, *TABLES, OF_WORN, OF_READ))
    for value, wanted in zip(compiled(PLACE, JOB, SETUP), expected, strict=True):
        assert value == pytest.approx(wanted, rel=1e-12)
