"""Units behind a number: the spellings of headers and those of cells alone."""

import pytest
from fleets import Cells, event, read_of, region_of, run, tool

from wearfit.records.columns import Column
from wearfit.records.sheets.header_units import SPELLINGS, is_unit
from wearfit.records.sheets.units import is_open, may_be_unit
from wearfit.records.tables import TABLES


def column_of_unit(unit: str) -> Column:
    return next(column for table in TABLES.values() for column in table.columns if column.unit == unit)


@pytest.mark.parametrize(
    ("table", "row", "read"),
    [
        ("runs", run("2024-01-01", "2024-01-02", "", parts="1 pc", setups="2 x", cycle_time_s="30 sec."), ("1", "2", "30")),
        ("runs", run("2024-01-01", "2024-01-02", "1 shot", scrap_parts="40 ea", active_cavities="4 cav."), ("1", "40", "4")),
        ("plants", {"plant_id": "Heath", "latitude": "48.2 °N", "coolant_temp_c": "9 deg. C", "so2_mg_m2_day": "4 mg/m²/d"}, ("48.2", "9")),
        ("tools", tool(replacement_cost="900 zł", hardness_hrc="52 Rc", shots_per_month="9000 / month"), ("900", "52", "9000")),
        ("resins", {"resin_id": "R1", "family": "PP", "filler_pct": "30 wt.%"}, ("30",)),
        ("events", event("2024-01-01", "worn", cost="40 EUR", shots_at="9000 press cycles"), ("40", "9000")),
    ],
)  # fmt: skip
def test_units_of_a_column_in_any_of_their_spellings(table: str, row: Cells, read: tuple[str, ...]):
    sheet = read_of(region_of(table, [row]))
    assert set(read) <= set(sheet.rows[0].values.values())
    assert all(finding.severity == "note" for finding in sheet.findings)


@pytest.mark.parametrize("unit", ["shots", "s", "HRC", "degC", "mg/(m2 day)", "weeks", "share, 0 to 1"])
def test_units_of_other_columns_are_none(unit: str):
    column = column_of_unit(unit)
    assert not is_open(column)
    for other in ("kg", "°f", "eur", "min", "months", "mm"):
        assert not may_be_unit(column, other)


def test_a_word_that_only_a_cell_can_have_for_a_unit_is_part_of_a_header_s_name():
    for word in ("piece", "set", "shot", "x"):
        assert not is_unit(word)
    assert may_be_unit(column_of_unit("parts"), "piece") and may_be_unit(column_of_unit("units"), "set")


def test_the_units_of_headers_are_those_of_columns():
    assert set(SPELLINGS) == {column.unit for table in TABLES.values() for column in table.columns if column.unit}
