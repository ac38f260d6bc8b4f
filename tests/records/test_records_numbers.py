"""Numbers as people write them: decimals and thousands, units, multipliers, and what cannot be a number."""

import math

import pytest
from fleets import about, checked, read_of, region_of, run, tool
from hypothesis import given
from hypothesis import strategies as st

from wearfit.records.choices import Choices
from wearfit.records.sheets.numbers import NoNumber, Number, number_of
from wearfit.records.sheets.region import Region
from wearfit.records.sheets.sheet import Sheet
from wearfit.records.tables import TABLES


@pytest.mark.parametrize(
    ("typed", "point", "comma"),
    [
        ("1234", "1234", "1234"), ("0012500", "0012500", "0012500"), ("1 234 567", "1234567", "1234567"),
        ("1\u2009234\u2009567", "1234567", "1234567"), ("1'234'567", "1234567", "1234567"), ("1’234", "1234", "1234"),
        ("12.5", "12.5", ""), ("12,5", "", "12.5"), ("1,234.5", "1234.5", ""), ("1.234,5", "", "1234.5"), ("1 234,5", "", "1234.5"),
        ("1,234,567", "1234567", ""), ("1.234.567", "", "1234567"), ("12,500", "12500", "12.500"), ("12.500", "12.500", "12500"),
        ("0,500", "", "0.500"), ("0.500", "0.500", ""), ("1234.567", "1234.567", ""), ("12.5000", "12.5000", ""), ("12.", "12", ""),
        (".5", "0.5", ""), (",5", "", "0.5"), ("-5", "-5", "-5"), ("−5", "-5", "-5"), ("+5", "5", "5"),
        ("1.2e5", "1.2e5", ""), ("1e-05", "1e-05", "1e-05"), ("1,2E5", "", "1.2e5"),
    ],
)  # fmt: skip
def test_both_readings_of_a_number(typed: str, point: str, comma: str):
    number = number_of(typed)
    assert isinstance(number, Number)
    assert (number.point, number.comma, number.factor, number.unit) == (point, comma, 1, "")


@pytest.mark.parametrize(
    ("typed", "factor", "unit"),
    [
        ("350 shots", 1, "shots"), ("30s", 1, "s"), ("45 %", 1, "%"), ("350k", 1_000, ""), ("350 tsd.", 1_000, ""),
        ("1.2 M", 1_000_000, ""), ("5 k€", 1_000, "€"),
        ("12,5 Mio. Shots", 1_000_000, "shots"), ("€ 12,500.00", 1, "€"), ("12.500,00 EUR", 1, "€"), ("5 °C", 1, "°c"),
        ("2.5 kg", 1, "kg"),
    ],
)  # fmt: skip
def test_what_stands_behind_a_number(typed: str, factor: int, unit: str):
    number = number_of(typed)
    assert isinstance(number, Number)
    assert (number.factor, number.unit) == (factor, unit)


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("(5)", "brackets"), ("5-", "minus"), ("10-12", "range"), ("10 – 12", "range"), ("10 to 12", "range"), ("~350", "not one exact"),
        ("ca. 350", "not one exact"), ("350+", "not one exact"), (">350", "not one exact"), ("2024-03-01", "a date"),
        ("12 50", ""), ("1 234 56", ""), ("1_000", ""), ("nan", ""), ("inf", ""), ("", ""), ("1,23,456", ""), ("12,", ""), ("9" * 70, ""),
    ],
)  # fmt: skip
def test_what_is_no_number_says_what_it_is(typed: str, says: str):
    number = number_of(typed)
    assert isinstance(number, NoNumber)
    assert says in number.says and bool(number.says) == bool(says) == bool(number.repair)


def _climate(*temps: str | float, source: str = "", rh: str = "80") -> Region:
    rows = [{"plant_id": f"P{i}", "month": "2024-01", "temp_c": temp, "rh_pct": rh} for i, temp in enumerate(temps)]
    return region_of("climate", rows, source)


def _runs(*shots: str | float, **others: str) -> Region:
    return region_of(
        "runs", [{**run("2024-01-01", "2024-01-02", tool_id=f"T{i}"), "shots": count, **others} for i, count in enumerate(shots)]
    )


def _column(sheet: Sheet, name: str) -> list[str]:
    return [row.values.get(name, "") for row in sheet.rows]


