"""Climate of each plant as the wear law uses it: sweating month by month, corrosivity one figure a plant, each with its uncertainty."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearfit.exposures.air_known import (
    LOG_CORROSIVITY_SD_DEPOSITS,
    LOG_CORROSIVITY_SD_ISO,
    LOG_CORROSIVITY_SD_UNKNOWN,
    SWEATING_SD_COOLANT,
    SWEATING_SD_HALL,
    SWEATING_SD_OUTDOOR,
    SWEATING_SD_UNKNOWN,
    widened,
)
from wearfit.exposures.climate_findings import ClimateGaps, climate_findings
from wearfit.exposures.conditioned import LOG_CORROSIVITY_SD_CONDITIONED, SWEATING_SD_CONDITIONED
from wearfit.exposures.corrosivity import CONDITIONED_LOSS_UM, carbon_steel_loss, corrosivity_category
from wearfit.exposures.monthly_air import Floats, MonthlyAir, Months, calendar_month, climatology, fill_calendar, monthly_air
from wearfit.exposures.plant_site import PlantSite, plant_site
from wearfit.records.findings import Finding

# Judgement, no source.
SWEATING_UNKNOWN: Final = 0.4
"""Share of press hours at a plant whose climate is not recorded."""
LOG_CORROSIVITY_UNKNOWN: Final = 1.7
"""No outdoor climate recorded: log of a temperate inland site's 22 um/a over the conditioned hall's 4."""


@dataclass(frozen=True, slots=True)
class PlantClimate:
    """What the air of each plant does to a mould.

    Attributes
    ----------
    plant_ids : tuple of str, length plant
    months : datetime64[M] array, shape (month,)
    sweating : array, shape (plant, month)
        Share of press hours in which the mould sweats: of that very month where recorded, else its calendar month's mean.
    sweating_season : array, shape (plant, 12)
        Mean share of each calendar month, January to December.
    sweating_sd : array, shape (plant,)
        Standard deviation of the plant's level of sweating.
    log_corrosivity, log_corrosivity_sd : arrays, shape (plant,)
        Natural log of the annual corrosivity over that of a conditioned hall, and its standard deviation.
    rh_mean_pct, wet_hours_per_year : arrays, shape (plant,)
        Annual means of the outdoor air, of the hall's where no outdoor air is recorded; NaN where neither is. [%], [h/a]
    corrosivity_um : array, shape (plant,)
        First-year loss of carbon steel, the reference for a conditioned hall; NaN where unknown. [um/a]
    category : tuple of str or None, length plant
        ISO 9223 category of `corrosivity_um`.
    known : bool array, shape (plant,)
        True where sweating rests on recorded air or on a conditioned hall, False where it is a typical plant's.
    """

    plant_ids: tuple[str, ...]
    months: Months
    sweating: Floats
    sweating_season: Floats
    sweating_sd: Floats
    log_corrosivity: Floats
    log_corrosivity_sd: Floats
    rh_mean_pct: Floats
    wet_hours_per_year: Floats
    corrosivity_um: Floats
    category: tuple[str | None, ...]
    known: NDArray[np.bool_]


def plant_climate(
    plants: pd.DataFrame, climate: pd.DataFrame, plant_ids: Sequence[str], first_month: np.datetime64, last_month: np.datetime64
) -> tuple[PlantClimate, tuple[Finding, ...]]:
    """Reduce the climate records to one row of figures per plant.

    Parameters
    ----------
    plants : DataFrame
        Typed `plants` table.
    climate : DataFrame
        Typed `climate` table, hourly or monthly rows.
    plant_ids : sequence of str, length plant
        The plants wanted, in the order wanted; one without records is answered as a typical plant with a wide uncertainty.
    first_month, last_month : datetime64
        Months wanted, both included.

    Returns
    -------
    PlantClimate
    tuple of Finding
        What was missing or outside the validity of a formula, as notes.

    Raises
    ------
    ValueError
        Where a plant is asked for twice or the months run backwards.

    Notes
    -----
    The hall's dew point is the outdoor one unless the hall is conditioned; rows of hall air come before either. Corrosivity is
    taken from annual means, each the mean of twelve calendar months, so that a month recorded more often does not weigh more.
    """
    if len(set(plant_ids)) != len(plant_ids):
        raise ValueError("plant_ids must not repeat")
    months = np.arange(first_month.astype("datetime64[M]"), last_month.astype("datetime64[M]") + np.timedelta64(1, "M"))
    if len(months) == 0:
        raise ValueError(f"last_month {last_month} lies before first_month {first_month}")

    site = plant_site(plants, plant_ids)
    outdoor, hall = monthly_air(climate, plant_ids, site.coolant_c)

    share, absent = _sweating(site, outdoor, hall)
    season, known, dry = _sweating_season(site, share, absent, outdoor.months)
    hall_absent = np.isnan(climatology(hall.sweating, hall.months)).sum(axis=1)
    sweating_sd = np.where(hall_absent == 0, SWEATING_SD_HALL, SWEATING_SD_OUTDOOR)
    sweating_sd = widened(np.where(site.coolant_stated, sweating_sd, SWEATING_SD_COOLANT), absent, SWEATING_SD_UNKNOWN)

    outdoor_absent = np.isnan(climatology(outdoor.rh_pct, outdoor.months)).sum(axis=1)
    temp, rh = _annual_mean(outdoor.temp_c, outdoor.months), _annual_mean(outdoor.rh_pct, outdoor.months)
    inputs = np.stack([temp, rh, site.so2_mg_m2_day, site.chloride_mg_m2_day])
    loss = carbon_steel_loss(*inputs)
    corrosivity = np.where(site.conditioned, CONDITIONED_LOSS_UM, loss.loss_um)
    log_ratio = np.log(corrosivity / CONDITIONED_LOSS_UM)
    log_sd = np.where(site.so2_stated & site.chloride_stated, LOG_CORROSIVITY_SD_ISO, LOG_CORROSIVITY_SD_DEPOSITS)
    log_sd = widened(log_sd, outdoor_absent, LOG_CORROSIVITY_SD_UNKNOWN)

    answer = PlantClimate(
        plant_ids=site.plant_ids,
        months=months,
        sweating=_month_by_month(share, outdoor.months, season, months),
        sweating_season=season,
        sweating_sd=np.where(dry, SWEATING_SD_CONDITIONED, sweating_sd),
        log_corrosivity=np.where(np.isnan(log_ratio), LOG_CORROSIVITY_UNKNOWN, log_ratio),
        log_corrosivity_sd=np.where(site.conditioned, LOG_CORROSIVITY_SD_CONDITIONED, log_sd),
        rh_mean_pct=_outdoor_else_hall(outdoor.rh_pct, hall.rh_pct, outdoor.months),
        wet_hours_per_year=_outdoor_else_hall(outdoor.wet_hours, hall.wet_hours, outdoor.months),
        corrosivity_um=corrosivity,
        category=corrosivity_category(corrosivity),
        known=known,
    )
    gaps = ClimateGaps(absent, outdoor_absent, outdoor.thin_months + hall.thin_months, inputs, loss.clipped)
    return answer, climate_findings(site, gaps)


def warmer_season(plants: pd.DataFrame, climate: pd.DataFrame, plant_ids: Sequence[str], warmer_c: float) -> Floats:
    """Share of press hours in which the mould would sweat in each calendar month, were every plant's coolant so much warmer.

    Parameters
    ----------
    plants, climate, plant_ids
        As for `plant_climate`.
    warmer_c : float
        0 leaves the coolant as it is. [degC]

    Returns
    -------
    array, shape (plant, 12)
        January to December; NaN for a plant whose climate is not recorded.
    """
    site = plant_site(plants, plant_ids)
    outdoor, hall = monthly_air(climate, plant_ids, site.coolant_c + warmer_c)
    share, absent = _sweating(site, outdoor, hall)
    season, known, _ = _sweating_season(site, share, absent, outdoor.months)
    return np.where(known[:, None], season, np.nan)


def _sweating(site: PlantSite, outdoor: MonthlyAir, hall: MonthlyAir) -> tuple[Floats, NDArray[np.int64]]:
    """Share of sweating hours, shape (plant, month), and how many calendar months of each plant were never recorded."""
    share = np.where(np.isnan(hall.sweating) & ~site.conditioned[:, None], outdoor.sweating, hall.sweating)
    return share, np.isnan(climatology(share, outdoor.months)).sum(axis=1)


def _sweating_season(
    site: PlantSite, share: Floats, absent: NDArray[np.int64], months: Months
) -> tuple[Floats, NDArray[np.bool_], NDArray[np.bool_]]:
    """Mean share of each calendar month, shape (plant, 12), which plants' is known, and which are taken as dry."""
    dry = site.conditioned & (absent == 12)
    known = dry | (absent < 12)
    season = np.where(known[:, None], fill_calendar(climatology(share, months)), SWEATING_UNKNOWN)
    season[dry] = 0.0
    return season, known, dry


def _annual_mean(values: Floats, months: Months) -> Floats:
    """Mean of the twelve calendar months, NaN for a plant without any."""
    return np.asarray(fill_calendar(climatology(values, months)).mean(axis=1))


def _outdoor_else_hall(outdoor: Floats, hall: Floats, months: Months) -> Floats:
    means = _annual_mean(outdoor, months)
    return np.where(np.isnan(means), _annual_mean(hall, months), means)


def _month_by_month(share: Floats, recorded: Months, season: Floats, months: Months) -> Floats:
    """Share of each month asked for, from the recorded month where there is one, else from its calendar month."""
    path: Floats = season[:, calendar_month(months)]
    both, wanted, held = np.intersect1d(months, recorded, assume_unique=True, return_indices=True)
    if len(both):
        path[:, wanted] = np.where(np.isnan(share[:, held]), path[:, wanted], share[:, held])
    return path
