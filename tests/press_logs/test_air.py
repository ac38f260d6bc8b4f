"""Hourly air drawn together: by month with the mean dew point of the hours, by hour as the records count them."""

import datetime as dt
import math
import random
from pathlib import Path

import duckdb
import numpy as np
import pytest
from shot_logs import copy

from wearfit.errors import Refusal
from wearfit.exposures.humidity import dew_point_c
from wearfit.exposures.monthly_air import monthly_air
from wearfit.press_logs.air import climate_of
from wearfit.press_logs.engine import Limits
from wearfit.records.assemble import assemble
from wearfit.records.readers.read import read
from wearfit.workflow.check import check
from wearfit.workflow.rollup import AirOrder, _write_air

LIMITS = Limits(memory_mb=200)
HEADER = "plant_id,timestamp,temp_c,rh_pct\n"


def hours(plant: str, first: dt.datetime, count: int, seed: int) -> list[tuple[str, dt.datetime, float, float]]:
    """Days and nights, damp at night."""
    rng = random.Random(seed)
    air = []
    for hour in range(count):
        swing = math.sin(2.0 * math.pi * hour / 24.0)
        air.append((plant, first + dt.timedelta(hours=hour), round(15 + 8 * swing + rng.gauss(0, 2), 1), round(70 - 25 * swing, 1)))
    return air


AIR = [*hours("P1", dt.datetime(2024, 2, 1), 24 * 60, 1), *hours("P2", dt.datetime(2024, 2, 27), 24 * 20, 2)]


def csv_of(path: Path, rows: list[tuple[str, dt.datetime, float, float]], header: str = HEADER) -> Path:
    path.write_text(header + "".join(f"{p},{t},{temp},{rh}\n" for p, t, temp, rh in rows))
    return path


def test_a_month_has_the_mean_temperature_and_the_mean_dew_point(tmp_path: Path) -> None:
    climate = climate_of(csv_of(tmp_path / "air.csv", AIR), ["P1", "P2"], "month", LIMITS)
    assert [(r["plant_id"], r["month"]) for r in climate.rows] == [("P1", "2024-02"), ("P1", "2024-03"), ("P2", "2024-03")]
    assert (climate.readings, climate.absent, climate.thin_months) == (len(AIR), (), 1)
    for row in climate.rows:
        of_month = [(t, h) for p, at, t, h in AIR if p == row["plant_id"] and f"{at:%Y-%m}" == row["month"]]
        dews = [dew_point_c(t, h) for t, h in of_month]
        assert float(row["temp_c"]) == pytest.approx(np.mean([t for t, _ in of_month]), abs=0.0051)
        assert dew_point_c(float(row["temp_c"]), float(row["rh_pct"])) == pytest.approx(np.mean(dews), abs=0.01)


def test_hours_are_what_the_records_would_count(tmp_path: Path) -> None:
    """Written by the hour and read as records, the air gives the shares of sweating and wet hours of the readings themselves."""
    rows = climate_of(csv_of(tmp_path / "air.csv", AIR), ["P1", "P2"], "hour", LIMITS).rows
    assert len(rows) == len(AIR)
    folder = tmp_path / "records"
    folder.mkdir()
    _write_air(AirOrder(tmp_path / "air.csv", folder / "climate.csv", "hour"), {"P1", "P2"}, LIMITS)
    (folder / "tools.csv").write_text("tool_id,service_class,commissioned_on\nT1,103,2024-01-01\n")
    (folder / "runs.csv").write_text("tool_id,plant_id,resin_id,started_on,ended_on,shots\nT1,P1,R1,2024-02-01,2024-02-02,100\n")
    (folder / "events.csv").write_text("tool_id,date,event\n")
    (folder / "resins.csv").write_text("resin_id,family\nR1,ABS\n")
    (folder / "plants.csv").write_text("plant_id\nP1\nP2\n")
    upload = read(folder)
    frame = assemble(upload.rows, upload.empty_tables).tables["climate"]
    assert len(frame) == len(AIR)
    outdoor, _ = monthly_air(frame, ["P1", "P2"], np.array([12.0, 12.0]))
    february = [(t, h) for p, at, t, h in AIR if p == "P1" and at.month == 2]
    assert outdoor.sweating[0, 0] == np.mean([dew_point_c(t, h) > 12.0 for t, h in february])
    assert outdoor.wet_hours[0, 0] == pytest.approx(8766.0 * np.mean([h > 80.0 and t > 0.0 for t, h in february]))
    found = [f for f in check(folder).findings if f.table == "climate"]
    # Whole months that were never handed over, and one that was begun, are the owner's to add; of the rows nothing is said.
    months = ("calendar months have no climate", "hold fewer than 120 hours")
    assert [f.problem for f in found if not any(said in f.problem for said in months)] == []


def test_air_of_other_plants_is_passed_over_and_plants_without_are_named(tmp_path: Path) -> None:
    climate = climate_of(csv_of(tmp_path / "air.csv", AIR), ["P1", "P9"], "month", LIMITS)
    assert {row["plant_id"] for row in climate.rows} == {"P1"}
    assert climate.absent == ("P9",)
    assert climate.readings == 24 * 60


def test_parquet_says_what_csv_says_and_readings_of_one_hour_are_one(tmp_path: Path) -> None:
    csv = csv_of(tmp_path / "air.csv", AIR)
    (tmp_path / "air").mkdir()
    with duckdb.connect() as connection:
        twice = (
            f"SELECT plant_id AS site, timestamp + INTERVAL (half * 30) MINUTE AS ts, temp_c AS temperature, rh_pct AS RH FROM '{csv}', "
        )
        copy(connection, f"{twice} (VALUES (0), (1)) halves(half)", tmp_path / "air" / "air.parquet")
    for grain in ("month", "hour"):
        of_csv, of_parquet = (climate_of(place, ["P1", "P2"], grain, LIMITS) for place in (csv, tmp_path / "air"))
        assert of_parquet.rows == of_csv.rows
        assert of_parquet.readings == 2 * of_csv.readings


def test_sensors_that_pass_their_ends_are_read_as_the_records_read_them(tmp_path: Path) -> None:
    rows = [(p, at, t, {0: 0.0, 1: 101.5}.get(i, h)) for i, (p, at, t, h) in enumerate(AIR[:10])]
    found = climate_of(csv_of(tmp_path / "air.csv", rows), ["P1"], "hour", LIMITS).rows
    assert [row["rh_pct"] for row in found[:2]] == ["0.50", "100.00"]


@pytest.mark.parametrize(
    ("header", "said"),
    [
        ("plant_id,timestamp,temp_c,wind\n", "'air.csv' has no column 'rh_pct'; it has plant_id, timestamp, temp_c, wind"),
        ("plant_id,rh_pct,temp_c,timestamp\n", "'timestamp' of 'air.csv' holds DOUBLE, where time stamps are wanted"),
    ],
)
def test_air_that_cannot_be_read_is_told(tmp_path: Path, header: str, said: str) -> None:
    with pytest.raises(Refusal) as refused:
        climate_of(csv_of(tmp_path / "air.csv", AIR[:5], header), ["P1"], "month", LIMITS)
    assert said in refused.value.problem
    with pytest.raises(Refusal, match="no file or folder"):
        climate_of(tmp_path / "nowhere", ["P1"], "month", LIMITS)
