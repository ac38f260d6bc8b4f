"""The kept machine code is the graph's log-density and gradient, for any history of its layout."""

import ctypes
import gc
from dataclasses import replace
from typing import Any

import numpy as np
import pytensor
import pytest
from recovery_fleet import recovery_fleet

from wearfit.model.data import ModelData
from wearfit.model.graph import build_graph
from wearfit.model.layout import Layout
from wearfit.model.native import Coordinates, log_density, native_model, with_history
from wearfit.model.prepare import prepare
from wearfit.model.priors import read_priors
from wearfit.model.sampler import Compiled
from wearfit.model.start import scattered

Array = np.ndarray

POINTER = ctypes.POINTER(ctypes.c_double)


@pytest.fixture(scope="module")
def compiled(compiled_for_recovery: Compiled) -> Compiled:
    return compiled_for_recovery


@pytest.fixture(scope="module")
def data(compiled: Compiled) -> ModelData:
    return prepare(recovery_fleet().history.exposures, read_priors(), compiled.layout)


@pytest.fixture(scope="module")
def graph(data: ModelData, compiled: Compiled) -> Any:
    return build_graph(data, compiled.layout).model


def in_pieces(point: Array, layout: Layout) -> dict[str, Array]:
    c = Coordinates.of(layout)
    return dict(zip(c.names, np.split(point, np.cumsum(c.sizes)[:-1]), strict=True))


def by_code(model: Any, point: Array) -> tuple[float, Array]:
    """Log-density and gradient as the sampler asks for them."""
    gradient, value = np.zeros_like(point), np.zeros(())
    status = model.compiled_logp_func.ctypes(
        len(point),
        point.ctypes.data_as(POINTER),
        gradient.ctypes.data_as(POINTER),
        value.ctypes.data_as(POINTER),
        model.user_data.ctypes.data,
    )
    assert status == 0
    return float(value), gradient


def by_graph(graph: Any, point: Array, layout: Layout) -> tuple[float, Array]:
    """The same without compiled code, operation by operation."""
    logp, pieces = graph.logp(), in_pieces(point, layout)
    asked = [logp, *pytensor.grad(logp, graph.value_vars)]
    plain = pytensor.compile.mode.Mode(linker="py", optimizer=None)
    function = pytensor.function(graph.value_vars, asked, mode=plain, on_unused_input="ignore")
    value, *slopes = function(*(pieces[v.name] for v in graph.value_vars))
    by_name = dict(zip([v.name for v in graph.value_vars], slopes, strict=True))
    return float(value), np.concatenate([by_name[name] for name in pieces])


def shorter(data: ModelData) -> ModelData:
    """A history with fewer cells: those behind the last row are nobody's."""
    used = int(data.row[:, 2:6].max())
    return replace(data, cell=data.cell[:used], causes=data.causes + 3.0)


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("change", [False, True])
def test_it_is_the_graphs_density(compiled: Compiled, data: ModelData, seed: int, change: bool):
    of = shorter(data) if change else data
    point = scattered(of.start, np.random.default_rng(seed))
    value, gradient = by_code(compiled.on(of), point)
    wanted, slopes = by_graph(build_graph(of, compiled.layout).model, point, compiled.layout)
    assert value == pytest.approx(wanted, rel=1e-12)
    np.testing.assert_allclose(gradient, slopes, rtol=1e-9, atol=1e-9 * np.abs(slopes).max())


def test_a_density_outlives_the_model_that_it_is_of(compiled: Compiled, data: ModelData):
    """It holds the arrays whose addresses it calls with: others would soon lie there."""
    point = scattered(data.start, np.random.default_rng(4))
    value, gradient = by_code(compiled.on(data), point)
    density = log_density(compiled.on(data))
    gc.collect()
    others = [np.full_like(array, 7.0) for array in data.as_dict().values() for _ in range(20)]
    again, slopes = density(point)
    assert others and again == value
    np.testing.assert_array_equal(slopes, gradient)


def test_what_is_kept_of_a_draw_is_its_coordinates_and_what_some_stand_for(compiled: Compiled, data: ModelData):
    model, c = compiled.on(data), Coordinates.of(compiled.layout)
    point, kept = scattered(data.start, np.random.default_rng(3)), np.zeros(model.n_expanded)
    args = point.ctypes.data_as(POINTER), kept.ctypes.data_as(POINTER), model.user_data.ctypes.data
    assert model.compiled_expand_func.ctypes(len(point), len(kept), *args) == 0
    np.testing.assert_array_equal(kept[: c.size], point)
    share, scale = np.split(kept[c.size :], [c.sizes[0]])
    np.testing.assert_allclose(share, 1.0 / (1.0 + np.exp(-point[: c.sizes[0]])), rtol=1e-14)
    coordinate = point[c.sizes[0] : c.sizes[0] + c.sizes[1]]
    np.testing.assert_allclose(scale, data.log_from * np.sinh(coordinate / data.log_from), rtol=1e-14)


def test_it_is_found_again_without_the_graph(compiled: Compiled, data: ModelData):
    def no_graph() -> Any:
        raise AssertionError("the graph was asked for")

    again = native_model(compiled.layout, "weibull", data.as_dict(), no_graph)
    point = scattered(data.start, np.random.default_rng(1))
    found, first = (
        by_code(model, point) for model in (with_history(again, data.as_dict(), lambda density, seed: point), compiled.on(data))
    )
    assert found[0] == first[0]
    np.testing.assert_array_equal(found[1], first[1])


def test_another_graph_is_not_taken_for_it(compiled: Compiled, data: ModelData):
    class Asked(Exception):
        pass

    def ask() -> Any:
        raise Asked

    with pytest.raises(Asked):
        native_model(compiled.layout, "another law", data.as_dict(), ask)
    with pytest.raises(Asked):
        native_model(replace(compiled.layout, designs=2 * compiled.layout.designs), "weibull", data.as_dict(), ask)
