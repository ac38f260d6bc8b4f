"""What each draw of a calibration takes a live tool to be, where its steel or its service class is open."""

from typing import Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.exposures.classes import BANDED, CLASSES, STEELS, USUAL_STEEL
from wearfit.records.coatings import COATINGS

Array = np.ndarray

TRIED: Final = 40  # draws that tell coating and maker


def steel_drawn(calibration: Calibration, row: int) -> Array:
    """Index into STEELS of the steel that each draw takes a tool of known class to be cut in, shape (sample,)."""
    live, steels = calibration.live, _steels(calibration)
    name = str(calibration.levels.service_class[live.service_class[row]])
    usual = [STEELS.index(USUAL_STEEL[CLASSES.index(name)])] if name in CLASSES[:BANDED] else range(len(STEELS))
    beyond = _log_life(calibration, row) - live.log_band[row] - calibration.coefficient(f"class_offset.{name}")
    return _nearest(calibration, beyond, [steels - steels[:, [u]] for u in usual])


def class_drawn(calibration: Calibration, row: int) -> Array:
    """Index into CLASSES of the class that each draw takes a tool of unknown class to be of, shape (sample,)."""
    bands = np.array(calibration.identity.log_band[:BANDED])
    offsets = np.stack([calibration.coefficient(f"class_offset.{name}") for name in CLASSES[:BANDED]], axis=1)
    return _nearest(calibration, _log_life(calibration, row), [bands + offsets])


def _steels(calibration: Calibration) -> Array:
    return np.stack([calibration.coefficient(f"steel.{name}") for name in STEELS], axis=1)


def _log_life(calibration: Calibration, row: int) -> Array:
    """Log life without what is the tool's and the design's own, shape (sample,)."""
    live, draws = calibration.live, calibration.draws
    whole = np.log(np.asarray(draws.characteristic_life[:, row], dtype=float))
    design = draws.design[:, live.design[row]] if live.design[row] >= 0 else 0.0
    return np.asarray(whole - draws.tool[:, live.tool[row]] - design, dtype=float)


def _nearest(calibration: Calibration, beyond: Array, kinds: list[Array]) -> Array:
    """Which of some kinds, (sample, kind), each draw is nearest to, under the coating and the maker that fit all draws best.

    A live tool's coating and maker are not kept beside its draws, but each is the same in all of them: the right ones leave a
    rounding error, others a hundred times that.
    """
    none = np.zeros((len(beyond), 1))
    coatings = np.concatenate([none, *(calibration.coefficient(f"coating.{name}")[:, None] for name in COATINGS)], axis=1)
    makers = np.concatenate([none, np.asarray(calibration.draws.maker, dtype=float)], axis=1)
    both = (coatings[:, :, None] + makers[:, None, :]).reshape(len(beyond), -1)
    some = np.unique(np.linspace(0, len(beyond) - 1, TRIED).astype(np.int64))
    left = beyond[:, None] - both
    misfit = [np.abs(left[some, :, None] - kind[some, None, :]).min(axis=2).mean(axis=0) for kind in kinds]
    kind, of_both = divmod(int(np.argmin(np.concatenate(misfit))), both.shape[1])
    return np.asarray(np.abs(left[:, [of_both]] - kinds[kind]).argmin(axis=1))
