"""What a workbook shows counts where it is what the column wants: percentages as percent, months as months."""

import datetime as dt

import pytest
import xlsxwriter
from fleets import about, read_of
from grids import AS_IT_STANDS
from handed_books import ods_of_xml, xlsx_made

from wearfit.records.readers.grid import Grid
from wearfit.records.readers.number_formats import shown_by, styles_shown
from wearfit.records.readers.workbook import grids_of_workbook
from wearfit.records.sheets.locate import locate
from wearfit.records.sheets.sheet import Sheet


@pytest.mark.parametrize(
    ("code", "shown"),
    [
        ("0%", "percent"), ("0.00%;[Red]-0.00%", "percent"), ("0.0 %", "percent"), ('0"%"', None), (r"0\%", None), ("0.00", None),
        ("mmm-yy", "month"), (r"[$-409]mmm\-yy;@", "month"), ("mmmm yyyy", "month"), ("mm/yyyy", "month"), ("yyyy-mm", "month"),
        ("dd.mm.yyyy", None), ("m/d/yy h:mm", None), ("mm:ss", None), ('yyyy"d"mm', "month"), ("General", None),
    ],
)  # fmt: skip
def test_formats(code: str, shown: str | None):
    assert shown_by(code) == shown


def test_styles_that_cannot_be_read_say_nothing():
    for part in (b"", b"<styleSheet>", b"not a part", b'<!DOCTYPE s [<!ENTITY a "b">]><s/>'):
        assert styles_shown([part]) == {}


def _xlsx() -> bytes:
    def fill(book: xlsxwriter.Workbook) -> None:
        percent, month = book.add_format({"num_format": "0.0%"}), book.add_format({"num_format": "mmm-yy"})
        resins = book.add_worksheet("resins")
        resins.write_row(0, 0, ["resin_id", "family", "filler_pct", "of no use"])
        for row, share in enumerate((0.3, 0.07, 30, 0.125), start=1):
            resins.write_row(row, 0, [f"R{row}", "PP"])
            resins.write_number(row, 2, share, percent)
            resins.write_number(row, 3, 0.5, percent)
        resins.write_row(5, 0, ["R5", "PP", 20])
        resins.write_blank(5, 3, None, percent)
        runs = book.add_worksheet("runs")
        runs.write_row(0, 0, ["tool_id", "plant_id", "resin_id", "started_on", "ended_on", "shots", "scrap_parts"])
        for row in (1, 2):
            runs.write_row(row, 0, ["T1", "Heath", "R1"])
            runs.write_datetime(row, 3, dt.datetime(2024, row, 1), month)
            runs.write_datetime(row, 4, dt.datetime(2024, row + 1, 1), month)
            runs.write_number(row, 5, 900)
        runs.write_number(1, 6, 0.04, percent)
        runs.write_number(2, 6, 40, percent)

    return xlsx_made(fill)


def _ods_cell(kind: str, value: str, text: str) -> str:
    name = {"date": "date-value"}.get(kind, "value")
    return f'<table:table-cell office:value-type="{kind}" office:{name}="{value}"><text:p>{text}</text:p></table:table-cell>'


def _ods() -> bytes:
    def words(*texts: str) -> str:
        return "".join(f'<table:table-cell office:value-type="string"><text:p>{text}</text:p></table:table-cell>' for text in texts)

    def table(name: str, *rows: str) -> str:
        return (
            f'<table:table table:name="{name}">' + "".join(f"<table:table-row>{row}</table:table-row>" for row in rows) + "</table:table>"
        )

    shares = ((0.3, "30 %"), (0.07, "7 %"), (30, "3000 %"), (0.125, "12.5 %"))
    resins = [
        words(f"R{at}", "PP") + _ods_cell("percentage", str(share), text) + _ods_cell("percentage", "0.5", "50 %")
        for at, (share, text) in enumerate(shares, start=1)
    ]
    scrap = ((0.04, "4 %"), (40, "4000 %"))
    months = []
    for month, name, (share, text) in zip((1, 2), ("Jan 24", "Feb 24"), scrap, strict=True):
        start = _ods_cell("date", f"2024-{month:02d}-01", name)
        end = _ods_cell("date", f"2024-{month + 1:02d}-01", f"{month + 1:02d}/24")
        counts = _ods_cell("float", "900", "900") + _ods_cell("percentage", str(share), text)
        months.append(words("T1", "Heath", "R1") + start + end + counts)
    return ods_of_xml(
        table("resins", words("resin_id", "family", "filler_pct", "of no use"), *resins, words("R5", "PP") + _ods_cell("float", "20", "20"))
        + table("runs", words("tool_id", "plant_id", "resin_id", "started_on", "ended_on", "shots", "scrap_parts"), *months)
    )


