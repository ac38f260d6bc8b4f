"""Atmospheric corrosivity after ISO 9223:2012: the first-year loss of carbon steel and its category.

The loss is that of bare steel outdoors. An oiled mould in a hall loses far less, so the wear law uses only its ratio to a conditioned hall.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True, slots=True)
class ValidRange:
    """The range of one input over which the dose-response function was fitted."""

    name: str
    low: float
    high: float
    unit: str


VALID_RANGES: Final = (
    ValidRange("temp_c", -17.1, 28.7, "degC"),
    ValidRange("rh_pct", 34.0, 93.0, "%"),
    ValidRange("so2_mg_m2_day", 0.7, 150.4, "mg/(m2 d)"),
    ValidRange("chloride_mg_m2_day", 0.4, 760.5, "mg/(m2 d)"),
)
"""Annual means: ISO 9223:2012."""

CATEGORY_LIMITS_UM: Final = (1.3, 25.0, 50.0, 80.0, 200.0)
"""[um/a] Upper limits of C1 to C5 for carbon steel: ISO 9223:2012, Table 2. CX is stated up to 700; more is called CX too."""

CATEGORIES: Final = ("C1", "C2", "C3", "C4", "C5", "CX")

# The air and the deposits of a closed, conditioned hall: all four are judgement, no source. Deposits are about a third of a typical
# inland site's outdoors (5 and 3), for walls and filters keep most of them out.
CONDITIONED_TEMP_C: Final = 22.0
CONDITIONED_RH_PCT: Final = 45.0
CONDITIONED_SO2_MG_M2_DAY: Final = 1.7
CONDITIONED_CHLORIDE_MG_M2_DAY: Final = 1.0


@dataclass(frozen=True, slots=True)
class FirstYearLoss:
    """First-year loss of carbon steel at each place, and where its inputs had to be clipped.

    Attributes
    ----------
    loss_um : array, shape (place,)
        NaN where an input is NaN. [um/a]
    clipped : bool array, shape (4, place)
        True where an input lay outside its range, in the order of `VALID_RANGES`.
    """

    loss_um: NDArray[np.float64]
    clipped: NDArray[np.bool_]


def carbon_steel_loss(temp_c: ArrayLike, rh_pct: ArrayLike, so2_mg_m2_day: ArrayLike, chloride_mg_m2_day: ArrayLike) -> FirstYearLoss:
    """First-year corrosion loss of carbon steel from annual means.

    Parameters
    ----------
    temp_c : array, shape (place,)
        Annual mean temperature. [degC]
    rh_pct : array, shape (place,)
        Annual mean relative humidity. [%]
    so2_mg_m2_day : array, shape (place,)
        Annual mean deposition of sulfur dioxide. [mg/(m2 d)]
    chloride_mg_m2_day : array, shape (place,)
        Annual mean deposition of chloride. [mg/(m2 d)]

    Returns
    -------
    FirstYearLoss

    Notes
    -----
    r = 1.77 P^0.52 exp(0.020 RH + f) + 0.102 S^0.62 exp(0.033 RH + 0.040 T), with f = 0.150 (T - 10) up to 10 degC and
    -0.054 (T - 10) above. An input outside its range is clipped to it and flagged, never extrapolated. Source: ISO 9223:2012.
    """
    given = np.stack(
        np.broadcast_arrays(*(np.atleast_1d(np.asarray(a, dtype=np.float64)) for a in (temp_c, rh_pct, so2_mg_m2_day, chloride_mg_m2_day)))
    )
    low = np.array([r.low for r in VALID_RANGES])[:, None]
    high = np.array([r.high for r in VALID_RANGES])[:, None]
    temp, rh, so2, chloride = np.clip(given, low, high)
    f = np.where(temp <= 10.0, 0.150, -0.054) * (temp - 10.0)
    loss = 1.77 * so2**0.52 * np.exp(0.020 * rh + f) + 0.102 * chloride**0.62 * np.exp(0.033 * rh + 0.040 * temp)
    return FirstYearLoss(loss_um=loss, clipped=(given < low) | (given > high))


def corrosivity_category(loss_um: ArrayLike) -> tuple[str | None, ...]:
    """Corrosivity category of each first-year loss of carbon steel.

    Parameters
    ----------
    loss_um : array, shape (place,)
        [um/a]

    Returns
    -------
    tuple of str or None, length place
        C1 (very low) to CX (extreme); None where the loss is NaN. A loss on a limit belongs to the lower category.

    Raises
    ------
    ValueError
        Where a loss is below 0.

    Notes
    -----
    Source: ISO 9223:2012, Table 2.
    """
    loss = np.atleast_1d(np.asarray(loss_um, dtype=np.float64))
    if np.any(loss < 0.0):
        raise ValueError(f"loss_um must not be below 0, found {loss[loss < 0.0][0]:g}")
    steps = np.searchsorted(CATEGORY_LIMITS_UM, loss, side="left")
    return tuple(None if np.isnan(r) else CATEGORIES[s] for r, s in zip(loss, steps, strict=True))


CONDITIONED_LOSS_UM: Final = float(
    carbon_steel_loss(CONDITIONED_TEMP_C, CONDITIONED_RH_PCT, CONDITIONED_SO2_MG_M2_DAY, CONDITIONED_CHLORIDE_MG_M2_DAY).loss_um[0]
)
"""[um/a] The reference of every ratio, about 4: the same function at the conditioned hall's judged inputs."""
