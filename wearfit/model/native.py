"""The compiled model as machine code that is kept on disk: what a graph comes to, found again without the graph.

Building the graph, rewriting it and compiling it takes most of a cold calibration, and gives the same code each time for one
layout, one law and one version of the program. So the two functions that the sampler calls are kept under a name of all three
(`code_version.program_digest`), in the compiler's own cache. They are given the arrays of a history by their addresses.
"""

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise
from typing import Any, Final

import numba
import numpy as np
from numba.core.errors import NumbaError
from nutpie.compile_pymc import CompiledPyMCModel, _make_functions, address_as_void_pointer, make_user_data
from pytensor import config
from pytensor.link.numba.cache import NUMBA_CACHE_PATH, compile_numba_function_src

from wearfit.model.code_version import program_digest
from wearfit.model.compiled_density import ADDRESSED, CompiledDensity
from wearfit.model.information import LogDensity
from wearfit.model.layout import COEFFICIENTS, GROUPS, SHARES, Layout

Array = np.ndarray
Start = Callable[[LogDensity, int], Array]  # the coordinates that a chain starts from, by a seed

C = numba.types
LOG_DENSITY: Final = C.int64(C.uint64, C.CPointer(C.double), C.CPointer(C.double), C.CPointer(C.double), C.voidptr)
EXPANDED: Final = C.int64(C.uint64, C.uint64, C.CPointer(C.double), C.CPointer(C.double), C.voidptr)


@dataclass(frozen=True)
class Named:
    """An array of the model, as the sampler's package asks for it."""

    name: str
    ndim: int


@dataclass(frozen=True)
class Coordinates:
    """The sampler's coordinates of a layout, in their order, and what is kept of each draw."""

    names: tuple[str, ...]
    sizes: tuple[int, ...]

    @classmethod
    def of(cls, layout: Layout) -> "Coordinates":
        return cls(
            ("share_logodds__", "w_by_logarithm", "slot", "z", "read"),
            (len(SHARES), len(GROUPS), layout.scaled, len(COEFFICIENTS) + layout.unscaled, layout.reads),
        )

    @property
    def size(self) -> int:
        return sum(self.sizes)

    @property
    def kept(self) -> tuple[tuple[str, ...], tuple[int, ...]]:
        """Names and sizes of all that is kept: the coordinates, and the shares and scales that they stand for."""
        return (*self.names, "share", "w"), (*self.sizes, len(SHARES), len(GROUPS))


def native_model(layout: Layout, law: str, arrays: Mapping[str, Array], graph: Callable[[], Any]) -> CompiledPyMCModel:
    """The model as the sampler takes it; its machine code is taken from the disk where it is there.

    Parameters
    ----------
    law : str
        Tells apart graphs of one layout.
    arrays : mapping of str to array
        The data of any history of the layout, by the names that the graph has them by.
    graph : callable
        Makes the PyMC model; called where there is no machine code of it.
    """
    coordinates = Coordinates.of(layout)
    names = tuple(arrays)
    dims = tuple(arrays[name].ndim for name in names)
    key = hashlib.sha256(repr((program_digest(), layout, law, names, dims)).encode()).hexdigest()
    wanted = (coordinates, dims, key)
    try:
        log_density, expanded = _functions(*wanted, None, None) if _is_kept(key) else (None, None)
    except NumbaError:  # kept, but for another processor
        log_density = None
    if log_density is None:
        log_density, expanded = _functions(*wanted, *_from_graph(graph(), coordinates, names))
    shared = {name: np.array(value, dtype=float, order="C") for name, value in arrays.items()}
    for value in shared.values():
        value.flags.writeable = False
    kept_names, kept_sizes = coordinates.kept
    starts = np.concatenate([[0], np.cumsum(kept_sizes)])
    keys = {Named(name, value.ndim): name for name, value in shared.items()}
    return CompiledPyMCModel(
        dims={},
        compiled_logp_func=log_density,
        compiled_expand_func=expanded,
        initial_point_func=_nowhere,
        shared_data=shared,
        shared_var_keys=keys,
        user_data=make_user_data(keys, shared),
        n_expanded=sum(kept_sizes),
        shape_info=(list(kept_names), [slice(a, b) for a, b in pairwise(starts)], [(n,) for n in kept_sizes]),
        logp_func=None,
        expand_func=None,
        reparameterized_names=["share_logodds__"],
        _n_dim=coordinates.size,
        _shapes={name: (size,) for name, size in zip(kept_names, kept_sizes, strict=True)},
        _coords={
            "unconstrained_parameter": [
                f"{n}_{i}" for n, size in zip(coordinates.names, coordinates.sizes, strict=True) for i in range(size)
            ]
        },
    )


