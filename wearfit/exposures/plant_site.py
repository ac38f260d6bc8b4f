"""What the plants table states about the plants asked for, and what stands in where it is silent."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

# All three: judgement, no source.
COOLANT_DEFAULT_C: Final = 12.0
"""[degC] Coolant supply of a plant that states none."""
SO2_DEFAULT_MG_M2_DAY: Final = 5.0
"""[mg/(m2 d)] Deposition of sulfur dioxide at a typical inland site."""
CHLORIDE_DEFAULT_MG_M2_DAY: Final = 3.0
"""[mg/(m2 d)] Deposition of chloride at a typical inland site."""


@dataclass(frozen=True, slots=True)
class PlantSite:
    """Stated conditions, one entry a plant.

    Attributes
    ----------
    plant_ids : tuple of str, length plant
    row : array, shape (plant,)
        Row in the plants table, NaN for a plant without one.
    source : tuple of str, length plant
        File or sheet that the row stands in, "" for none.
    coolant_c, so2_mg_m2_day, chloride_mg_m2_day : arrays, shape (plant,)
        As stated, the default where blank. [degC], [mg/(m2 d)], [mg/(m2 d)]
    coolant_stated, so2_stated, chloride_stated : bool arrays, shape (plant,)
    conditioned : bool array, shape (plant,)
        False where blank.
    """

    plant_ids: tuple[str, ...]
    row: NDArray[np.float64]
    source: tuple[str, ...]
    coolant_c: NDArray[np.float64]
    so2_mg_m2_day: NDArray[np.float64]
    chloride_mg_m2_day: NDArray[np.float64]
    coolant_stated: NDArray[np.bool_]
    so2_stated: NDArray[np.bool_]
    chloride_stated: NDArray[np.bool_]
    conditioned: NDArray[np.bool_]


def plant_site(plants: pd.DataFrame, plant_ids: Sequence[str]) -> PlantSite:
    """Look the plants up in the typed `plants` table.

    Parameters
    ----------
    plants : DataFrame
        Typed `plants` table; of a plant listed twice the last row holds.
    plant_ids : sequence of str, length plant
        In the order wanted; a plant without a row has everything blank.

    Returns
    -------
    PlantSite
    """
    stated = plants.drop_duplicates("plant_id", keep="last").set_index("plant_id").reindex(list(plant_ids))
    names = ["row", "coolant_temp_c", "so2_mg_m2_day", "chloride_mg_m2_day", "conditioned"]
    row, coolant, so2, chloride, conditioned = (stated[name].to_numpy(dtype=np.float64) for name in names)
    return PlantSite(
        plant_ids=tuple(plant_ids),
        row=row,
        source=tuple(stated["source"].fillna("")),
        coolant_c=np.where(np.isnan(coolant), COOLANT_DEFAULT_C, coolant),
        so2_mg_m2_day=np.where(np.isnan(so2), SO2_DEFAULT_MG_M2_DAY, so2),
        chloride_mg_m2_day=np.where(np.isnan(chloride), CHLORIDE_DEFAULT_MG_M2_DAY, chloride),
        coolant_stated=np.isfinite(coolant),
        so2_stated=np.isfinite(so2),
        chloride_stated=np.isfinite(chloride),
        conditioned=conditioned == 1.0,
    )
