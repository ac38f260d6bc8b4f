"""Climate of each plant: what is recorded is used, what is not widens the answer."""

import numpy as np
import pandas as pd
import pytest

from wearfit.exposures import air_known
from wearfit.exposures import plant_climate as pc
from wearfit.exposures.air_known import lacking_air
from wearfit.exposures.corrosivity import CONDITIONED_LOSS_UM, carbon_steel_loss
from wearfit.exposures.humidity import dew_point_c, sweating_share_monthly
from wearfit.exposures.plant_climate import PlantClimate, plant_climate
from wearfit.exposures.plant_site import CHLORIDE_DEFAULT_MG_M2_DAY, COOLANT_DEFAULT_C, SO2_DEFAULT_MG_M2_DAY
from wearfit.records.findings import Finding

FIRST, LAST = np.datetime64("2020-01"), np.datetime64("2022-12")
YEAR_TEMP = 15.0 - 10.0 * np.cos(2.0 * np.pi * np.arange(12) / 12.0)
YEAR_RH = 70.0 + 5.0 * np.cos(2.0 * np.pi * np.arange(12) / 12.0)


def plants(**rows: dict[str, float]) -> pd.DataFrame:
    """Typed plants table; a plant states only what is given."""
    columns = ("latitude", "longitude", "coolant_temp_c", "chloride_mg_m2_day", "so2_mg_m2_day", "conditioned")
    frame = pd.DataFrame({name: [stated.get(name, np.nan) for stated in rows.values()] for name in columns}, dtype=np.float64)
    frame.insert(0, "plant_id", pd.Series(list(rows), dtype=object))
    return frame.assign(row=np.arange(2, 2 + len(rows)), source="plants.csv")


def climate(plant_id: str, months: np.ndarray, place: str = "outdoor", warmer: float = 0.0, damper: float = 0.0) -> pd.DataFrame:
    """Typed climate rows, one a month, of one seasonal course."""
    calendar = months.astype("datetime64[M]").astype(int) % 12
    return pd.DataFrame(
        {
            "plant_id": pd.Series([plant_id] * len(months), dtype=object),
            "month": months.astype("datetime64[s]"),
            "timestamp": np.full(len(months), "NaT", dtype="datetime64[s]"),
            "temp_c": YEAR_TEMP[calendar] + warmer,
            "rh_pct": YEAR_RH[calendar] + damper,
            "place": pd.Series([place] * len(months), dtype=object),
        }
    )


def months(first: str, last: str) -> np.ndarray:
    return np.arange(np.datetime64(first, "M"), np.datetime64(last, "M") + np.timedelta64(1, "M"))


FULL = {"coolant_temp_c": 10.0, "chloride_mg_m2_day": 60.0, "so2_mg_m2_day": 8.0, "conditioned": 0.0}
YEAR = months("2020-01", "2020-12")
NO_CLIMATE = climate("A", YEAR).iloc[:0]


def one(stated: dict[str, float], air: pd.DataFrame) -> tuple[PlantClimate, tuple[Finding, ...]]:
    return plant_climate(plants(A=stated), air, ["A"], FIRST, LAST)


def test_a_recorded_open_hall_has_the_outdoor_dew_point_and_annual_corrosivity() -> None:
    answer, findings = one(FULL, climate("A", YEAR))
    season = sweating_share_monthly(dew_point_c(YEAR_TEMP, YEAR_RH), 10.0)
    np.testing.assert_allclose(answer.sweating_season, [season])
    np.testing.assert_allclose(answer.sweating, [np.tile(season, 3)])
    loss = carbon_steel_loss(15.0, 70.0, 8.0, 60.0).loss_um
    np.testing.assert_allclose(answer.corrosivity_um, loss)
    np.testing.assert_allclose(answer.log_corrosivity, np.log(loss / CONDITIONED_LOSS_UM))
    assert answer.category == ("C3",)
    assert answer.rh_mean_pct == pytest.approx([70.0])
    assert 0.0 < answer.wet_hours_per_year[0] < 8766.0
    assert (answer.sweating_sd[0], answer.log_corrosivity_sd[0]) == (air_known.SWEATING_SD_OUTDOOR, air_known.LOG_CORROSIVITY_SD_ISO)
    assert answer.known.tolist() == [True]
    assert findings == ()


def test_a_recorded_month_comes_before_its_calendar_month() -> None:
    hot = climate("A", months("2021-07", "2021-07"), warmer=8.0)
    answer, _ = one(FULL, pd.concat([climate("A", YEAR), hot], ignore_index=True))
    july = [answer.sweating[0, list(answer.months).index(np.datetime64(m))] for m in ("2020-07", "2021-07", "2022-07")]
    assert july[1] > july[2] > july[0]
    assert july[2] == answer.sweating_season[0, 6] == pytest.approx(0.5 * (july[0] + july[1]))