def log_density(model: CompiledPyMCModel) -> CompiledDensity:
    """The log-density of coordinates and its gradient, as the sampler asks for them."""
    return CompiledDensity(model._n_dim, ADDRESSED(model.compiled_logp_func.address), model.user_data, model)


def with_history(model: CompiledPyMCModel, arrays: Mapping[str, Array], start: Start) -> CompiledPyMCModel:
    """The model on a history."""
    on_it = model.with_data(**arrays)
    return replace(on_it, initial_point_func=partial(start, log_density(on_it)))


def _is_kept(key: str) -> bool:
    return any(NUMBA_CACHE_PATH.glob(f"*{key}*.nbi"))


def _nowhere(seed: int) -> Array:
    raise AssertionError("a model is sampled on a history")


def _functions(coordinates: Coordinates, dims: Sequence[int], key: str, log_density: Any, expanded: Any) -> tuple[Any, Any]:
    """The functions as the sampler calls them, compiled unless they are kept, from those of `_from_graph`."""
    given = _given(dims)
    n, n_kept = coordinates.size, sum(coordinates.kept[1])
    density = _LOG_DENSITY.format(n=n, given=given, words=_words(dims))
    everything = _EXPANDED.format(n=n, n_kept=n_kept, given=given, words=_words(dims))
    return (
        numba.cfunc(LOG_DENSITY, cache=config.numba__cache)(_source(density, "log_density", log_density, key)),
        numba.cfunc(EXPANDED, cache=config.numba__cache)(_source(everything, "expanded", expanded, key)),
    )


def _source(text: str, name: str, inner: Any, key: str) -> Any:
    known = {"__name__": __name__, "inner": inner, "carray": numba.carray, "pointer": address_as_void_pointer, "np": np}
    return compile_numba_function_src(text, name, global_env=known, cache_key=f"{key}{name}")


# The array u holds addresses, sizes and lengths of the data, as the sampler's package lays them out (`make_user_data`).
_LOG_DENSITY: Final = """
def log_density(dim, x_, out_, value_, given_):
    if dim != {n}:
        return -1
    try:
        u = carray(given_, ({words},), np.uint64)
        out, value = carray(out_, ({n},)), carray(value_, ())
        density, gradient = inner(carray(x_, ({n},)), {given})
        value[()] = density
        for i in range({n}):
            out[i] = gradient[i]
        for i in range({n}):
            if not np.isfinite(gradient[i]):
                return 3
        if not np.isfinite(density):
            return 4
    except Exception:
        return 1
    return 0
"""
_EXPANDED: Final = """
def expanded(dim, kept, x_, out_, given_):
    if dim != {n} or kept != {n_kept}:
        return -1
    try:
        u = carray(given_, ({words},), np.uint64)
        (values,) = inner(carray(x_, ({n},)), {given})
        out = carray(out_, ({n_kept},))
        for i in range({n_kept}):
            out[i] = values[i]
    except Exception:
        return -2
    return 0
"""


def _given(dims: Sequence[int]) -> str:
    """The arrays as arguments, each from its address and its lengths."""
    said, at = [], 2 * len(dims)
    for i, d in enumerate(dims):
        lengths = ", ".join(f"int(u[{at + j}])" for j in range(d))
        said.append(f"carray(pointer(u[{i}]), ({lengths},), np.float64)")
        at += d
    return ", ".join(said)


def _words(dims: Sequence[int]) -> int:
    return 2 * len(dims) + sum(dims)


def _from_graph(model: Any, coordinates: Coordinates, names: Sequence[str]) -> tuple[Any, Any]:
    """Log-density with its gradient, and all that is kept of a draw, as compiled functions of the coordinates and all arrays."""
    n, n_kept, log_density, expanded, _, (kept, _, shapes), _ = _make_functions(
        model, mode="NUMBA", compute_grad=True, join_expanded=True, pymc_initial_point_fn=lambda seed: {}
    )
    expected, sizes = coordinates.kept
    if (n, n_kept, tuple(kept), tuple(shapes)) != (coordinates.size, sum(sizes), expected, tuple((s,) for s in sizes)):
        raise AssertionError("the graph's coordinates are not the layout's")
    return _of_all(log_density, names), _of_all(expanded, names)


def _of_all(function: Any, names: Sequence[str]) -> Any:
    """A graph's function, which takes the arrays that it uses, as one of all arrays in the order of `names`."""
    used = [variable.name for variable in function.get_shared()]
    places = ", ".join(f"a{names.index(name)}" for name in used)
    text = f"def of_all(x, {', '.join(f'a{i}' for i in range(len(names)))}):\n    return inner(x, {places})\n"
    made: dict[str, Any] = {"__name__": __name__, "inner": function.vm.jit_fn}
    exec(text, made)
    # Inlined, or all that it calls would be compiled twice.
    return numba.njit(made["of_all"], inline="always")
