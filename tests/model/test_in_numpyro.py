"""The model in NumPyro has the compiled graph's log-density and gradient, so that samplers are compared on one and the same posterior.

Wants the dependency group `bench`; not collected without it, see `conftest`.
"""

from dataclasses import replace
from functools import cache

import jax
import numpy as np
import pytensor
import pytest
from in_numpyro import NODES, arranged, log_density
from indexed_sums import highest, owners, take, total
from plain_arrays import plain_arrays
from small_fleet import laid_anyhow, prior_draws, read_fleet, small_fleet

from wearfit.exposures.lives import EXACT, INTERVAL
from wearfit.model.data import ModelData
from wearfit.model.graph import build_graph
from wearfit.model.layout import GROUPS, MOST_TURNED, Layout
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors

pytestmark = pytest.mark.slow  # compiles for minutes

Array = np.ndarray

FLEET = small_fleet()
NARROW = layout_of(FLEET)
WIDE = Layout(NARROW.plants, NARROW.resins, 2 * MOST_TURNED, NARROW.makers)
ENOUGH = 40  # nodes each way for any scale that the prior draws
POINTS, SHRUNK = 4, 0.3
NAMES = {"share": "share_logodds__", "z": "z", "w": "w_by_logarithm", "slot": "slot"}


def history(layout: Layout) -> ModelData:
    """With scales as they are, not by their logarithms."""
    return replace(laid_anyhow(prepare(FLEET, read_priors(), layout), layout), log_from=np.full(len(GROUPS), 1e9))


@cache
def by_graph(layout: Layout) -> list[tuple[dict[str, Array], int, float, dict[str, Array]]]:
    """Points, the nodes that they want, and there log-density and gradient of `build_graph`, without its coordinates of readings."""
    model = build_graph(history(layout), layout).model
    variables = [next(v for v in model.value_vars if v.name == name) for name in (*NAMES.values(), "read")]
    density = model.logp()
    compiled = pytensor.function(variables, [density, *pytensor.grad(density, variables[:-1])], mode="NUMBA")
    found = []
    for at, nodes in points(layout):
        value, *slopes = compiled(*(at[name] for name in NAMES), np.zeros(layout.reads))
        found.append((at, nodes, float(value) + layout.reads * 0.5 * np.log(2.0 * np.pi), dict(zip(NAMES, slopes, strict=True))))
    return found


def points(layout: Layout) -> list[tuple[dict[str, Array], int]]:
    """Drawn from the prior, and nearer to its middle, where the nodes of a benchmark do."""
    draws = prior_draws(history(layout), layout, POINTS, seed=7)
    share = np.log(draws.share / (1.0 - draws.share))
    return [
        ({"share": size * share[i], "z": size * draws.z[i], "w": size * draws.w[i], "slot": size * draws.slot[i]}, nodes)
        for size, nodes in ((1.0, ENOUGH), (SHRUNK, NODES))
        for i in range(POINTS)
    ]


def test_the_fleet_has_what_the_likelihood_tells_apart() -> None:
    history = FLEET.history
    assert {EXACT, INTERVAL} <= set(history.ending)
    assert history.unstated.any() and (history.repeat > 0).any() and not FLEET.candidates.known.all()
    assert len({*history.chain}) < len(history.chain)


@pytest.mark.parametrize("layout", [NARROW, WIDE], ids=["turned", "mirrored"])
@pytest.mark.parametrize("scatter", [False, True], ids=["gather", "scatter"])
def test_log_density_and_gradient_are_the_graphs(layout: Layout, scatter: bool) -> None:
    d = arranged(plain_arrays(history(layout), layout), scatter)
    own = jax.jit(jax.value_and_grad(log_density), static_argnums=2)
    for at, nodes, value, slopes in by_graph(layout):
        found, gradient = own(at, d, nodes)
        assert float(found) == pytest.approx(value, rel=1e-6)
        for name, slope in slopes.items():
            assert np.asarray(gradient[name]) == pytest.approx(slope, rel=1e-6, abs=1e-6 * np.abs(slope).max()), name


def test_chains_side_by_side_are_what_each_is_alone() -> None:
    data = history(WIDE)
    rng = np.random.default_rng(9)
    d = arranged(plain_arrays(data, WIDE))
    sizes = {"share": 3, "z": len(data.root), "w": data.group_prior.shape[1], "slot": WIDE.scaled}
    at = {name: 0.3 * rng.standard_normal((3, size)) for name, size in sizes.items()}
    one = jax.jit(jax.value_and_grad(log_density))
    values, slopes = jax.jit(jax.vmap(jax.value_and_grad(log_density), in_axes=(0, None)))(at, d)
    for i in range(3):
        value, slope = one({name: x[i] for name, x in at.items()}, d)
        assert float(values[i]) == pytest.approx(float(value), rel=1e-12)
        for name in at:
            assert np.asarray(slopes[name][i]) == pytest.approx(np.asarray(slope[name]), rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("scatter", [False, True], ids=["gather", "scatter"])
@pytest.mark.parametrize("size", [1, 7, 400])
def test_sums_by_index(size: int, scatter: bool) -> None:
    rng = np.random.default_rng(size)
    index = np.minimum(rng.geometric(0.01, 900), size) - 1  # some owners have hundreds, some none
    values, table = rng.standard_normal((900, 2)), rng.standard_normal((size, 2))
    by = owners(index, size, scatter)
    by_hand = np.zeros((size, 2))
    np.add.at(by_hand, index, values)
    assert np.asarray(total(values, by)) == pytest.approx(by_hand, rel=1e-12, abs=1e-12)
    assert (np.asarray(take(table, by)) == table[index]).all()
    greatest = [values[index == i, 0].max(initial=-np.inf) for i in range(size)]
    assert (np.asarray(highest(values[:, 0], by)) == greatest).all()
    # Each is the other's transpose, and so its gradient.
    back = jax.grad(lambda v: (total(v, by) * table).sum())(values)
    assert (np.asarray(back) == table[index]).all()
    assert np.asarray(jax.grad(lambda t: (take(t, by) * values).sum())(table)) == pytest.approx(by_hand, rel=1e-12, abs=1e-12)


def test_a_history_with_readings_is_refused() -> None:
    layout = layout_of(read_fleet())
    with pytest.raises(ValueError, match="holds readings"):
        plain_arrays(prepare(read_fleet(), read_priors(), layout), layout)