def test_one_cell_decides_a_column_and_the_finding_shows_it():
    sheet = read_of(_climate("12,5", "1.234", "7"))
    assert _column(sheet, "temp_c") == ["12.5", "7"]  # 1.234 is 1234 there, which no air is
    note, aside = sheet.findings
    assert note.problem == "temp_c is read with a decimal comma, as 12,5 in row 2 shows."
    assert (note.row, note.severity) == (None, "note")
    assert (aside.row, aside.problem) == (3, "temp_c 1.234 is more than 345.")


def test_plain_numbers_are_read_without_a_word():
    assert read_of(_climate("12.5", "1.234", 7.25, "7")).findings == ()


def test_bounds_rule_a_reading_out_before_other_columns_are_asked():
    sheet = read_of(region_of("plants", [{"plant_id": "P", "latitude": "48,137", "chloride_mg_m2_day": "12,500.5"}]))
    assert sheet.rows[0].values == {"plant_id": "P", "latitude": "48.137", "chloride_mg_m2_day": "12500.5"}
    assert any("within their bounds" in f.problem for f in about(sheet.findings, "plants", "latitude"))


def test_other_columns_of_the_sheet_then_of_the_upload_decide():
    plants = region_of("plants", [{"plant_id": "P", "chloride_mg_m2_day": "12,500", "so2_mg_m2_day": "1,5"}])
    sheet = read_of(plants)
    assert sheet.rows[0].values["chloride_mg_m2_day"] == "12.5"
    assert any(
        f.problem == "chloride_mg_m2_day is read with a decimal comma, as so2_mg_m2_day is: 12,500 in row 2 is 12.5."
        for f in sheet.findings
    )
    alone = region_of("plants", [{"plant_id": "P", "chloride_mg_m2_day": "12,500"}])
    assert read_of(alone, _climate("1,5")).rows[0].values["chloride_mg_m2_day"] == "12.5"
    assert read_of(alone, _climate("1.5")).rows[0].values["chloride_mg_m2_day"] == "12500"


def test_where_nothing_decides_the_row_is_set_aside_with_the_choice():
    row = {"tool_id": "T", "date": "2024-01-01", "feature": "gate", "value": "1,234", "limit": "5"}
    (told,) = read_of(region_of("readings", [row])).findings
    assert (told.row, told.column, told.severity) == (2, "value", "set_aside")
    assert "1.234 or 1234" in told.problem and "[decimals.readings]" in told.repair
    chosen = read_of(region_of("readings", [row]), choices=Choices(decimals={"readings": {"value": "comma"}}))
    assert chosen.rows[0].values["value"] == "1.234" and chosen.findings == ()
    semicolons = read_of(region_of("readings", [row], semicolons=True))
    assert semicolons.rows[0].values["value"] == "1.234"
    assert "semicolons" in semicolons.findings[0].problem


def test_things_that_come_whole_are_thousands_and_this_is_told():
    for typed in ("12,500", "12.500"):
        sheet = read_of(_runs(typed, "900"))
        assert _column(sheet, "shots") == ["12500", "900"]
        (told,) = sheet.findings
        assert (told.severity, told.row) == ("repaired", None)
        assert "between thousands" in told.problem and "[decimals.runs]" in told.repair
    in_a_sheet_of_points = read_of(_runs("12.500", cycle_time_s="30.5"))
    assert _column(in_a_sheet_of_points, "shots") == ["12500"]
    of_three_places = read_of(_runs("12500.000", active_cavities="4.000"))
    assert of_three_places.rows[0].values["active_cavities"] == "4"
    assert _column(read_of(_runs("12.500"), choices=Choices(decimals={"runs": {"shots": "point"}})), "shots") == ["12.5"]
    assert _column(read_of(_runs("12.500", "333.25")), "shots") == ["12.5", "333.25"]


def test_the_mark_that_most_cells_fit_holds_where_they_differ():
    sheet = read_of(_climate("12,5", "13,5", "14.5", "15"))
    assert _column(sheet, "temp_c") == ["12.5", "13.5", "15"]
    assert "does not fit a decimal comma" in sheet.findings[1].problem
    assert _column(read_of(_climate("12,5", "14.5", "15")), "temp_c") == ["15"]


