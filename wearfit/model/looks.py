"""Looks at chains, the quickest first: at what all else hangs on, at effects of groups, and at what comes of them for tools.

Padding stays out. A look holds what the one before found, and adds to it.
"""

from collections.abc import Callable

import numpy as np

from wearfit.calibration import MOST_DRAWS
from wearfit.exposures.table import Exposures
from wearfit.model.data import ModelData
from wearfit.model.flat_draws import CHUNK, Flat, flatten
from wearfit.model.gate import Diagnostics, further, judge
from wearfit.model.layout import COEFFICIENTS, Layout
from wearfit.model.parameters import Parameters
from wearfit.model.posterior import Rows, log_median_capacity
from wearfit.model.readings import growth_law
from wearfit.model.sampler import CHAINS, Chains
from wearfit.processors import at_once, parts

Array = np.ndarray


def look_at_top(chains: Chains, data: ModelData, layout: Layout) -> Diagnostics:
    """Judge all draws of the top-level parameters."""
    full = flatten(chains, chains.diverging.size)
    top = _of_each(full, data, layout, lambda p: {"coefficients": p.all[:, : len(COEFFICIENTS)].copy(), "shares": p.share})
    return judge(top | {"scales": _by_chain(full.scales(data))}, chains.diverging, chains.energy, chains.steps, chains.tune)


def look_at_groups(before: Diagnostics, chains: Chains, data: ModelData, layout: Layout, exposures: Exposures) -> Diagnostics:
    """Judge the draws that are kept of effects of plants, resins, designs and makers, and of how features grow."""
    sizes = {
        "plant": len(exposures.plant_ids),
        "resin": len(exposures.resins.resin_id),
        "design": len(exposures.tools.design_ids),
        "maker": len(exposures.tools.maker_ids),
        "sudden_plant": len(exposures.plant_ids),
    }
    starts = {name: len(COEFFICIENTS) + layout.block(name).start for name, size in sizes.items() if size}
    features = len(exposures.readings.feature_ids)

    def some(p: Parameters) -> dict[str, Array]:
        found = {name: p.all[:, start : start + sizes[name]].copy() for name, start in starts.items()}
        if features:
            found["feature"] = np.concatenate([of[:, :features] for of in growth_law(p, data, layout)[:3]], axis=1)
        return found

    return further(before, _of_each(flatten(chains, MOST_DRAWS), data, layout, some))


def look_at_tools(before: Diagnostics, rows: Rows) -> Diagnostics:
    """Judge the draws that are kept of effects of tools, and of what forecasts rest on."""
    of_tools = {"tool": _by_chain(rows.tool)}
    capacity = log_median_capacity(rows, rows.features.shape)
    if capacity.shape[1]:
        of_tools["forecast median"] = _by_chain(capacity)
    return further(before, of_tools)


def _of_each(flat: Flat, data: ModelData, layout: Layout, some: Callable[[Parameters], dict[str, Array]]) -> dict[str, Array]:
    """Some parameters of all draws, by chain: with thousands of designs all of all draws at once would take longer than fifty draws do."""
    found = at_once(lambda chunk: some(flat.parameters(data, layout, chunk)), parts(flat.samples, CHUNK))
    return {name: _by_chain(np.concatenate([each[name] for each in found])) for name in found[0]}


def _by_chain(values: Array) -> Array:
    return values.reshape(CHAINS, -1, values.shape[-1])
