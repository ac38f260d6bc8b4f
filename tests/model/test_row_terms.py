"""The parts of rows as loops: those of the likelihood on NumPy, their gradient against differences, and both as they are compiled."""

from functools import cache

import numpy as np
import pytensor
import pytensor.tensor as pt
import pytest
from small_fleet import prior_draws, read_fleet, small_fleet

from wearfit.model import likelihood as ll
from wearfit.model.data import EndedColumns, ModelData
from wearfit.model.parameters import build_parameters
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors
from wearfit.model.readings import told_by_readings
from wearfit.model.row_terms import row_terms, row_terms_back
from wearfit.model.row_terms_op import RowTerms

Array = np.ndarray

FLEETS = {"measured": read_fleet, "not measured": small_fleet}
ARGUMENTS = ("entry", "good", "end", "log last", "log life", "log shape", "share", "capacity", "stretch", "told")
BOTH = pytest.mark.parametrize("fleet", FLEETS)


@cache
def data_of(fleet: str) -> ModelData:
    exposures = FLEETS[fleet]()
    return prepare(exposures, read_priors(), layout_of(exposures))


def at_draw(fleet: str, i: int) -> tuple[list[Array], ll.Terms]:
    """The arguments of one draw, and the terms by the likelihood on NumPy."""
    data, layout = data_of(fleet), layout_of(FLEETS[fleet]())
    at = prior_draws(data, layout, draws=4, seed=31).draw(i)
    p = build_parameters(at.z, at.share, at.w, at.slot, data, layout)
    clock, log_life = ll.run_clock(p, data), ll.log_life(p, data)
    told = told_by_readings(p, clock, at.read, data, layout)
    given = [clock.entry, clock.good, clock.end, clock.log_last, log_life, p.coefficient("log_shape"), p.share_of("wear_share")]
    return [*given, told.capacity, told.log_stretch, told.log_likelihood], ll.history_terms(p, clock, log_life, data, told=told)


def tables(fleet: str) -> tuple[Array, Array]:
    return data_of(fleet).row, data_of(fleet).ended


def weights(fleet: str) -> list[Array]:
    """By which the gradient of a sum of all terms is asked; a rise counts only over an interval."""
    row, ended = tables(fleet)
    rng = np.random.default_rng(82)
    return [rng.standard_normal(len(row)), rng.standard_normal(len(ended)), rng.standard_normal(len(ended)) * (ended[:, 1] > 0)]


def test_fleets_have_every_kind_of_ending() -> None:
    e = EndedColumns
    kinds = np.concatenate([data_of(fleet).ended[:, [e.interval, e.perhaps, e.capacity, e.split]] > 0 for fleet in FLEETS])
    assert {tuple(kind) for kind in kinds.astype(int).tolist()} == {
        (0, 0, 0, 0), (1, 0, 0, 0), (0, 1, 0, 0), (1, 1, 0, 0), (0, 0, 1, 0), (0, 0, 1, 1),
    }  # fmt: skip


@BOTH
@pytest.mark.parametrize("draw", range(4))
def test_terms_are_those_of_the_likelihood(fleet: str, draw: int) -> None:
    """But for a hazard of some 1e-23 of a row that spent nothing, which is left out at its entry, and for a rise over no interval."""
    given, expected = at_draw(fleet, draw)
    survived, exact, rise, _, _ = row_terms(*given, *tables(fleet))
    assert survived == pytest.approx(expected.survived, rel=1e-11, abs=1e-20)
    assert exact == pytest.approx(expected.exact, rel=1e-11, abs=1e-11)
    over = tables(fleet)[1][:, EndedColumns.interval] > 0
    assert rise[over] == pytest.approx(expected.rise[over], rel=1e-9)
    assert (rise[~over] == ll.LEAST_RISE).all()


@BOTH
@pytest.mark.parametrize("which", range(len(ARGUMENTS)), ids=ARGUMENTS)
def test_gradient_is_that_of_the_terms(fleet: str, which: int) -> None:
    given, _ = at_draw(fleet, 1)
    value, of = row_terms(*given, *tables(fleet)), weights(fleet)
    exact = row_terms_back(*given, *tables(fleet), *value[2:], *of)[which]
    assert exact.shape == given[which].shape
    assert exact.any() or (fleet == "not measured" and which > 5)  # nothing of readings is asked there, nor of the share
    for i in range(len(exact)):
        step = 1e-5 * max(1.0, abs(given[which][i]))
        sides = []
        for sign in (1, -1):
            moved = [a.copy() for a in given]
            moved[which][i] += sign * step
            parts = row_terms(*moved, *tables(fleet))
            sides.append([weight * part for weight, part in zip(of, parts, strict=False)])
        # Term by term, or one of 1e3 drowns the difference of the others.
        rise = sum(((up - down) / (2 * step)).sum() for up, down in zip(*sides, strict=True))
        assert rise == pytest.approx(exact[i], rel=1e-5, abs=1e-8)


@BOTH
def test_compiled_equals_the_loop(fleet: str) -> None:
    given, _ = at_draw(fleet, 2)
    inputs = [pt.dvector(name) for name in ARGUMENTS]
    outputs, of = RowTerms()(*inputs, *(pt.as_tensor_variable(table) for table in tables(fleet)))[:3], weights(fleet)
    gradient = pt.grad(sum((part * weight).sum() for part, weight in zip(outputs, of, strict=True)), inputs)
    with pytensor.config.change_flags(numba__fastmath=False):
        compiled = pytensor.function(inputs, [*outputs, *gradient], mode="NUMBA")
    value = row_terms(*given, *tables(fleet))
    expected = (*value[:3], *row_terms_back(*given, *tables(fleet), *value[2:], *of))
    for found, wanted in zip(compiled(*given), expected, strict=True):
        assert found == pytest.approx(wanted, rel=1e-11, abs=1e-300)