def test_a_month_recorded_more_often_does_not_weigh_more_in_the_corrosivity() -> None:
    julys = [climate("A", months(f"{year}-07", f"{year}-07")) for year in range(2010, 2020)]
    plain, _ = one(FULL, climate("A", YEAR))
    uneven, _ = one(FULL, pd.concat([*julys, climate("A", YEAR)], ignore_index=True))
    np.testing.assert_allclose(uneven.log_corrosivity, plain.log_corrosivity)
    np.testing.assert_allclose(uneven.rh_mean_pct, plain.rh_mean_pct)


def test_an_unknown_plant_is_a_typical_one_with_a_wide_uncertainty() -> None:
    answer, findings = plant_climate(plants(A=FULL), NO_CLIMATE, ["A", "elsewhere"], FIRST, LAST)
    np.testing.assert_array_equal(answer.sweating, pc.SWEATING_UNKNOWN)
    np.testing.assert_array_equal(answer.sweating_season, pc.SWEATING_UNKNOWN)
    np.testing.assert_array_equal(answer.sweating_sd, air_known.SWEATING_SD_UNKNOWN)
    np.testing.assert_array_equal(answer.log_corrosivity, pc.LOG_CORROSIVITY_UNKNOWN)
    np.testing.assert_array_equal(answer.log_corrosivity_sd, air_known.LOG_CORROSIVITY_SD_UNKNOWN)
    for blank in (answer.rh_mean_pct, answer.wet_hours_per_year, answer.corrosivity_um):
        assert np.isnan(blank).all()
    assert answer.category == (None, None)
    assert not answer.known.any()
    assert [(f.table, f.value, f.severity) for f in findings] == [
        ("climate", "A", "note"),
        ("climate", "elsewhere", "note"),
    ]


def test_a_conditioned_hall_is_dry_and_is_the_reference() -> None:
    answer, findings = one(FULL | {"conditioned": 1.0}, climate("A", YEAR, damper=20.0))
    np.testing.assert_array_equal(answer.sweating, 0.0)
    assert answer.sweating_sd.tolist() == [pc.SWEATING_SD_CONDITIONED]
    assert (answer.log_corrosivity.tolist(), answer.log_corrosivity_sd.tolist()) == ([0.0], [pc.LOG_CORROSIVITY_SD_CONDITIONED])
    assert answer.corrosivity_um.tolist() == [CONDITIONED_LOSS_UM]
    assert answer.known.tolist() == [True]
    assert [f.column for f in findings] == ["place"]


def test_recorded_hall_air_comes_before_the_flag_and_before_the_outdoor_dew_point() -> None:
    hall = climate("A", YEAR, place="hall", warmer=5.0)
    both = pd.concat([climate("A", YEAR), hall], ignore_index=True)
    season = sweating_share_monthly(dew_point_c(YEAR_TEMP + 5.0, YEAR_RH), 10.0)
    for conditioned in (0.0, 1.0):
        answer, findings = one(FULL | {"conditioned": conditioned}, both)
        np.testing.assert_allclose(answer.sweating_season, [season])
        assert answer.sweating_sd.tolist() == [air_known.SWEATING_SD_HALL]
        assert answer.rh_mean_pct == pytest.approx([70.0])
        assert findings == ()
    assert answer.log_corrosivity.tolist() == [0.0]


def test_hall_air_of_half_a_year_is_completed_by_the_outdoor_dew_point_and_trusted_as_that() -> None:
    hall = climate("A", months("2020-04", "2020-09"), place="hall", warmer=5.0)
    answer, findings = one(FULL, pd.concat([climate("A", YEAR), hall], ignore_index=True))
    warmer = np.where((np.arange(12) >= 3) & (np.arange(12) <= 8), 5.0, 0.0)
    np.testing.assert_allclose(answer.sweating_season, [sweating_share_monthly(dew_point_c(YEAR_TEMP + warmer, YEAR_RH), 10.0)])
    assert answer.sweating_sd.tolist() == [air_known.SWEATING_SD_OUTDOOR]
    assert findings == ()


def test_hall_air_alone_leaves_the_corrosivity_of_an_open_hall_unknown() -> None:
    answer, findings = one(FULL, climate("A", YEAR, place="hall"))
    assert answer.known.tolist() == [True]
    assert answer.log_corrosivity.tolist() == [pc.LOG_CORROSIVITY_UNKNOWN]
    assert answer.log_corrosivity_sd.tolist() == [air_known.LOG_CORROSIVITY_SD_UNKNOWN]
    assert answer.rh_mean_pct == pytest.approx([70.0])
    assert [(f.column, "outdoor" in f.problem) for f in findings] == [("place", True)]


