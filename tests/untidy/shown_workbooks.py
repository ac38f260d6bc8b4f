"""Workbooks whose cells show something else than they hold, as `make_workbooks` writes them."""

import datetime as dt
import io
from collections.abc import Mapping, Sequence

import xlsxwriter

SAVED = dt.datetime(2025, 3, 14, 9, 30)
MONTH, PERCENT, DAY = "mmm-yy", "0%", "dd/mm/yyyy"

Shown = tuple[str | float | dt.date, str]  # what the cell holds and its number format
Rows = Sequence[Sequence[str | float | Shown | None]]

RUNS = ("tool_id", "plant_id", "resin_id", "started_on", "ended_on", "shots")
TOOLS = ("tool_id", "service_class", "cavities", "commissioned_on", "cycle_time_s")


def book_of(sheets: Mapping[str, Rows]) -> bytes:
    """A workbook with cells as they are given, the day of its making fixed."""
    made = io.BytesIO()
    with xlsxwriter.Workbook(made, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}) as book:
        book.set_properties({"created": SAVED})
        formats = {code: book.add_format({"num_format": code}) for code in (MONTH, PERCENT, DAY)}
        for name, rows in sheets.items():
            sheet = book.add_worksheet(name)
            for row, cells in enumerate(rows):
                for column, given in enumerate(cells):
                    cell, code = given if isinstance(given, tuple) else (given, "")
                    if isinstance(cell, dt.date):
                        sheet.write_datetime(row, column, cell, formats[code])
                    elif cell is not None:
                        sheet.write(row, column, cell, formats.get(code))
    return made.getvalue()


def on(text: str, code: str = DAY) -> Shown:
    """A real day of the workbook."""
    return dt.date.fromisoformat(text), code


def month(text: str) -> Shown:
    """A month as a spreadsheet keeps it: its first day."""
    return on(f"{text}-01", MONTH)


def half_converted() -> bytes:
    """A list written day first and opened where months come first: 03/04 became the fourth of March, 15/04 stayed a text."""
    return book_of(
        {
            "tools": [TOOLS, ["F1", 103, 1, on("2022-01-10"), 25], ["F2", 103, 1, on("2022-02-14"), 25]],
            "runs": [
                RUNS,
                ["F1", "brook", "pp-red", on("2023-03-04"), "14/04/2023", 30000],
                ["F1", "brook", "pp-red", "15/05/2023", "26/05/2023", 31000],
                ["F1", "brook", "pp-red", on("2023-05-06"), "16/06/2023", 30000],
                ["F2", "brook", "pp-red", "24/07/2023", on("2023-04-08"), 29000],
                ["F2", "brook", "pp-red", on("2023-02-10"), on("2023-12-10"), 24000],
            ],
            "events": [("tool_id", "date", "event"), ["F1", "18/09/2023", "service"]],
        }
    )


def percentages() -> bytes:
    """Shares that the workbook shows as percentages, beside percents typed as numbers and words."""
    return book_of(
        {
            "tools": [TOOLS, ["K1", 103, 2, on("2022-01-10"), 25]],
            "runs": [
                ("tool_id", "plant_id", "resin_id", "started_on", "ended_on", "parts", "scrap_parts"),
                ["K1", "brook", "pp-gf", on("2022-02-14"), on("2022-02-25"), 48500, (0.04, PERCENT)],
                ["K1", "brook", "pa-gf", on("2022-03-14"), on("2022-03-25"), 48500, 1500],
            ],
            "events": [
                ("tool_id", "date", "event", "renewed_share"),
                ["K1", on("2022-06-13"), "modify", (0.3, PERCENT)],
                ["K1", on("2022-08-15"), "modify", "20%"],
            ],
            "resins": [
                ("resin_id", "family", "filler_pct", "filler_kind"),
                ["pp-gf", "PP", (0.3, PERCENT), "GF"],
                ["pa-gf", "PA66", 35, "GF"],
                ["pp-t", "PP", "20%", "T"],
            ],
        }
    )


def months_as_days() -> bytes:
    """Months that the spreadsheet made days of: shown as months, typed as texts, and in a second list as days that are all the first."""
    return book_of(
        {
            "tools": [TOOLS, ["L1", 103, 2, on("2022-01-10"), 25], ["L2", 103, 2, on("2022-01-10"), 25]],
            "runs brook": [
                RUNS,
                ["L1", "brook", "pp-red", month("2023-03"), month("2023-05"), 90000],
                ["L1", "brook", "pp-red", month("2023-07"), month("2023-07"), 60000],
                ["L1", "brook", "pp-red", "Feb-24", "02/2024", 50000],
            ],
            "runs weir": [
                RUNS,
                ["L2", "weir", "pp-red", on("2023-01-01"), on("2023-01-01"), 61000],
                ["L2", "weir", "pp-red", on("2023-02-01"), on("2023-03-01"), 95000],
                ["L2", "weir", "pp-red", on("2023-06-01"), on("2023-06-01"), 59000],
            ],
            "events": [("tool_id", "date", "event"), ["L1", on("2023-09-18"), "service"]],
        }
    )
