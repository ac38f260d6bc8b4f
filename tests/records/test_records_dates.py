"""Dates, months and times as people write them: what a cell alone can mean, and what its column makes of it."""

import datetime as dt

import pytest
from fleets import about, checked, event, read_of, region_of, run
from hypothesis import given
from hypothesis import strategies as st

from wearfit.records.choices import Choices
from wearfit.records.sheets.dates import DMY, MDY, YMD, Moment, NoMoment, moment_of
from wearfit.records.sheets.months import month_of
from wearfit.records.sheets.sheet import Sheet


def _events(*dates: str | float, choices: Choices | None = None, today: dt.date | None = None) -> Sheet:
    rows = [{"tool_id": f"T{i}", "date": date, "event": "service"} for i, date in enumerate(dates)]
    return read_of(region_of("events", rows), choices=choices, today=today)


def _dates(sheet: Sheet) -> list[str]:
    return [row.values["date"] for row in sheet.rows]


@pytest.mark.parametrize(
    ("typed", "how", "day"),
    [
        ("2024-03-01", "iso", "2024-03-01"),
        ("2024-03-01T00:00:00.000", "iso", "2024-03-01"),
        ("2024/3/1", "year first", "2024-03-01"),
        ("2024.03.01", "year first", "2024-03-01"),
        ("2024 03 01", "year first", "2024-03-01"),
        ("20240331", "compact", "2024-03-31"),
        (20240331.0, "compact", "2024-03-31"),
        ("3-Mar-24", "named", "2024-03-03"),
        ("MAR 3, 2024", "named", "2024-03-03"),
        ("March 3rd 2024", "named", "2024-03-03"),
        ("3 Sept. 2024", "named", "2024-09-03"),
        ("Sunday, March 3, 2024", "named", "2024-03-03"),
        ("2024-Mar-03", "named", "2024-03-03"),
        ("31-Dec-99", "named", "1999-12-31"),
        ("45351", "serial", "2024-02-29"),
        (45351.0, "serial", "2024-02-29"),
        (45351.5, "serial", "2024-02-29"),
    ],
)
def test_dates_that_no_other_cell_is_needed_for(typed: str | float, how: str, day: str):
    moment = moment_of(typed)
    assert isinstance(moment, Moment)
    assert (moment.how, moment.day, dict(moment.by_order)) == (how, day, {})


@pytest.mark.parametrize(
    ("typed", "days"),
    [
        ("03/04/2024", {DMY: "2024-04-03", MDY: "2024-03-04"}),
        ("3.4.2024", {DMY: "2024-04-03", MDY: "2024-03-04"}),
        ("3. 4. 2024", {DMY: "2024-04-03", MDY: "2024-03-04"}),
        ("3-4-2024", {DMY: "2024-04-03", MDY: "2024-03-04"}),
        ("31 12 2023", {DMY: "2023-12-31"}),
        ("12/31/2023 12:00:00 AM", {MDY: "2023-12-31"}),
        ("03/04/24", {DMY: "2024-04-03", MDY: "2024-03-04", YMD: "2003-04-24"}),
        ("24-03-31", {DMY: "2031-03-24", YMD: "2024-03-31"}),
        ("31.12.69", {DMY: "1969-12-31"}),
        ("31.12.68", {DMY: "2068-12-31"}),
    ],
)
def test_every_reading_of_a_date_in_numbers_is_kept(typed: str, days: dict):
    moment = moment_of(typed)
    assert isinstance(moment, Moment)
    assert dict(moment.by_order) == days


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("31.11.2023", "calendar"),
        ("13/13/2024", "calendar"),
        ("2024-02-30", "calendar"),
        ("Feb 30, 2024", "calendar"),
        ("2024-W12", "a week"),
        ("KW 12", "a week"),
        ("week 12, 2024", "a week"),
        ("Q1 2024", "a part of a year"),
        ("2024 Q1", "a part of a year"),
        ("spring 2023", "a time of the year"),
        ("2024-03", "a month"),
        ("March 2024", "a month"),
        ("03/2024", "a month"),
        ("2024", "a year alone"),
        (2024.0, "a year alone"),
        ("31.12.", "no year"),
        (60.0, "a number"),
        (3.0e9, "a number"),
        ("2024-07-01T14:00Z", "time zone"),
        ("2024-07-01 14:00 +01:00", "time zone"),
        ("24.3.2024 25:00", "time"),
        ("soon", ""),
        ("2012-001", ""),
        ("1.2.3", ""),
        ("\uff12\uff10\uff12\uff14-02-29", ""),
    ],
)
def test_what_is_no_day_says_what_it_is(typed: str | float, says: str):
    moment = moment_of(typed)
    assert isinstance(moment, NoMoment)
    assert says in moment.says
    assert bool(says) == bool(moment.repair) == moment.says.endswith(".")


