"""Identities and properties of humid air, sweating and time of wetness."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearfit.exposures.humidity import (
    HOURS_PER_YEAR,
    RH_SPREAD_PCT,
    SWEATING_SPREAD_C,
    TEMP_SPREAD_C,
    dew_point_c,
    saturation_pressure_hpa,
    sweating_share_hourly,
    sweating_share_monthly,
    wet_hours_hourly,
    wet_hours_monthly,
    wetness_class,
)

TEMPS = st.floats(-40.0, 55.0)
HUMIDITIES = st.floats(1.0, 100.0)


@given(TEMPS, HUMIDITIES)
def test_air_is_saturated_at_its_dew_point(temp_c: float, rh_pct: float) -> None:
    vapour = rh_pct / 100.0 * saturation_pressure_hpa(temp_c)
    assert saturation_pressure_hpa(dew_point_c(temp_c, rh_pct)) == pytest.approx(float(vapour), rel=1e-9)


@given(TEMPS, HUMIDITIES)
def test_dew_point_is_at_most_the_temperature(temp_c: float, rh_pct: float) -> None:
    assert dew_point_c(temp_c, rh_pct) <= temp_c + 1e-9


@given(TEMPS)
def test_dew_point_of_saturated_air_is_its_temperature(temp_c: float) -> None:
    assert dew_point_c(temp_c, 100.0) == pytest.approx(temp_c, abs=1e-9)


@pytest.mark.parametrize("rh_pct", [0.0, -1.0, 100.1])
def test_dew_point_refuses_impossible_humidity(rh_pct: float) -> None:
    with pytest.raises(ValueError, match=f"{rh_pct:g}"):
        dew_point_c([20.0, 20.0], [50.0, rh_pct])


def test_dew_point_passes_blanks_on() -> None:
    assert np.isnan(dew_point_c([np.nan, 20.0], [50.0, np.nan])).all()


def test_sweating_counts_hours_above_the_coolant() -> None:
    share = sweating_share_hourly([9.0, 10.0, 10.1, 15.0, np.nan], 10.0)
    np.testing.assert_array_equal(share, [0.0, 0.0, 1.0, 1.0, np.nan])


def test_monthly_sweating_is_half_at_the_coolant_and_rises_with_dew_point() -> None:
    assert sweating_share_monthly(12.0, 12.0) == 0.5
    dew = np.linspace(-30.0, 35.0, 200)
    share = sweating_share_monthly(dew, 12.0)
    assert ((share >= 0.0) & (share <= 1.0)).all()
    assert (np.diff(share) > 0.0).all()
    np.testing.assert_allclose(share + sweating_share_monthly(24.0 - dew, 12.0), 1.0, atol=1e-12)


def test_monthly_sweating_is_what_its_hours_would_count() -> None:
    """Under its own assumption, a normal scatter about the mean."""
    hours = np.random.default_rng(7).normal(14.0, SWEATING_SPREAD_C, 200_000)
    assert sweating_share_hourly(hours, 12.0).mean() == pytest.approx(float(sweating_share_monthly(14.0, 12.0)), abs=0.005)


def test_monthly_wet_hours_are_what_its_hours_would_count() -> None:
    """Under its own assumption, two independent normal scatters."""
    rng = np.random.default_rng(8)
    rh = rng.normal(76.0, RH_SPREAD_PCT, 200_000)
    temp = rng.normal(3.0, TEMP_SPREAD_C, 200_000)
    assert wet_hours_hourly(temp, rh).mean() == pytest.approx(float(wet_hours_monthly(3.0, 76.0)), rel=0.02)


def test_wet_hours_need_both_damp_and_thaw() -> None:
    wet = wet_hours_hourly([10.0, 10.0, -1.0, 0.0, 1.0, np.nan], [80.0, 80.1, 95.0, 95.0, 95.0, 95.0])
    np.testing.assert_array_equal(wet, np.array([0.0, 1.0, 0.0, 0.0, 1.0, np.nan]) * HOURS_PER_YEAR)


@given(TEMPS, HUMIDITIES)
def test_monthly_wet_hours_fit_in_a_year(temp_c: float, rh_pct: float) -> None:
    assert 0.0 <= wet_hours_monthly(temp_c, rh_pct) <= HOURS_PER_YEAR


@pytest.mark.parametrize("hours", [-1.0, np.nan, np.inf])
def test_wetness_class_refuses_impossible_hours(hours: float) -> None:
    with pytest.raises(ValueError, match="wet_hours_per_year"):
        wetness_class(hours)
