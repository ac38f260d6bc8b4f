"""Makes the workbooks and archives of the cases, byte for byte: `uv run python tests/untidy/make_workbooks.py`.

The text files of the cases stand for themselves. What is written here is what a spreadsheet program would have saved.
"""

import datetime as dt
import io
import struct
import zipfile
import zlib
from collections.abc import Sequence
from pathlib import Path
from xml.sax.saxutils import escape

import shown_workbooks
import xlsxwriter
from xlsxwriter.worksheet import Worksheet

CASES = Path(__file__).parent
SAVED = dt.datetime(2025, 3, 14, 9, 30)
ZIPPED = (2025, 3, 14, 9, 30, 0)

Value = str | float | dt.date | None
Rows = Sequence[Sequence[Value]]


def main(cases: Path = CASES) -> None:
    """Write every workbook and archive under a folder."""
    for name, make in (
        ("01_printed_list/printed list.xlsx", printed_list),
        ("12_sheet_a_year/history.xlsx", sheet_a_year),
        ("13_one_sheet/everything.xlsx", one_sheet),
        ("28_zip_as_mailed/records for you.zip", zip_as_mailed),
        ("29_ods_padded/tools and runs.ods", ods_padded),
        ("30_shopping_list/shopping.xlsx", shopping_list),
        ("32_picture/photo.xlsx", picture),
        ("34_far_cell/far cell.xlsx", far_cell),
        ("35_workbook_types/types.xlsx", workbook_types),
        ("39_mixed_folder/records/runs 2020.xlsx", runs_of_2020),
        ("39_mixed_folder/records/runs 2021.csv", runs_of_2021),
        ("42_half_converted/list.xlsx", shown_workbooks.half_converted),
        ("44_percentages/shares.xlsx", shown_workbooks.percentages),
        ("45_months_as_days/months.xlsx", shown_workbooks.months_as_days),
    ):
        path = cases / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(make())


def day(text: str) -> dt.date:
    return dt.date.fromisoformat(text)


class Book:
    """A workbook in memory, the day of its making fixed."""

    def __init__(self) -> None:
        self.bytes = io.BytesIO()
        self.book = xlsxwriter.Workbook(self.bytes, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False})
        self.book.set_properties({"created": SAVED})
        self.dates = self.book.add_format({"num_format": "dd.mm.yyyy"})
        self.bold = self.book.add_format({"bold": True})

    def sheet(self, name: str) -> Worksheet:
        return self.book.add_worksheet(name)

    def write(self, sheet: Worksheet, rows: Rows, first_row: int = 0, first_column: int = 0) -> None:
        for row, cells in enumerate(rows, start=first_row):
            for column, cell in enumerate(cells, start=first_column):
                if isinstance(cell, dt.date):
                    sheet.write_datetime(row, column, cell, self.dates)
                elif isinstance(cell, str):
                    sheet.write_string(row, column, cell)
                elif cell is not None:
                    sheet.write_number(row, column, cell)

    def done(self) -> bytes:
        self.book.close()
        return self.bytes.getvalue()


def printed_list() -> bytes:
    """Sheets as they are printed: a title, a header in two rows with merged cells, subtotals and a signature."""
    book = Book()
    tools = book.sheet("Tool register")
    tools.merge_range(0, 0, 0, 5, "Tool register of the moulding shop", book.bold)
    book.write(tools, [["Printed on 14.03.2025"]], 1)
    book.write(
        tools,
        [
            ["Tool No.", "Class", "Cav.", "Commissioned on", "Toolmaker", "Cycle time (s)"],
            ["P-11", 103, 4, day("2021-01-11"), "shop blue", 25],
            ["P-12", 103, 2, day("2021-02-08"), "shop blue", 31],
            ["P-13", 102, 8, day("2021-03-08"), "shop red", 19],
            ["P-14", 104, 1, day("2022-05-02"), "shop red", 44],
            [],
            ["4 tools in all"],
            ["Prepared by the tool room"],
        ],
        3,
    )
    runs = book.sheet("Production log")
    runs.merge_range(0, 0, 0, 5, "Production log 2021 and 2022", book.bold)
    for column, name in ((0, "Tool No."), (1, "Site"), (2, "Material"), (5, "Strokes")):
        runs.merge_range(2, column, 3, column, name, book.bold)
    runs.merge_range(2, 3, 2, 4, "Run", book.bold)
    book.write(runs, [["from", "to"]], 3, 3)
    book.write(
        runs,
        [
            ["P-11", "yard", "PP natural", day("2021-01-18"), day("2021-01-29"), 30000],
            ["P-11", "yard", "PP natural", day("2021-06-07"), day("2021-06-18"), 31000],
            ["P-12", "yard", "ABS grey", day("2021-02-15"), day("2021-02-26"), 24000],
            ["P-13", "annex", "PP natural", day("2021-03-15"), day("2021-03-26"), 42000],
            ["Subtotal 2021", None, None, None, None, 127000],
            ["P-11", "annex", "PP natural", day("2022-01-17"), day("2022-01-28"), 30500],
            ["P-13", "annex", "PP natural", day("2022-03-14"), day("2022-03-25"), 41000],
            ["P-14", "annex", "ABS grey", day("2022-05-09"), day("2022-05-13"), 7500],
            ["Subtotal 2022", None, None, None, None, 79000],
            ["Total", None, None, None, None, 206000],
        ],
        4,
    )
    runs.write_string(16, 0, "Dry strokes are not counted.")
    repairs = book.sheet("Repairs")
    book.write(
        repairs,
        [
            ["Tool No.", "Date", "Event", "Cause", "Cost"],
            ["P-11", day("2021-08-02"), "refurbish", "wear", 3200],
            ["P-13", day("2021-11-08"), "service", None, 150],
            [None, None, None, "Total", 3350],
        ],
    )
    return book.done()


