"""A calibration with draws in double precision, in which whatever is asked of it is then reckoned."""

from dataclasses import fields, replace

import numpy as np

from wearfit.calibration import Calibration


def in_double(calibration: Calibration) -> Calibration:
    """The same calibration, its draws doubled in precision alone."""
    drawn = {f.name: getattr(calibration.draws, f.name) for f in fields(calibration.draws)}
    doubled = {name: draws.astype(float) for name, draws in drawn.items() if draws.dtype == np.float32}
    return replace(calibration, draws=replace(calibration.draws, **doubled))