def test_units_of_the_column_are_left_out_and_others_are_not():
    sheet = read_of(_runs("350 shots", "400 Shots", cycle_time_s="30 s"))
    assert _column(sheet, "shots") == ["350", "400"] and _column(sheet, "cycle_time_s") == ["30", "30"]
    assert [(f.column, f.row, f.severity) for f in sheet.findings] == [("shots", None, "note"), ("cycle_time_s", None, "note")]
    assert "In 2 cells of shots a unit stands behind the number, such as '350 shots' in row 2, read as 350." in sheet.findings[0].problem
    assert read_of(_climate("20 °C", rh="45 %")).rows[0].values["rh_pct"] == "45"
    for typed in ("2.5 kg", "5 k", "70 °F"):
        (told,) = read_of(_climate(typed)).findings
        assert told.severity == "set_aside"
    assert "is not a number in s" in read_of(_runs("5", cycle_time_s="1 min")).findings[0].problem


def test_one_unit_or_currency_a_sheet_will_do_where_the_column_names_none():
    tools = [tool("T1", replacement_cost="€12.500,50"), tool("T2", replacement_cost="9.000,00 €", refurbish_cost="5 k€")]
    sheet = read_of(region_of("tools", tools))
    assert [row.values["replacement_cost"] for row in sheet.rows] == ["12500.5", "9000"]
    assert sheet.rows[1].values["refurbish_cost"] == "5000"
    mixed = read_of(region_of("tools", [tool("T1", replacement_cost="€ 900"), tool("T2", replacement_cost="$ 900")]))
    assert [f.severity for f in mixed.findings] == ["repaired", "repaired"]
    assert all("replacement_cost" not in row.values for row in mixed.rows)


def test_words_for_thousands_and_millions_multiply_and_are_told():
    sheet = read_of(_runs("350k", "1.2 M", "0.35 mio shots", "12 tsd"))
    assert _column(sheet, "shots") == ["350000", "1200000", "350000", "12000"]
    assert any(f.severity == "repaired" and "'350k' in row 2, read as 350000" in f.problem for f in sheet.findings)


def test_cells_that_are_numbers_in_the_file_are_themselves():
    sheet = read_of(_runs(12500.0, 12.5, math.nan, math.inf))
    assert _column(sheet, "shots") == ["12500", "12.5"]
    assert len(sheet.findings) == 2


def test_below_what_the_gauge_shows():
    rows = [
        {"tool_id": "T", "date": "2024-01-01", "feature": f"f{i}", "value": v, "limit": "0,2 mm"} for i, v in enumerate(("<0,02 mm", "0,1"))
    ]
    assert _column(read_of(region_of("readings", rows)), "value") == ["<0.02", "0.1"]
    assert read_of(_climate("<5")).rows == ()


WAYS = {
    "point": lambda value: f"{value:,}", "comma": lambda value: f"{value:,}".translate({44: 46, 46: 44}),
    "blank": lambda value: f"{value:,}".replace(",", " "), "apostrophe": lambda value: f"{value:,}".replace(",", "'"),
    "plain": repr, "exponent": lambda value: f"{value:.17e}",
}  # fmt: skip


@checked
@given(st.lists(st.floats(1, 1e9).map(lambda value: round(value, 2)), min_size=1, max_size=8), st.sampled_from(list(WAYS)))
def test_a_column_of_numbers_is_read_right_or_not_at_all(values: list[float], way: str):
    sheet = read_of(region_of("plants", [{"plant_id": f"P{i}", "so2_mg_m2_day": WAYS[way](value)} for i, value in enumerate(values)]))
    for row in sheet.rows:
        if "so2_mg_m2_day" in row.values:
            assert float(row.values["so2_mg_m2_day"]) == values[row.row - 2]


@checked
@given(st.text(max_size=30))
def test_no_text_breaks_the_reading_of_a_number(text: str):
    assert isinstance(number_of(text, may_be_below=True), Number | NoNumber)


def test_what_counts_whole_things_is_said_in_the_tables():
    whole = {column.name for table in TABLES.values() for column in table.columns if column.whole}
    assert whole == {
        "band_low", "band_high", "cavities", "opening_shots", "opening_life_shots", "shots_per_month", "shots", "parts", "active_cavities",
        "scrap_parts", "setups", "counter_shots", "shots_at", "units",
    }  # fmt: skip