RUN_HEADER = ("tool_id", "plant_id", "resin_id", "started_on", "ended_on", "shots")


def sheet_a_year() -> bytes:
    """A sheet of runs a year, an old one hidden, and a chart's notes that are no table."""
    book = Book()
    book.write(
        book.sheet("Moulds"),
        [
            ["tool_id", "service_class", "commissioned_on", "cycle_time_s"],
            [104, 103, day("2022-01-10"), 25],
            [105, 103, day("2022-02-07"), 25],
            [106, 102, day("2023-03-06"), 30],
        ],
    )
    of_years: dict[str, Rows] = {
        "Runs 2022": [
            [104, "loft", "pp-red", day("2022-01-17"), day("2022-01-28"), 20000],
            [104, "loft", "pp-red", day("2022-09-05"), day("2022-09-16"), 21000],
            [105, "loft", "pp-red", day("2022-02-14"), day("2022-02-25"), 22000],
        ],
        "Runs 2023": [
            [104, "loft", "pp-red", day("2023-01-16"), day("2023-01-27"), 23000],
            [106, "loft", "pp-red", day("2023-03-13"), day("2023-03-24"), 24000],
        ],
        "2024 runs": [
            [105, "loft", "pp-red", day("2024-02-12"), day("2024-02-23"), 25000],
            [106, "loft", "pp-red", day("2024-06-10"), day("2024-06-21"), 26000],
            [106, "loft", "pp-red", day("2024-06-10"), day("2024-06-21"), 26000],
        ],
    }
    for name, rows in of_years.items():
        book.write(book.sheet(name), [RUN_HEADER, *rows])
    old = book.sheet("runs 2022 old")
    book.write(old, [RUN_HEADER, [104, "loft", "pp-red", day("2022-03-07"), day("2022-03-18"), 900000]])
    old.hide()
    book.write(
        book.sheet("Events"),
        [["tool_id", "date", "event", "cause"], [104, day("2022-10-03"), "refurbish", "wear"], [105, day("2023-04-03"), "service"]],
    )
    book.write(book.sheet("To do"), [["ask the annex for its counters"], ["new labels for the racks"]])
    return book.done()


def one_sheet() -> bytes:
    """Everything on one sheet: tools with plants beside them, runs below, events at the foot."""
    book = Book()
    sheet = book.sheet("Sheet1")
    book.write(
        sheet,
        [
            ["tool_id", "service_class", "commissioned_on", "cycle_time_s", None, None, None, "plant_id", "coolant_temp_c"],
            ["H1", 103, day("2021-01-11"), 25, None, None, None, "porch", 14],
            ["H2", 102, day("2021-02-08"), 31, None, None, None, "lean-to", 11],
            ["H3", 103, day("2021-03-08"), 28],
        ],
    )
    book.write(
        sheet,
        [
            RUN_HEADER,
            ["H1", "porch", "pp-red", day("2021-01-18"), day("2021-01-29"), 30000],
            ["H1", "lean-to", "pp-red", day("2021-06-07"), day("2021-06-18"), 31000],
            ["H2", "porch", "pp-red", day("2021-02-15"), day("2021-02-26"), 24000],
            ["H3", "lean-to", "pp-red", day("2021-03-15"), day("2021-03-26"), 27000],
        ],
        6,
    )
    book.write(
        sheet,
        [["tool_id", "date", "event", "cause"], ["H1", day("2021-08-02"), "refurbish", "wear"], ["H3", day("2021-11-08"), "service"]],
        13,
    )
    return book.done()


