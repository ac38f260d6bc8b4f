"""The air of a conditioned hall as the wear law takes it: dry, and the reference of every corrosivity."""

from typing import Final

import numpy as np

from wearfit.exposures.covariates import PlantLevels

# Judgement, no source.
SWEATING_SD_CONDITIONED: Final = 0.05
"""Conditioned hall taken as dry, its air not recorded."""
LOG_CORROSIVITY_SD_CONDITIONED: Final = 0.2
"""Conditioned halls differ among themselves."""


def conditioned_hall() -> PlantLevels:
    """Yearly conditions of one conditioned hall whose air is not recorded."""
    return PlantLevels(np.zeros(1), np.array([SWEATING_SD_CONDITIONED]), np.zeros(1), np.array([LOG_CORROSIVITY_SD_CONDITIONED]))