def test_day_numbers_of_spreadsheets_pass_over_the_day_that_never_was():
    # Source: 1 January 1900 is day 1 and 1 January 2000 day 36,526 of the 1900 date system (ECMA-376 part 1, 18.17.4.1).
    from wearfit.records.sheets.dates import serial_moment

    def day(number: float) -> str:
        moment = serial_moment(number)
        assert isinstance(moment, Moment)
        return moment.day

    assert [day(1), day(59), day(61), day(36_526)] == ["1900-01-01", "1900-02-28", "1900-03-01", "2000-01-01"]
    assert isinstance(serial_moment(60), NoMoment)


@pytest.mark.parametrize(
    ("typed", "month"),
    [
        ("2024-03", "2024-03"), ("2024/3", "2024-03"), ("03/2024", "2024-03"), ("3.2024", "2024-03"), ("Mar 2024", "2024-03"),
        ("march-24", "2024-03"), ("2024 March", "2024-03"), ("202403", "2024-03"), (202403.0, "2024-03"),
        ("13/2024", ""), ("03/24", ""), ("2024", ""), (45351.0, ""), ("Mars 2024", ""),
    ],
)  # fmt: skip
def test_months(typed: str | float, month: str):
    assert month_of(typed) == month


def test_one_cell_decides_a_column_and_the_finding_shows_it():
    sheet = _events("03/04/2024", "2024-05-06", "31/12/2023")
    assert _dates(sheet) == ["2024-04-03", "2024-05-06", "2023-12-31"]
    (told,) = sheet.findings
    assert told.problem == "date is read as day/month/year, as 31/12/2023 in row 4 shows."
    assert (told.table, told.row, told.column, told.severity, told.source) == ("events", None, "date", "note", "events.csv")
    assert "[dates.events]" in told.repair
    assert _dates(_events("03/04/2024", "12/31/2023")) == ["2024-03-04", "2023-12-31"]


def test_where_nothing_decides_only_rows_that_differ_are_set_aside():
    sheet = _events("03/04/2024", "05/05/2024", "2024-05-06")
    assert _dates(sheet) == ["2024-05-05", "2024-05-06"]
    (told,) = sheet.findings
    assert (told.row, told.value, told.severity) == (2, "03/04/2024", "set_aside")
    assert "2024-04-03 or 2024-03-04" in told.problem
    assert "[dates.events]" in told.repair


def test_the_users_choice_holds_whatever_the_cells_say():
    choices = Choices(dates={"events": {"date": MDY}})
    sheet = _events("03/04/2024", "31/12/2023", choices=choices)
    assert _dates(sheet) == ["2024-03-04"]
    (told,) = sheet.findings
    assert "does not fit month/day/year" in told.problem
    assert told.row == 3


def test_the_order_that_most_cells_fit_holds_where_they_differ():
    sheet = _events("31/12/2023", "30/12/2023", "12/29/2023", "03/04/2024")
    assert _dates(sheet) == ["2023-12-31", "2023-12-30", "2024-04-03"]
    note, aside = sheet.findings
    assert "day/month/year, as 31/12/2023 in row 2 and most others show; 1 cell cannot be read so" in note.problem
    assert (aside.row, aside.severity) == (4, "set_aside")
    assert _dates(_events("31/12/2023", "12/29/2023", "03/04/2024", "05/05/2024")) == ["2024-05-05"]


