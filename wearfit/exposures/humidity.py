"""Humid air: dew point, the share of hours in which a mould sweats, and the time of wetness.

A cooled mould sweats while the dew point of the hall air lies above the temperature of its coolant. Every function works element
by element on one record of air, be it an hour or a month's mean; the mean over the records of a month or a year is the share of that span.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr

HOURS_PER_YEAR = 8766.0
"""[h] 365.25 days."""

# Magnus form over water, WMO-No. 8 (Guide to Instruments and Methods of Observation), coefficients from memory; a secondary
# quotation of the 7th edition (2008) has the same ones.
MAGNUS_PRESSURE_HPA = 6.112
MAGNUS_FACTOR = 17.62
MAGNUS_TEMP_C = 243.12

SWEATING_SPREAD_C = 4.0
"""[degC] Standard deviation of dew point minus mould surface within a month. Judgement, no source."""

WET_RH_PCT = 80.0
WET_TEMP_C = 0.0
"""A surface counts as wet above both: ISO 9223:1992, from memory."""

RH_SPREAD_PCT = 12.0
"""[percentage points] Standard deviation of hourly relative humidity about its monthly mean. Judgement, no source."""

TEMP_SPREAD_C = 5.0
"""[degC] Standard deviation of hourly temperature about its monthly mean. Judgement, no source."""

WETNESS_LIMITS_H = (10.0, 250.0, 2500.0, 5500.0)
"""[h/a] Upper limits of the classes tau1 to tau4; tau5 is open. ISO 9223:1992, class limits from memory."""

WETNESS_CLASSES = ("tau1", "tau2", "tau3", "tau4", "tau5")


def saturation_pressure_hpa(temp_c: ArrayLike) -> NDArray[np.float64]:
    """Pressure of saturated water vapour over water.

    Parameters
    ----------
    temp_c : array
        Air temperature. [degC]

    Returns
    -------
    array, shape of `temp_c`
        [hPa]

    Notes
    -----
    Magnus form, stated for -45 to 60 degC over water; within 0.4 % of the ASHRAE table at 5, 25 and 50 degC. Source: WMO-No. 8,
    coefficients from memory.
    """
    temp = np.asarray(temp_c, dtype=np.float64)
    return MAGNUS_PRESSURE_HPA * np.exp(MAGNUS_FACTOR * temp / (MAGNUS_TEMP_C + temp))


def dew_point_c(temp_c: ArrayLike, rh_pct: ArrayLike) -> NDArray[np.float64]:
    """Temperature to which air must cool before water condenses from it.

    Parameters
    ----------
    temp_c : array
        Air temperature. [degC]
    rh_pct : array, broadcastable with `temp_c`
        Relative humidity over water, above 0 and at most 100. [%]

    Returns
    -------
    array
        [degC]; NaN where an input is NaN.

    Raises
    ------
    ValueError
        Where a relative humidity is outside (0, 100]; names the first.

    Notes
    -----
    The Magnus form solved for temperature, over water below 0 degC too (no frost point). Source: WMO-No. 8, coefficients from memory.
    """
    temp = np.asarray(temp_c, dtype=np.float64)
    rh = np.asarray(rh_pct, dtype=np.float64)
    impossible = (rh <= 0.0) | (rh > 100.0)
    if np.any(impossible):
        raise ValueError(f"rh_pct must lie in (0, 100], found {rh[impossible].flat[0]:g}")
    log_ratio = np.log(rh / 100.0) + MAGNUS_FACTOR * temp / (MAGNUS_TEMP_C + temp)
    return MAGNUS_TEMP_C * log_ratio / (MAGNUS_FACTOR - log_ratio)


def sweating_share_hourly(dew_point_c: ArrayLike, coolant_c: ArrayLike) -> NDArray[np.float64]:
    """Whether a mould sweats, hour by hour; the mean over a month's hours is that month's share.

    Parameters
    ----------
    dew_point_c : array
        Dew point of the hall air in each hour. [degC]
    coolant_c : array, broadcastable with `dew_point_c`
        Coolant supply temperature. [degC]

    Returns
    -------
    array
        1 where the dew point lies above the coolant, 0 where not, NaN where either is NaN.
    """
    excess = np.subtract(dew_point_c, coolant_c, dtype=np.float64)
    return np.where(np.isnan(excess), np.nan, excess > 0.0)


def sweating_share_monthly(dew_point_c: ArrayLike, coolant_c: ArrayLike) -> NDArray[np.float64]:
    """Share of a month's hours in which a mould sweats, from the month's mean dew point.

    Parameters
    ----------
    dew_point_c : array
        Mean dew point of the hall air in each month. [degC]
    coolant_c : array, broadcastable with `dew_point_c`
        Coolant supply temperature. [degC]

    Returns
    -------
    array
        Between 0 and 1.

    Notes
    -----
    Phi((T_dew - T_coolant) / 4 degC): within a month the hourly difference is taken as normal about its mean. Judgement.
    """
    return np.asarray(ndtr(np.subtract(dew_point_c, coolant_c, dtype=np.float64) / SWEATING_SPREAD_C))


def wet_hours_hourly(temp_c: ArrayLike, rh_pct: ArrayLike) -> NDArray[np.float64]:
    """Time of wetness of each recorded hour, at the rate of a year; the mean over a year's hours is that year's time of wetness.

    Parameters
    ----------
    temp_c : array
        Air temperature in each hour. [degC]
    rh_pct : array, shape of `temp_c`
        Relative humidity in each hour. [%]

    Returns
    -------
    array
        8766 in a wet hour, 0 in a dry one, NaN where either input is NaN. [h/a]

    Notes
    -----
    Wet: relative humidity above 80 % and temperature above 0 degC. Source: ISO 9223:1992, from memory.
    """
    temp = np.asarray(temp_c, dtype=np.float64)
    rh = np.asarray(rh_pct, dtype=np.float64)
    wet = (rh > WET_RH_PCT) & (temp > WET_TEMP_C)
    return np.where(np.isnan(temp + rh), np.nan, HOURS_PER_YEAR * wet)


def wet_hours_monthly(temp_c: ArrayLike, rh_pct: ArrayLike) -> NDArray[np.float64]:
    """Time of wetness estimated from each month's mean air, at the rate of a year; the mean over twelve months is the year's.

    Parameters
    ----------
    temp_c : array
        Mean air temperature of each month. [degC]
    rh_pct : array, shape of `temp_c`
        Mean relative humidity of each month. [%]

    Returns
    -------
    array
        Between 0 and 8766. [h/a]

    Notes
    -----
    Within a month the hourly humidity is taken as normal about its mean with a standard deviation of 12 points, the hourly temperature
    with 5 degC, and the two as independent. All three are judgement; the night's cold and damp hours coincide, so near freezing the
    estimate is high.
    """
    temp = np.asarray(temp_c, dtype=np.float64)
    rh = np.asarray(rh_pct, dtype=np.float64)
    p_humid = ndtr((rh - WET_RH_PCT) / RH_SPREAD_PCT)
    p_thawed = ndtr((temp - WET_TEMP_C) / TEMP_SPREAD_C)
    return np.asarray(HOURS_PER_YEAR * p_humid * p_thawed)


def wetness_class(wet_hours_per_year: float) -> str:
    """Class of the time of wetness, tau1 (dry, conditioned indoors) to tau5.

    Parameters
    ----------
    wet_hours_per_year : float
        [h/a]

    Returns
    -------
    str
        One of `WETNESS_CLASSES`; a value on a limit belongs to the lower class.

    Raises
    ------
    ValueError
        Where the hours are not finite or below 0.

    Notes
    -----
    Source: ISO 9223:1992, class limits from memory.
    """
    if not (np.isfinite(wet_hours_per_year) and wet_hours_per_year >= 0.0):
        raise ValueError(f"wet_hours_per_year must be finite and not below 0, found {wet_hours_per_year:g}")
    return WETNESS_CLASSES[int(np.searchsorted(WETNESS_LIMITS_H, wet_hours_per_year, side="left"))]
