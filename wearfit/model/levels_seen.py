"""Levels of groups that the likelihood sees, and how the sampler's coordinates turn about their mean."""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import block_diag

from wearfit.exposures.table import Exposures
from wearfit.model.layout import CONTRASTED, Layout, contrast, mirror

Array = np.ndarray


@dataclass(frozen=True)
class Seen:
    """Which levels of each group the likelihood sees. Boolean arrays."""

    plant: Array
    resin: Array
    design: Array
    maker: Array


def levels_seen(exposures: Exposures) -> Seen:
    """Levels that some row of the likelihood rests on; the rest are drawn from their population."""
    cells, candidates = exposures.cells, exposures.candidates

    def mark(n: int, index: Array) -> Array:
        seen = np.zeros(n, dtype=bool)
        seen[index[index >= 0]] = True
        return seen

    made = cells.years == 0  # where a tool stood tells of no plant, resin, design or maker
    tool = candidates.tool[exposures.history.candidate[cells.episode[made]]]
    return Seen(
        plant=mark(len(exposures.plant_ids), exposures.places.plant[cells.place]),
        resin=mark(len(exposures.resins.resin_id), exposures.jobs.resin[cells.job]),
        design=mark(len(exposures.tools.design_ids), exposures.tools.design[tool]),
        maker=mark(len(exposures.tools.maker_ids), exposures.tools.maker[tool]),
    )


def contrasts(layout: Layout, seen: Seen) -> Array:
    """`layout.contrast` of every group that is turned, block by block; effects on sudden stops sum to anything, each an axis of its own."""
    spans = {name: layout.block(name) for name in CONTRASTED}
    turned = {name: span for name, span in spans.items() if span != layout.mirrored}
    contrasted = [contrast(getattr(seen, name), span.stop - span.start) for name, span in turned.items()]
    return np.asarray(block_diag(*contrasted, np.eye(layout.plants)))


def mirror_of(layout: Layout, seen: Seen) -> Array:
    """`layout.mirror` of the group that is mirrored."""
    span = layout.mirrored
    levels = np.zeros(span.stop - span.start, dtype=bool)
    for name in CONTRASTED:
        if span == layout.block(name):
            levels[: len(getattr(seen, name))] = getattr(seen, name)
    return mirror(levels)
