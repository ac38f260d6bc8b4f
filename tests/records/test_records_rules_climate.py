"""Air in other units, exchanged, impossible or without seasons."""

import pandas as pd
import pytest
from fleets import Cells, about, fleet, records_of

from wearfit.records.findings import Finding
from wearfit.records.frames import Frames, to_frames
from wearfit.records.identity import Row
from wearfit.records.rules.climate import judge_climate

TEMPERATE = (1.0, 2.5, 6.0, 10.5, 15.0, 18.5, 20.5, 20.0, 16.0, 11.0, 5.5, 2.0)
HUMID = (86, 82, 76, 70, 69, 70, 71, 73, 78, 83, 87, 88)


def _frames(cells: list[Cells]) -> Frames:
    base = {"plant_id": "Heath"}
    return to_frames(
        [Row("climate", str(i), 0, {**base, **{k: v for k, v in c.items() if v}}, i + 2, "air.csv") for i, c in enumerate(cells)]
    )


def _months(temps, rhs, year: int = 2020, **cells: str) -> list[Cells]:
    return [
        {"month": f"{year}-{m + 1:02}", "temp_c": f"{t}", "rh_pct": f"{h}", **cells}
        for m, (t, h) in enumerate(zip(temps, rhs, strict=True))
    ]


def _judged(cells: list[Cells]) -> tuple[pd.DataFrame, list[Finding]]:
    frames, findings = judge_climate(_frames(cells))
    return frames["climate"], findings


def test_plain_air_is_left_as_it_is():
    climate, findings = _judged(_months(TEMPERATE, HUMID))
    assert findings == [] and climate["temp_c"].tolist() == list(TEMPERATE) and climate["rh_pct"].tolist() == list(HUMID)


@pytest.mark.parametrize(("unit", "write"), [("kelvin", lambda t: t + 273.15), ("degrees Fahrenheit", lambda t: t * 1.8 + 32)])
def test_another_unit_is_converted_and_told_once(unit: str, write):
    climate, findings = _judged(_months([round(write(t), 2) for t in TEMPERATE], HUMID))
    (finding,) = findings
    assert (finding.row, finding.column, finding.value, finding.severity, finding.source) == (
        None,
        "temp_c",
        "Heath",
        "repaired",
        "air.csv",
    )
    assert unit in finding.problem and "12 temperatures" in finding.problem
    assert climate["temp_c"].tolist() == pytest.approx(TEMPERATE, abs=0.01)


def test_a_tropical_and_a_hard_winter_in_fahrenheit_are_converted():
    for celsius in ([27.0, 27.5, 28.0] * 4, [-18.0, -14, -6, 4, 12, 18, 21, 20, 14, 6, -4, -14]):
        climate, findings = _judged(_months([t * 1.8 + 32 for t in celsius], HUMID))
        assert [f.severity for f in findings] == ["repaired"]
        assert climate["temp_c"].tolist() == pytest.approx(celsius, abs=0.01)


def test_a_single_slip_does_not_make_a_plant_fahrenheit():
    temps = [*TEMPERATE[:6], 69.0, *TEMPERATE[7:]]
    climate, (finding,) = _judged(_months(temps, HUMID))
    assert (finding.row, finding.severity, finding.value) == (8, "set_aside", "69")
    assert "-76 to 45" in finding.problem and len(climate) == 11


def test_two_years_in_two_units_are_not_converted_together():
    fahrenheit = [t * 1.8 + 32 for t in TEMPERATE]
    climate, findings = _judged([*_months(TEMPERATE, HUMID), *_months(fahrenheit, HUMID, 2021)])
    assert {f.severity for f in findings} == {"set_aside"}
    assert set(climate.loc[climate["month"].dt.year == 2020, "temp_c"]) == set(TEMPERATE)


def test_each_plant_and_place_is_read_by_itself():
    other = _months([t + 273.15 for t in TEMPERATE], HUMID, plant_id="Salt Quay")
    hall = _months([72.0] * 11 + [73.0], HUMID, place="hall")
    climate, findings = _judged([*_months(TEMPERATE, HUMID), *other, *hall])
    assert [f.value for f in findings] == ["Heath (hall)", "Salt Quay"]
    assert climate["temp_c"].max() < 23


def test_hourly_fahrenheit_is_converted_and_a_hot_afternoon_is_not():
    hours = [{"timestamp": f"2020-07-{d:02}T{h:02}:00:00", "temp_c": f"{62 + h}", "rh_pct": "60"} for d in (1, 2) for h in range(24)]
    climate, (finding,) = _judged(hours)
    assert "Fahrenheit" in finding.problem and climate["temp_c"].max() == pytest.approx((85 - 32) / 1.8, abs=0.01)
    warm = [{**hour, "temp_c": f"{22 + h % 24}"} for h, hour in enumerate(hours)]
    assert _judged(warm)[1] == []


def test_what_was_never_measured_is_set_aside():
    hours = [{"timestamp": f"2020-07-01T{h:02}:00:00", "temp_c": t, "rh_pct": "60"} for h, t in enumerate(("20", "-91", "58", "57", "-90"))]
    climate, findings = _judged(hours)
    assert [(f.row, f.severity) for f in findings] == [(3, "set_aside"), (4, "set_aside")]
    assert len(climate) == 3


def test_humidity_as_a_share_becomes_percent():
    climate, (finding,) = _judged(_months(TEMPERATE, [h / 100 for h in HUMID]))
    assert (finding.column, finding.severity) == ("rh_pct", "repaired") and "shares" in finding.problem
    assert climate["rh_pct"].tolist() == pytest.approx(HUMID)


def test_saturated_air_reads_as_100_and_more_is_set_aside():
    climate, findings = _judged(_months(TEMPERATE, [*HUMID[:9], 101.5, 102, 103]))
    noise, beyond = findings
    assert (noise.row, noise.severity) == (None, "repaired") and "2 values" in noise.problem
    assert (beyond.row, beyond.severity, beyond.value) == (13, "set_aside", "103")
    assert climate["rh_pct"].max() == 100 and len(climate) == 11


def test_exchanged_columns_are_told_and_not_taken_for_fahrenheit():
    _, findings = _judged(_months(HUMID, TEMPERATE))
    (note,) = [f for f in findings if f.severity == "note"]
    assert "exchanged" in note.problem and "Fahrenheit" not in "".join(f.problem for f in findings)


def test_months_that_are_all_the_same_are_told():
    climate, (note,) = _judged(_months([12.0] * 12, [75] * 12))
    assert note.severity == "note" and "same temperature" in note.problem and len(climate) == 12


def test_the_rule_is_part_of_putting_records_together():
    records = records_of(fleet(climate=[{"plant_id": "Heath", **cells} for cells in _months(TEMPERATE, [h / 100 for h in HUMID])]))
    assert len(about(records.findings, "climate", "rh_pct")) == 1
    assert records.tables["climate"]["rh_pct"].min() == 69
