"""A history as the model takes it, with what draws of an earlier calibration say of it."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.exposures.table import Exposures
from wearfit.law import LAWS
from wearfit.model.data import ModelData, RowColumns
from wearfit.model.flat_draws import Laid
from wearfit.model.laid_out import effects_by_name, laid_out
from wearfit.model.layout import COEFFICIENTS, FEATURE_BLOCKS, Layout
from wearfit.model.parameters import Parameters
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import Priors

Array = np.ndarray

LEAST: Final = 1e-12  # of a prior scale, where it divides


@dataclass(frozen=True)
class Subject:
    """A history as the model takes it, and draws of what an earlier calibration believes of it."""

    exposures: Exposures
    priors: Priors
    layout: Layout
    data: ModelData
    drawn: Laid
    names: tuple[str, ...]  # (tool,)
    tool: Array  # (sample, tool) effects on log life; of tools that it does not know drawn from their population
    measured: Array  # (tool,) whether readings tell of the capacity of one of its lives
    open: Array  # (tool,) whether class, steel or age is open
    wear_law: int


def subject_of(calibration: Calibration, exposures: Exposures, priors: Priors, seed: int) -> Subject:
    """What the draws of a calibration say of a history: its own, or one that has levels which it has never seen.

    Parameters
    ----------
    priors : Priors
        Those of the calibration.
    """
    layout = layout_of(exposures)
    data = prepare(exposures, priors, layout)
    kept = np.arange(calibration.samples)
    rng, n, tools = np.random.default_rng([seed, 61]), len(COEFFICIENTS), exposures.tools
    slots = laid_out(calibration, exposures, priors, layout, kept, rng)
    for i, (block, values) in enumerate(zip(FEATURE_BLOCKS, _feature_laws(calibration), strict=True)):
        law = np.tile(data.feature_loc[i], (len(kept), 1))
        law[:, : values.shape[1]] = values
        span = layout.block(block)
        slots[:, n + span.start : n + span.stop] = (law - data.feature_loc[i]) @ np.linalg.pinv(data.feature_root[i]).T
    candidate = data.row[data.row[:, RowColumns.path] > 0, RowColumns.candidate].astype(np.int64)
    measured, open_ = (np.zeros(len(tools.tool_id), dtype=bool) for _ in range(2))
    measured[exposures.candidates.tool[candidate]] = True
    open_[exposures.candidates.tool[~exposures.candidates.known]] = True
    drawn = calibration.draws
    return Subject(
        exposures,
        priors,
        layout,
        data,
        Laid(
            Parameters(slots, np.asarray(drawn.share, dtype=float)),
            np.asarray(drawn.scale, dtype=float) / np.maximum(data.group_prior[0], LEAST),
            np.zeros((len(kept), layout.reads)),
        ),
        tuple(str(name) for name in tools.tool_id),
        effects_by_name(calibration, kept, rng, "tool", tools.tool_id, calibration.levels.tool, drawn.tool),
        measured,
        open_,
        LAWS.index(calibration.identity.wear_law),
    )


def _feature_laws(calibration: Calibration) -> tuple[Array, Array, Array]:
    """Level, log growth and log noise of each feature, shape (sample, feature)."""
    drawn = calibration.draws
    level, growth, noise = (np.asarray(a, dtype=float) for a in (drawn.feature_level, drawn.feature_growth, drawn.feature_noise))
    return level, np.log(growth), np.log(noise)