def test_the_same_column_elsewhere_then_the_sheet_then_the_upload_decide():
    one_sheet = read_of(region_of("runs", [run("03/04/2024", "31/05/2024"), run("04/04/2024", "05/04/2024")]))
    assert [row.values["started_on"] for row in one_sheet.rows] == ["2024-04-03", "2024-04-04"]
    assert any(
        f.problem == "started_on is read as day/month/year, as ended_on is: 03/04/2024 in row 2 is 2024-04-03." for f in one_sheet.findings
    )

    years = [region_of("runs", [run(day, "2024-05-31")], source) for day, source in (("13/04/2024", "a.csv"), ("03/04/2024", "b.csv"))]
    assert read_of(*years).rows[1].values["started_on"] == "2024-04-03"
    assert any(
        f.problem == "started_on is read as day/month/year, as started_on in a.csv is: 03/04/2024 in row 2 is 2024-04-03."
        for f in read_of(*years).findings
    )

    upload = read_of(region_of("runs", [run("13/04/2024", "2024-05-31")]), region_of("events", [event("03/04/2024", "worn")]))
    assert upload.rows[1].values["date"] == "2024-04-03"

    at_odds = read_of(
        region_of("runs", [run("13/04/2024", "04/13/2024")]), region_of("events", [event("03/04/2024", "worn", due_on="03/04/2024")])
    )
    assert [f.row for f in about(at_odds.findings, "events", "date")] == [2]


def test_a_column_in_another_hand_decides_nothing():
    north = region_of("runs", [run("1/13/2020", "1/24/2020")], "north.csv")
    south = region_of("runs", [run("03.02.2020", "12.02.2020")], "south.csv")
    sheet = read_of(north, south)
    assert [row.source for row in sheet.rows] == ["north.csv"]
    assert [(f.row, f.column) for f in sheet.findings if f.source == "south.csv"] == [(2, "started_on"), (2, "ended_on")]


def test_a_choice_for_a_table_does_not_hold_for_a_sheet_whose_every_telling_date_says_otherwise():
    north = region_of("runs", [run("1/13/2020", "1/24/2020"), run("2/3/2020", "2/14/2020")], "north.csv")
    south = region_of("runs", [run("03.02.2020", "12.02.2020")], "south.csv")
    choices = Choices(dates={"runs": {"started_on": DMY, "ended_on": DMY}})
    days = {(row.source, row.values["started_on"], row.values["ended_on"]) for row in read_of(north, south, choices=choices).rows}
    assert days == {
        ("north.csv", "2020-01-13", "2020-01-24"), ("north.csv", "2020-02-03", "2020-02-14"), ("south.csv", "2020-02-03", "2020-02-12"),
    }  # fmt: skip


def test_years_of_two_digits_stand_last_unless_they_cannot():
    today = dt.date(2026, 11, 25)
    assert _dates(_events("03/04/24", "25/04/21", today=today)) == ["2024-04-03", "2021-04-25"]
    assert _dates(_events("24-03-31", "23-12-24", today=today)) == ["2024-03-31", "2023-12-24"]
    assert _dates(_events("99-12-31", "24-03-31")) == ["1999-12-31", "2024-03-31"]
    told = [f.problem for f in _events("25/04/99").findings]
    assert any("1969" in problem and "1999-04-25" in problem for problem in told)


def test_ways_that_are_no_iso_dates_are_told_once_a_column():
    sheet = _events("3-Mar-24", "4-Mar-2024", "45351", 45352.0, "20240331", "2024-03-05 14:30")
    assert _dates(sheet) == ["2024-03-03", "2024-03-04", "2024-02-29", "2024-03-01", "2024-03-31", "2024-03-05"]
    assert {f.severity for f in sheet.findings} == {"note"}
    assert any(
        "In 2 cells of date the month is in letters, such as '3-Mar-24' in row 2, read as 2024-03-03." in f.problem for f in sheet.findings
    )
    assert any("In 2 cells of date the day number of a spreadsheet stands" in f.problem for f in sheet.findings)
    assert any("time of day" in f.problem for f in sheet.findings)
    assert _events("2024-03-05 00:00:00").findings == ()


