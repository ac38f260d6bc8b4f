"""Humid air against the ASHRAE table, a Magnus value and PsychroLib."""

import numpy as np
import psychrolib
import pytest

from wearfit.exposures.humidity import dew_point_c, saturation_pressure_hpa

psychrolib.SetUnitSystem(psychrolib.SI)

# ASHRAE Handbook Fundamentals 2017, chapter 1, table 3: saturation pressure over water. Seen. [degC, Pa]
ASHRAE = [(5.0, 872.6), (25.0, 3169.7), (50.0, 12351.3)]


@pytest.mark.parametrize(("temp_c", "pressure_pa"), ASHRAE)
def test_saturation_pressure_is_near_ashrae(temp_c: float, pressure_pa: float) -> None:
    """Within .4 %: the Magnus form with these coefficients is itself .30 % low at 25 degC, which moves a dew point by .05 K."""
    assert 100.0 * saturation_pressure_hpa(temp_c) == pytest.approx(pressure_pa, rel=4e-3)


@pytest.mark.parametrize(("temp_c", "pressure_pa"), ASHRAE)
def test_oracle_agrees_with_the_same_table(temp_c: float, pressure_pa: float) -> None:
    assert psychrolib.GetSatVapPres(temp_c) == pytest.approx(pressure_pa, rel=2e-4)


def test_dew_point_at_20_degrees_and_50_percent() -> None:
    """9.255 degC: Magnus form with the coefficients of WMO-No. 8 (coefficients from memory)."""
    assert dew_point_c(20.0, 50.0) == pytest.approx(9.255, abs=5e-4)
    assert dew_point_c(20.0, 50.0) == pytest.approx(psychrolib.GetTDewPointFromRelHum(20.0, 0.5), abs=0.02)


# Computed elsewhere with the same form and coefficients, to a tenth of a degree. [degC, %, degC]
@pytest.mark.parametrize(
    ("temp_c", "rh_pct", "dew_c"), [(22.0, 45.0, 9.5), (25.0, 60.0, 16.7), (27.0, 70.0, 21.1), (30.0, 80.0, 26.2), (32.0, 75.0, 27.0)]
)
def test_dew_points_of_plants(temp_c: float, rh_pct: float, dew_c: float) -> None:
    assert dew_point_c(temp_c, rh_pct) == pytest.approx(dew_c, abs=0.05)


def test_dew_point_agrees_with_psychrolib_over_the_range_of_plants() -> None:
    """Above 0 degC only: below it PsychroLib gives the frost point."""
    temp, rh = (grid.ravel() for grid in np.meshgrid(np.arange(2.0, 45.0, 3.0), np.arange(10.0, 101.0, 5.0)))
    oracle = np.array([psychrolib.GetTDewPointFromRelHum(t, r / 100.0) for t, r in zip(temp, rh, strict=True)])
    above_frost = oracle > 0.5
    assert above_frost.sum() > 150
    np.testing.assert_allclose(dew_point_c(temp, rh)[above_frost], oracle[above_frost], atol=0.04)
