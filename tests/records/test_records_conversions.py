"""Numbers under a header in another unit: turned into the column's, within its bounds."""

import pytest
from fleets import read_of
from grids import AS_IT_STANDS, grid, typed

from wearfit.records.sheets.conversions import conversion_of
from wearfit.records.sheets.locate import locate
from wearfit.records.tables import TABLES


# Source of the factors: the definitions of the units (exact); freezing and boiling of water at 1 atm for the temperatures.
@pytest.mark.parametrize(
    ("table", "column", "unit", "before", "after"),
    [
        ("climate", "temp_c", "°F", "32", "0"), ("climate", "temp_c", "deg F", "212", "100"), ("climate", "temp_c", "K", "273.15", "0"),
        ("climate", "temp_c", "°F", "-40", "-40"), ("climate", "temp_c", "F", "68", "20"),
        ("tools", "cycle_time_s", "min", "0.5", "30"), ("tools", "cycle_time_s", "ms", "30000", "30"),
        ("tools", "lead_time_weeks", "days", "70", "10"), ("runs", "shots", "k", "12.5", "12500"),
        ("tools", "replacement_cost", "k€", "48", "48000"),
    ],
)  # fmt: skip
def test_what_a_number_becomes(table: str, column: str, unit: str, before: str, after: str):
    conversion = conversion_of(TABLES[table].column(column), unit)
    assert conversion is not None
    assert conversion.after(TABLES[table].column(column), before) == after


@pytest.mark.parametrize(
    ("table", "column", "unit"), [("climate", "rh_pct", "g/m3"), ("tools", "hardness_hrc", "HB"), ("runs", "shots", "kg")]
)
def test_a_unit_without_a_rule_is_not_turned(table: str, column: str, unit: str):
    assert conversion_of(TABLES[table].column(column), unit) is None


def test_rows_hold_the_turned_numbers_and_what_lies_out_of_bounds_is_set_aside():
    sheet = grid("climate", "plant_id|month|Temp (°F)|rh_pct\na|2020-01|50|60\na|2020-02|1000|60\na|2020-03|59,5|60\na|2020-04||60")
    (region,), _ = locate([sheet], AS_IT_STANDS)
    read = read_of(region)
    assert [(row.row, row.values["temp_c"]) for row in read.rows] == [(2, "10"), (4, "15.27777778")]
    assert [(f.row, f.value, "more than 345" in f.problem) for f in read.findings if f.severity == "set_aside"] == [
        (3, "1000", True),
        (5, None, False),
    ]


def test_numbers_of_a_workbook_are_turned_too():
    sheet = typed("climate", ["plant_id", "month", "Temp (K)", "rh_pct"], ["a", "2020-01", 283.15, 60.0])
    (region,), _ = locate([sheet], AS_IT_STANDS)
    assert [row.values["temp_c"] for row in read_of(region).rows] == ["10"]