def test_outdoor_air_never_tells_the_sweating_of_a_conditioned_hall() -> None:
    """Hall air of half the year: the other half comes from the hall's own neighbours, not from a damper outdoors."""
    half = climate("A", months("2020-04", "2020-09"), place="hall", damper=-40.0)
    damp = pd.concat([half, climate("A", YEAR, damper=25.0)], ignore_index=True)
    with_outdoor, _ = one(FULL | {"conditioned": 1.0}, damp)
    without, _ = one(FULL | {"conditioned": 1.0}, half)
    np.testing.assert_array_equal(with_outdoor.sweating, without.sweating)


def test_blank_coolant_and_deposits_take_defaults_and_widen() -> None:
    answer, findings = one({}, climate("A", YEAR))
    stated = {"coolant_temp_c": COOLANT_DEFAULT_C, "so2_mg_m2_day": SO2_DEFAULT_MG_M2_DAY, "chloride_mg_m2_day": CHLORIDE_DEFAULT_MG_M2_DAY}
    same, none = one(stated, climate("A", YEAR))
    np.testing.assert_array_equal(answer.sweating, same.sweating)
    np.testing.assert_array_equal(answer.log_corrosivity, same.log_corrosivity)
    assert answer.sweating_sd.tolist() == [air_known.SWEATING_SD_COOLANT]
    assert answer.log_corrosivity_sd.tolist() == [air_known.LOG_CORROSIVITY_SD_DEPOSITS]
    assert [(f.row, f.column) for f in findings] == [(2, "coolant_temp_c"), (2, "so2_mg_m2_day"), (2, "chloride_mg_m2_day")]
    assert none == ()


def test_each_missing_calendar_month_widens_up_to_an_unknown_plant() -> None:
    sds = []
    for n in range(12, 0, -1):
        answer, findings = one(FULL, climate("A", YEAR[:n]))
        sds.append((answer.sweating_sd[0], answer.log_corrosivity_sd[0]))
        assert [f.column for f in findings] == ([] if n == 12 else ["month"])
        assert np.isfinite(answer.sweating).all()
    grown = np.diff(np.array(sds), axis=0)
    assert (grown > 0.0).all()
    assert (np.array(sds) < [air_known.SWEATING_SD_UNKNOWN, air_known.LOG_CORROSIVITY_SD_UNKNOWN]).all()


def test_values_outside_the_validity_are_clipped_with_a_note() -> None:
    answer, findings = one(FULL | {"chloride_mg_m2_day": 900.0}, climate("A", YEAR, warmer=15.0))
    np.testing.assert_allclose(answer.corrosivity_um, carbon_steel_loss(28.7, 70.0, 8.0, 760.5).loss_um)
    assert [(f.table, f.row, f.column, f.value) for f in findings] == [
        ("climate", None, "temp_c", "30"),
        ("plants", 2, "chloride_mg_m2_day", "900"),
    ]


def test_thin_hourly_months_are_told() -> None:
    thin = climate("A", np.array(["2021-01"], dtype="datetime64[M]")).assign(month=np.datetime64("NaT", "s"))
    thin["timestamp"] = np.array(["2021-01-05T10"], dtype="datetime64[s]")
    answer, findings = one(FULL, pd.concat([climate("A", YEAR), thin], ignore_index=True))
    assert answer.sweating[0, 12] == answer.sweating[0, 0]
    assert [f.column for f in findings] == ["timestamp"]


def test_each_plant_stands_alone_and_in_the_order_asked_for() -> None:
    air = pd.concat([climate("A", YEAR), climate("B", YEAR, warmer=6.0, damper=10.0)], ignore_index=True)
    stated = plants(B=FULL | {"coolant_temp_c": 8.0}, A=FULL)
    answer, _ = plant_climate(stated, air, ["B", "A"], FIRST, LAST)
    for i, plant_id in enumerate(("B", "A")):
        alone, _ = plant_climate(stated, air[air["plant_id"] == plant_id], [plant_id], FIRST, LAST)
        np.testing.assert_allclose(answer.sweating[i], alone.sweating[0])
        np.testing.assert_allclose(answer.log_corrosivity[i], alone.log_corrosivity[0])
    assert answer.sweating[0].mean() > answer.sweating[1].mean()


def test_the_order_of_rows_does_not_matter() -> None:
    air = pd.concat([climate("A", months("2015-01", "2021-12")), climate("A", YEAR, place="hall")], ignore_index=True)
    shuffled = air.sample(frac=1.0, random_state=3)
    plain, mixed = one(FULL, air)[0], one(FULL, shuffled)[0]
    np.testing.assert_allclose(mixed.sweating, plain.sweating)
    np.testing.assert_allclose(mixed.log_corrosivity, plain.log_corrosivity)