TOOLS_CSV = "tool_id,service_class,commissioned_on,cycle_time_s\nN1,103,2020-01-06,25\nN2,103,2020-02-03,25\n"
RUNS_CSV = (
    "tool_id,plant_id,resin_id,started_on,ended_on,shots\n"
    "N1,wharf,pp-red,2020-01-13,2020-01-24,30000\nN1,wharf,pp-red,2020-06-08,2020-06-19,31000\nN2,wharf,pp-red,2020-02-10,2020-02-21,29000\n"
)
EVENTS_CSV = "tool_id,date,event,cause\nN1,2020-09-07,service,\n"


def zip_of(members: Sequence[tuple[str, bytes]]) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members:
            entry = zipfile.ZipInfo(name, ZIPPED)
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, content)
    return made.getvalue()


def zip_as_mailed() -> bytes:
    """A folder zipped on a desktop, with what the desktop leaves in it and an older archive inside."""
    older = zip_of([("tools.csv", b"tool_id,commissioned_on\nOLD,2001-01-01\n")])
    return zip_of(
        [
            ("records for you/", b""),
            ("records for you/tools.csv", TOOLS_CSV.encode()),
            ("records for you/runs.csv", RUNS_CSV.encode()),
            ("records for you/events.csv", EVENTS_CSV.encode()),
            ("records for you/.DS_Store", b"\0\0\0\1Bud1"),
            ("records for you/Thumbs.db", b"\xd0\xcf\x11\xe0"),
            ("records for you/~$runs.xlsx", b"\x05owner"),
            ("records for you/last year.zip", older),
            ("__MACOSX/records for you/._runs.csv", b"\0\5\x16\7"),
        ]
    )


ODS_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?><office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" '
    'office:version="1.3"><office:body><office:spreadsheet>'
)
ODS_FOOT = "</office:spreadsheet></office:body></office:document-content>"
ODS_WIDTH = 1024
ODS_HEIGHT = 1_048_576


def ods_cell(value: Value) -> str:
    if value is None:
        return "<table:table-cell/>"
    if isinstance(value, dt.date):
        shown = f"<text:p>{value:%d.%m.%Y}</text:p>"
        return f'<table:table-cell office:value-type="date" office:date-value="{value}">{shown}</table:table-cell>'
    if isinstance(value, str):
        return f'<table:table-cell office:value-type="string"><text:p>{escape(value)}</text:p></table:table-cell>'
    return f'<table:table-cell office:value-type="float" office:value="{value}"><text:p>{value}</text:p></table:table-cell>'


def ods_sheet(name: str, rows: Rows) -> str:
    """A sheet padded to its full width and height with repeated blank cells, as spreadsheet programs save it."""
    lines = [
        f'<table:table-row>{"".join(map(ods_cell, cells))}<table:table-cell table:number-columns-repeated="{ODS_WIDTH - len(cells)}"/>'
        "</table:table-row>"
        for cells in rows
    ]
    blank = f'<table:table-cell table:number-columns-repeated="{ODS_WIDTH}"/>'
    lines.append(f'<table:table-row table:number-rows-repeated="{ODS_HEIGHT - len(rows)}">{blank}</table:table-row>')
    return f'<table:table table:name="{escape(name)}">{"".join(lines)}</table:table>'


def ods_of(sheets: Sequence[tuple[str, Rows]]) -> bytes:
    content = ODS_HEAD + "".join(ods_sheet(name, rows) for name, rows in sheets) + ODS_FOOT
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    manifest = (
        '<?xml version="1.0" encoding="UTF-8"?><manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0" '
        f'manifest:version="1.3"><manifest:file-entry manifest:full-path="/" manifest:media-type="{kind}"/>'
        '<manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/></manifest:manifest>'
    )
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        archive.writestr(zipfile.ZipInfo("mimetype", ZIPPED), kind)
        for name, text in (("content.xml", content), ("META-INF/manifest.xml", manifest)):
            entry = zipfile.ZipInfo(name, ZIPPED)
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, text)
    return made.getvalue()