def test_weeks_months_and_lost_days_are_set_aside_with_what_was_read():
    sheet = _events("2024-W12", "March 2024", "31.11.2023", "1899-01-01", "soon", 12.0)
    assert sheet.rows == ()
    problems = [f.problem for f in sheet.findings]
    assert problems[0] == "date '2024-W12' is a week, and a day is needed."
    assert problems[1] == "date 'March 2024' is a month, and a day is needed."
    assert problems[2] == "date '31.11.2023' is not a day of the calendar."
    assert problems[3] == "date '1899-01-01' lies outside the years 1900 to 2100."
    assert problems[4] == "date 'soon' is not a date of the form 2024-03-31."
    assert [f.row for f in sheet.findings] == [2, 3, 4, 5, 6, 7]


def _months(*months: str | float) -> Sheet:
    rows = [{"plant_id": f"P{i}", "month": month, "temp_c": "5", "rh_pct": "80"} for i, month in enumerate(months)]
    return read_of(region_of("climate", rows))


def test_months_in_other_forms_and_first_days():
    sheet = _months("2024-03", "04/2024", "May 2024", "2024-06-01 00:00:00", 45474.0, "01.08.2024")
    assert [row.values["month"] for row in sheet.rows] == ["2024-03", "2024-04", "2024-05", "2024-06", "2024-07", "2024-08"]
    refused = _months("2024-03-02", "02.03.2024", "2024-13", "spring")
    assert refused.rows == ()
    assert "is a day, and a month is needed" in refused.findings[0].problem
    assert refused.findings[2].problem == "month '2024-13' is not a month of the calendar."


def _times(*times: str | float) -> Sheet:
    rows = [{"plant_id": f"P{i}", "timestamp": time, "temp_c": "5", "rh_pct": "80"} for i, time in enumerate(times)]
    return read_of(region_of("climate", rows))


def test_times_of_the_day():
    sheet = _times("2024-07-01T14:00", "2024-07-01", "13.07.2024 15:30", "07.07.2024 4:30:15 PM", 45474.25)
    assert [row.values["timestamp"] for row in sheet.rows] == [
        "2024-07-01T14:00:00", "2024-07-01T00:00:00", "2024-07-13T15:30:00", "2024-07-07T16:30:15", "2024-07-01T06:00:00",
    ]  # fmt: skip
    assert _times("2024-07-01").rows == ()
    (zone,) = _times("2024-07-01T14:00Z").findings
    assert "time zone" in zone.problem


def test_what_has_happened_cannot_lie_ahead_of_today():
    today = dt.date(2024, 6, 1)
    assert _dates(_events("2024-06-02", "2024-06-03", today=today)) == ["2024-06-02"]
    (told,) = _events("2024-06-03", today=today).findings
    assert told.problem == "date 2024-06-03 lies in the future: today is 2024-06-01."
    assert len(_events("2124-06-03").rows) == 0 and len(_events("2099-06-03").rows) == 1
    ordered = region_of("events", [event("2024-05-01", "order", due_on="2025-05-01")])
    assert read_of(ordered, today=today).findings == ()
    runs = region_of("runs", [run("2024-05-01", "2024-07-01"), run("2024-07-01", "2024-07-02")])
    assert [(f.row, f.column) for f in read_of(runs, today=today).findings] == [(2, "ended_on"), (3, "started_on")]


@checked
@given(st.lists(st.dates(dt.date(1970, 1, 1), dt.date(2068, 12, 31)), min_size=1), st.sampled_from(["%d.%m.%Y", "%m/%d/%Y", "%Y/%m/%d"]))
def test_a_column_is_read_right_or_not_at_all(days: list[dt.date], form: str):
    sheet = _events(*(day.strftime(form) for day in days))
    assert {row.row: row.values["date"] for row in sheet.rows}.items() <= {i: day.isoformat() for i, day in enumerate(days, 2)}.items()
    if any(day.day > 12 for day in days) or form == "%Y/%m/%d":
        assert len(sheet.rows) == len(days)


@checked
@given(st.text(max_size=30))
def test_no_text_breaks_the_reading_of_a_date(text: str):
    assert isinstance(moment_of(text), Moment | NoMoment)
    month_of(text)
