"""The saved posterior: draws, levels, and the live tools as they stood, in one NetCDF4 file.

Answers need nothing else: no records, no model. `tables.py` declares the parts, `whole.py` the whole, `saved.py` writes and reads it.
"""

from wearfit.calibration.saved import from_bytes, to_bytes
from wearfit.calibration.tables import (
    MOST_DRAWS,
    STORAGE_QUANTILES,
    DesignTable,
    Draws,
    FeaturePopulation,
    Levels,
    LiveTable,
    NotedTable,
    PlantTable,
    PriorDraws,
    ReadingTable,
    ReadTable,
    ResinTable,
    TrailTable,
)
from wearfit.calibration.whole import FORMAT_VERSION, MODEL_VERSION, STACKED, Calibration, Identity

__all__ = [
    "FORMAT_VERSION",
    "MODEL_VERSION",
    "MOST_DRAWS",
    "STACKED",
    "STORAGE_QUANTILES",
    "Calibration",
    "DesignTable",
    "Draws",
    "FeaturePopulation",
    "Identity",
    "Levels",
    "LiveTable",
    "NotedTable",
    "PlantTable",
    "PriorDraws",
    "ReadTable",
    "ReadingTable",
    "ResinTable",
    "TrailTable",
    "from_bytes",
    "to_bytes",
]