def ods_padded() -> bytes:
    return ods_of(
        [
            (
                "tools",
                [
                    ["tool_id", "service_class", "commissioned_on", "cycle_time_s"],
                    ["J1", 103, day("2020-01-06"), 25],
                    ["J2", 102, day("2020-02-03"), 25],
                ],
            ),
            (
                "runs",
                [
                    RUN_HEADER,
                    ["J1", "cliff top", "pp-red", day("2020-01-13"), day("2020-01-24"), 30000],
                    ["J1", "cliff top", "pp-red", day("2020-06-08"), day("2020-06-19"), 31000],
                    [],
                    ["J2", "cliff top", "pp-red", day("2020-02-10"), day("2020-02-21"), 29000],
                    ["J2", "cliff top", "pp-red", day("2020-08-03"), day("2020-08-14"), "about as many"],
                ],
            ),
            ("events", [["tool_id", "date", "event", "cause"], ["J1", day("2020-09-07"), "service"]]),
        ]
    )


def shopping_list() -> bytes:
    book = Book()
    book.write(
        book.sheet("Saturday"),
        [
            ["What", "How many", "Where", "Price"],
            ["flour", 2, "market", 1.8],
            ["eggs", 12, "farm", 3.6],
            ["candles", 4, "market", 5.2],
            ["Total", None, None, 10.6],
        ],
    )
    book.write(book.sheet("Guests"), [["Name", "Comes on"], ["aunt", day("2025-04-19")], ["neighbour", day("2025-04-20")]])
    return book.done()


def picture() -> bytes:
    """A grey picture of two by two dots, in the Portable Network Graphics format."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    head = struct.pack(">IIBBBBB", 2, 2, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0\x80\x80\0\x80\x80")) + chunk(b"IEND", b"")


def far_cell() -> bytes:
    """A small file with one cell in the last row and column that a sheet can have."""
    book = Book()
    sheet = book.sheet("runs")
    book.write(sheet, [RUN_HEADER])
    sheet.write_string(1_048_575, 16_383, "x")
    return book.done()


def workbook_types() -> bytes:
    """Numbers as text, numbers for words, an error, a percentage, dates with and without the form of a date."""
    book = Book()
    percent = book.book.add_format({"num_format": "0%"})
    times = book.book.add_format({"num_format": "yyyy-mm-dd hh:mm"})
    book.write(
        book.sheet("tools"),
        [
            ["tool_id", "service_class", "cavities", "commissioned_on", "cycle_time_s", "replacement_cost"],
            [201, 103, 4, day("2022-01-10"), "24.5", 31000],
            ["202", "103", 2, "2022-02-07", 30, 28000.5],
            [203, 104, 1, day("2022-03-07"), 41, None],
        ],
    )
    runs = book.sheet("runs")
    book.write(
        runs,
        [
            RUN_HEADER,
            [201, "crypt", "pp-red", day("2022-01-17"), day("2022-01-28"), 30000],
            ["201", "crypt", "pp-red", day("2022-06-06"), day("2022-06-17"), "31000"],
            [202, "crypt", "pp-red", day("2022-02-14"), day("2022-02-25"), None],
            [202, "crypt", "pp-red", 44713, 44724, 26000],
            [203, "crypt", "pp-red", None, None, 7600],
        ],
    )
    runs.write_formula(3, 5, "=1/0", value="#DIV/0!")
    runs.write_datetime(5, 3, dt.datetime(2022, 3, 14, 6, 0), times)
    runs.write_datetime(5, 4, dt.datetime(2022, 3, 18, 22, 0), times)
    book.write(book.sheet("events"), [["tool_id", "date", "event", "cause"], [203, day("2022-04-04"), "service"]])
    climate = book.sheet("climate")
    book.write(climate, [["plant_id", "month", "temp_c", "rh_pct"]])
    for month, (temp, share) in enumerate(((3.5, 0.88), (4.0, 0.84), (6.5, 0.79), (9.0, 0.73)), start=1):
        book.write(climate, [["crypt", dt.date(2022, month, 1), temp]], month)
        climate.write_number(month, 3, share, percent)
    return book.done()


def runs_of_2020() -> bytes:
    """Runs of one year, the zeros in front of a tool's number lost as numbers lose them."""
    book = Book()
    rows: Rows = [
        [7, "jetty", "pp-red", day("2020-01-13"), day("2020-01-24"), 20000],
        [8, "jetty", "pp-red", day("2020-02-10"), day("2020-02-21"), 21000],
    ]
    book.write(book.sheet("runs"), [RUN_HEADER, *rows])
    return book.done()


def runs_of_2021() -> bytes:
    """Runs of the next year in a workbook that was given the ending of a text file."""
    book = Book()
    book.write(book.sheet("Sheet1"), [RUN_HEADER, [8, "jetty", "pp-red", day("2021-02-08"), day("2021-02-19"), 22000]])
    return book.done()


if __name__ == "__main__":
    main()
