"""What one reading says, by SciPy's t distribution: sound, or one of the few that are a fault of the process."""

import numpy as np
from scipy.stats import t as student

from wearfit.growth import FAULT, FAULT_NOISE

Array = np.ndarray


def log_density(error: Array, noise: Array | float) -> Array:
    """Of a reading that far off what was to be read."""
    sound, fault = student.logpdf(error / noise, 4) - np.log(noise), student.logpdf(error / FAULT_NOISE, 4) - np.log(FAULT_NOISE)
    return np.asarray(np.logaddexp(np.log(1.0 - FAULT) + sound, np.log(FAULT) + fault))


def log_chance_below(error: Array, noise: Array | float) -> Array:
    """Log of the chance that a reading lies below what is so far above what was to be read."""
    sound, fault = student.logcdf(error / noise, 4), student.logcdf(error / FAULT_NOISE, 4)
    return np.asarray(np.logaddexp(np.log(1.0 - FAULT) + sound, np.log(FAULT) + fault))