def _grids(form: str) -> tuple[Grid, ...]:
    if form == "xlsx":
        return grids_of_workbook("h.xlsx", _xlsx(), "workbook")[0]
    return grids_of_workbook("h.ods", _ods(), "open document")[0]


def _sheet(form: str, today: dt.date | None = None) -> Sheet:
    regions, _ = locate(_grids(form), AS_IT_STANDS)
    return read_of(*regions, today=today)


FORMS = pytest.mark.parametrize("form", ["xlsx", "ods"])


@FORMS
def test_the_reader_keeps_what_is_shown_in_stretches(form: str):
    resins, runs = _grids(form)
    assert resins.percents == ((2, 1, 4), (3, 1, 4)) and resins.months == ()
    assert runs.percents == ((6, 1, 2),) and runs.months == ((3, 1, 2), (4, 1, 2))
    assert resins.cells[1][2] == 0.3 and runs.cells[1][3] == "2024-01-01"


@FORMS
def test_percentages_are_percent(form: str):
    sheet = _sheet(form)
    resins = [row.values for row in sheet.rows if row.table == "resins"]
    assert [values["filler_pct"] for values in resins] == ["30", "7", "30", "12.5", "20"]
    assert resins[0]["of no use"] == "0.5"
    (told,) = about(sheet.findings, "resins", "filler_pct")
    assert told.problem == ("In 3 cells of filler_pct the workbook shows a percentage, such as 30 % in row 2, which holds 0.3; read as 30.")
    assert told.severity == "note"


@FORMS
def test_a_share_of_things_that_are_counted_is_no_number_of_them(form: str):
    sheet = _sheet(form)
    assert [row.values.get("scrap_parts") for row in sheet.rows if row.table == "runs"] == [None, "40"]
    (told,) = about(sheet.findings, "runs", "scrap_parts")
    assert (told.severity, told.value) == ("repaired", "0.04") and "such as 4 % in row 2" in told.problem


@FORMS
def test_months_shown_without_their_days_are_whole_months(form: str):
    days = [(row.values["started_on"], row.values["ended_on"]) for row in _sheet(form).rows if row.table == "runs"]
    assert days == [("2024-01-01", "2024-02-29"), ("2024-02-01", "2024-03-31")]


def test_a_month_that_is_not_over_ends_today():
    sheet = _sheet("xlsx", today=dt.date(2024, 3, 12))
    assert [row.values["ended_on"] for row in sheet.rows if row.table == "runs"] == ["2024-02-29", "2024-03-12"]


def test_a_format_that_only_hides_the_days_changes_none():
    header = ["tool_id", "plant_id", "resin_id", "started_on", "ended_on", "shots"]
    rows = [["T1", "Heath", "R1", "2024-03-01", "2024-04-01", 5.0], ["T1", "Heath", "R1", "2024-04-02", "2024-05-17", 5.0]]
    grid = Grid("b.xlsx, sheet runs", "runs", [header, *rows], months=((3, 1, 2), (4, 1, 2)))
    (region,), _ = locate([grid], AS_IT_STANDS)
    assert [row.values["ended_on"] for row in read_of(region).rows] == ["2024-04-01", "2024-05-17"]
