"""Climate rows drawn together by month, and the calendar that fills what is absent."""

import numpy as np
import pandas as pd
import pytest

from wearfit.exposures.humidity import dew_point_c, sweating_share_monthly, wet_hours_monthly
from wearfit.exposures.monthly_air import MIN_HOURS_PER_MONTH, climatology, fill_calendar, monthly_air

NAT = np.datetime64("NaT", "s")
COOLANT = np.array([12.0, 12.0])


def rows(*cells: tuple[str, str, str, float, float, str]) -> pd.DataFrame:
    """Typed climate rows from (plant, month, timestamp, temp, rh, place)."""
    plant, month, hour, temp, rh, place = (list(column) for column in zip(*cells, strict=True))
    return pd.DataFrame(
        {
            "plant_id": pd.Series(plant, dtype=object),
            "month": np.array([m or NAT for m in month], dtype="datetime64[s]"),
            "timestamp": np.array([h or NAT for h in hour], dtype="datetime64[s]"),
            "temp_c": np.array(temp, dtype=np.float64),
            "rh_pct": np.array(rh, dtype=np.float64),
            "place": pd.Series(place, dtype=object),
        }
    )


def hourly(plant: str, first: str, hours: int, temp: float, rh: float, place: str = "outdoor") -> pd.DataFrame:
    start = np.datetime64(first, "h")
    return rows(*((plant, "", str(start + np.timedelta64(h, "h")), temp, rh, place) for h in range(hours)))


def test_a_monthly_row_stands_for_its_month() -> None:
    outdoor, hall = monthly_air(rows(("A", "2021-03", "", 20.0, 60.0, ""), ("B", "2021-05", "", 5.0, 80.0, "hall")), ["A", "B"], COOLANT)
    np.testing.assert_array_equal(outdoor.months, np.array(["2021-03", "2021-04", "2021-05"], dtype="datetime64[M]"))
    np.testing.assert_array_equal(outdoor.temp_c, [[20.0, np.nan, np.nan], [np.nan] * 3])
    np.testing.assert_array_equal(hall.rh_pct, [[np.nan] * 3, [np.nan, np.nan, 80.0]])
    assert outdoor.sweating[0, 0] == sweating_share_monthly(dew_point_c(20.0, 60.0), 12.0)
    assert outdoor.wet_hours[0, 0] == wet_hours_monthly(20.0, 60.0)


def test_hours_are_counted() -> None:
    """A quarter of the hours sweat and are wet; the month's mean air alone would say otherwise."""
    climate = pd.concat([hourly("A", "2021-06-01", 540, 15.0, 50.0), hourly("A", "2021-06-23T12", 180, 20.0, 90.0)], ignore_index=True)
    outdoor, _ = monthly_air(climate, ["A"], COOLANT[:1])
    assert outdoor.sweating[0, 0] == 0.25
    assert outdoor.wet_hours[0, 0] == 0.25 * 8766.0
    assert outdoor.temp_c[0, 0] == pytest.approx(16.25)
    assert outdoor.rh_pct[0, 0] == pytest.approx(60.0)


def test_enough_hours_come_before_the_monthly_row_and_too_few_do_not() -> None:
    monthly = rows(("A", "2021-06", "", 10.0, 50.0, "outdoor"), ("A", "2021-07", "", 10.0, 50.0, "outdoor"))
    climate = pd.concat(
        [
            monthly,
            hourly("A", "2021-06-01", MIN_HOURS_PER_MONTH, 20.0, 90.0),
            hourly("A", "2021-07-01", MIN_HOURS_PER_MONTH - 1, 20.0, 90.0),
            hourly("A", "2021-08-01", MIN_HOURS_PER_MONTH - 1, 20.0, 90.0),
        ],
        ignore_index=True,
    )
    outdoor, _ = monthly_air(climate, ["A"], COOLANT[:1])
    np.testing.assert_allclose(outdoor.temp_c, [[20.0, 10.0, np.nan]])
    assert outdoor.thin_months.tolist() == [1]


def test_unusable_rows_and_other_plants_are_passed_over() -> None:
    climate = rows(
        ("A", "2021-03", "", 20.0, 60.0, ""),
        ("A", "2021-04", "", np.nan, 60.0, ""),
        ("A", "", "", 20.0, 60.0, ""),
        ("C", "1990-01", "", 20.0, 60.0, ""),
    )
    outdoor, _ = monthly_air(climate, ["A"], COOLANT[:1])
    assert len(outdoor.months) == 1


def test_a_sensor_that_reports_zero_humidity_is_very_dry() -> None:
    outdoor, _ = monthly_air(rows(("A", "2021-03", "", 20.0, 0.0, "")), ["A"], COOLANT[:1])
    assert outdoor.sweating[0, 0] < 1e-6


def test_no_rows_give_no_months() -> None:
    empty = rows(("A", "2021-03", "", 20.0, 60.0, "")).iloc[:0]
    outdoor, hall = monthly_air(empty, ["A", "B"], COOLANT)
    assert outdoor.temp_c.shape == hall.sweating.shape == (2, 0)
    assert np.isnan(climatology(outdoor.temp_c, outdoor.months)).all()


def test_climatology_is_the_mean_over_the_years() -> None:
    months = np.arange(np.datetime64("2019-11"), np.datetime64("2021-02"))
    values = np.full((1, len(months)), np.nan)
    values[0, months == np.datetime64("2020-01")] = 1.0
    values[0, months == np.datetime64("2021-01")] = 4.0
    values[0, months == np.datetime64("2019-12")] = 7.0
    season = climatology(values, months)
    assert (season[0, 0], season[0, 11]) == (2.5, 7.0)
    assert np.isnan(season[0, 1:11]).all()


def test_absent_calendar_months_lie_between_their_neighbours_round_the_year() -> None:
    season = np.full((3, 12), np.nan)
    season[0, [1, 11]] = 2.0, 4.0
    season[1, 6] = 5.0
    filled = fill_calendar(season)
    assert filled[0, 0] == pytest.approx(3.0)
    assert filled[0, 6] == pytest.approx(3.0)
    np.testing.assert_array_equal(filled[1], 5.0)
    assert np.isnan(filled[2]).all()
    assert np.isnan(season[1]).sum() == 11