def test_wrong_questions_are_refused() -> None:
    with pytest.raises(ValueError, match="repeat"):
        plant_climate(plants(A=FULL), NO_CLIMATE, ["A", "A"], FIRST, LAST)
    with pytest.raises(ValueError, match="before"):
        plant_climate(plants(A=FULL), NO_CLIMATE, ["A"], LAST, FIRST)


def test_no_plants_at_all() -> None:
    answer, findings = plant_climate(plants(A=FULL), NO_CLIMATE, [], FIRST, LAST)
    assert answer.sweating.shape == (0, 36)
    assert findings == ()


def test_a_warmer_coolant_sweats_as_a_plant_that_states_it():
    months = pd.date_range("2024-01-01", periods=24, freq="MS")
    rows = {"plant_id": ["A"] * 24 + ["B"] * 24, "month": [*months, *months], "temp_c": [*range(24)] * 2, "rh_pct": [70.0] * 48}
    air = pd.DataFrame({**rows, "timestamp": pd.NaT, "place": "outdoor"})
    air["timestamp"] = pd.to_datetime(air["timestamp"])

    def stated(coolant: float) -> pd.DataFrame:
        return pd.DataFrame(
            {"plant_id": ["A"], "coolant_temp_c": [coolant], "so2_mg_m2_day": [np.nan], "chloride_mg_m2_day": [np.nan],
             "conditioned": [0.0], "row": [1.0], "source": ["plants.csv"]}
        )  # fmt: skip

    asked = ("A", "B", "C")  # B states no coolant, C has no climate
    warmer = pc.warmer_season(stated(9.0), air, asked, 4.0)
    answer, _ = pc.plant_climate(stated(13.0), air, asked, np.datetime64("2024-01"), np.datetime64("2025-12"))
    np.testing.assert_allclose(warmer[0], answer.sweating_season[0])
    assert (warmer[1] < answer.sweating_season[1] + 1e-12).all()
    assert np.isnan(warmer[2]).all()


HALL = pd.concat([climate("A", YEAR), climate("A", YEAR, "hall")])
NO_COOLANT, NO_DEPOSITS = ({**FULL, name: np.nan} for name in ("coolant_temp_c", "so2_mg_m2_day"))
LACKING = {
    "nothing": (FULL, HALL, ()),
    "hall air": (FULL, climate("A", YEAR), ("hall_air",)),
    "the coolant": (NO_COOLANT, climate("A", YEAR), ("coolant",)),
    "deposits": (NO_DEPOSITS, HALL, ("deposits",)),
    "all climate": (FULL, NO_CLIMATE, ("climate",)),
    "some months": (FULL, climate("A", YEAR[:9]), ("climate", "hall_air")),
    "some months and the coolant": (NO_COOLANT, climate("A", YEAR[:9]), ("climate", "coolant")),
    "the air of a conditioned hall": ({**FULL, "conditioned": 1.0}, climate("A", YEAR), ("hall_air",)),
}


@pytest.mark.parametrize("case", LACKING)
def test_what_is_lacking_is_told_from_how_unsure_the_air_is(case: str) -> None:
    stated, air, wanted = LACKING[case]
    answer, _ = one(stated, air)
    found = lacking_air(float(answer.sweating_sd[0]), float(answer.log_corrosivity_sd[0]))
    assert tuple(record.name for record in found) == wanted


@pytest.mark.parametrize(
    ("record", "without", "with_it"),
    [
        ("hall_air", (FULL, climate("A", YEAR)), (FULL, HALL)),
        ("coolant", (NO_COOLANT, climate("A", YEAR[:9])), (FULL, climate("A", YEAR[:9]))),
        ("deposits", (NO_DEPOSITS, climate("A", YEAR[:9])), (FULL, climate("A", YEAR[:9]))),
        ("climate", (FULL, climate("A", YEAR[:9])), (FULL, climate("A", YEAR))),
        ("climate", (FULL, NO_CLIMATE), (FULL, climate("A", YEAR))),
    ],
)
def test_what_a_record_leaves_unsure_is_what_is_unsure_with_it(
    record: str, without: tuple[dict[str, float], pd.DataFrame], with_it: tuple[dict[str, float], pd.DataFrame]
) -> None:
    before, after = one(*without)[0], one(*with_it)[0]
    (lacking,) = [r for r in lacking_air(float(before.sweating_sd[0]), float(before.log_corrosivity_sd[0])) if r.name == record]
    assert lacking.sweating_sd == pytest.approx(after.sweating_sd[0])
    assert lacking.log_corrosivity_sd == pytest.approx(after.log_corrosivity_sd[0])
