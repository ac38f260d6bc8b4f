"""Invented weather of the simulated plants, and what of it wears a mould."""

import math
from dataclasses import dataclass

import numpy as np

from wearfit.demo.settings import Site

CONDITIONED_HALL_UM = 4.0  # [um/a] steel loss of a conditioned hall at ISO 9223's function, the reference of the ratio
HALF_WIDTH_C = 4.0  # [degC] spread of hourly dew points about a monthly mean
MONTHLY_TEMP_SD = 1.3
MONTHLY_RH_SD = 3.5


@dataclass(frozen=True, slots=True)
class Weather:
    """Monthly weather of one plant. Arrays of shape (month,), from the first month of the records on.

    `place` is where it was measured. `sweating` is the share of press hours in which the mould is colder than the dew
    point; `season` its mean by calendar month, shape (12,), January first, which holds for the months ahead.
    """

    place: str
    temp_c: np.ndarray
    rh_pct: np.ndarray
    sweating: np.ndarray
    season: np.ndarray
    log_corrosivity: float


def dew_point(temp_c: np.ndarray, rh_pct: np.ndarray) -> np.ndarray:
    """Dew point of air over water, shape as given. [degC]

    Magnus form, WMO-No. 8 coefficients 17.62 and 243.12 degC (from memory).
    """
    gamma = np.log(rh_pct / 100.0) + 17.62 * temp_c / (243.12 + temp_c)
    return np.asarray(243.12 * gamma / (17.62 - gamma))


def sweating_share(dew_point_c: np.ndarray, coolant_temp_c: float) -> np.ndarray:
    """Share of hours in which a surface at coolant temperature is below the dew point, of monthly means."""
    return np.array([0.5 * math.erfc((coolant_temp_c - d) / (HALF_WIDTH_C * math.sqrt(2.0))) for d in dew_point_c])


def steel_loss_um(temp_c: float, rh_pct: float, so2: float, chloride: float) -> float:
    """First-year loss of carbon steel of annual means. [um/a]

    ISO 9223:2012, dose-response function for carbon steel; `so2` and `chloride` in mg/(m2 d).
    """
    cooling = 0.150 * (temp_c - 10.0) if temp_c <= 10.0 else -0.054 * (temp_c - 10.0)
    dry = 1.77 * math.pow(so2, 0.52) * math.exp(0.020 * rh_pct + cooling)
    return dry + 0.102 * math.pow(chloride, 0.62) * math.exp(0.033 * rh_pct + 0.040 * temp_c)


def make_weather(site: Site, first_month: int, n_months: int, rng: np.random.Generator) -> Weather:
    """Weather of `n_months` months, the first of which is calendar month `first_month` (1-12)."""
    calendar = (first_month - 1 + np.arange(n_months)) % 12
    winter = np.cos(2.0 * math.pi * calendar / 12.0)  # 1 in January, -1 in July
    quiet = 0.25 if site.conditioned else 1.0
    temp = site.temp_mean_c - site.temp_swing_c * winter + quiet * MONTHLY_TEMP_SD * rng.standard_normal(n_months)
    rh = site.rh_mean_pct + site.rh_swing_pct * winter + quiet * MONTHLY_RH_SD * rng.standard_normal(n_months)
    temp, rh = np.round(temp, 1), np.round(np.clip(rh, 20.0, 97.0), 1)
    sweating = sweating_share(dew_point(temp, rh), site.coolant_temp_c)
    season = np.array([sweating[calendar == m].mean() if np.any(calendar == m) else sweating.mean() for m in range(12)])
    loss = steel_loss_um(float(temp.mean()), float(rh.mean()), site.so2_mg_m2_day, site.chloride_mg_m2_day)
    ratio = 0.0 if site.conditioned else math.log(loss / CONDITIONED_HALL_UM)
    return Weather("hall" if site.conditioned else "outdoor", temp, rh, sweating, season, ratio)


def invent_sites(n: int, seed: int) -> tuple[Site, ...]:
    """Plants of drawn climates for fleets larger than the scenario's, from dry inland to salt coast."""
    rng = np.random.default_rng(seed)
    dampness = rng.permutation((np.arange(n) + 0.5) / n)
    return tuple(
        Site(
            plant_id=f"plant-{i + 1:02d}",
            temp_mean_c=round(8.0 + 18.0 * float(d) + float(rng.normal(0.0, 1.5)), 1),
            temp_swing_c=round(12.0 - 9.0 * float(d), 1),
            rh_mean_pct=round(52.0 + 28.0 * float(d), 1),
            rh_swing_pct=round(10.0 - 16.0 * float(d), 1),
            chloride_mg_m2_day=round(math.exp(5.0 * float(d) + float(rng.normal(0.0, 0.4))), 1),
            so2_mg_m2_day=round(float(rng.uniform(2.0, 12.0)), 1),
            coolant_temp_c=round(float(rng.uniform(8.0, 16.0)), 1),
        )
        for i, d in enumerate(dampness)
    )
