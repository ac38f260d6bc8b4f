"""The template: a workbook with a sheet for each record table, every column explained, and an example to be deleted."""

import datetime as dt
import io
from collections.abc import Iterator
from typing import Final

from xlsxwriter.utility import xl_range  # type: ignore[import-untyped]
from xlsxwriter.workbook import Format, Workbook, Worksheet  # type: ignore[import-untyped]

from wearfit.records.columns import Column, Kind, Table
from wearfit.records.tables import TABLES
from wearfit.records.template_examples import EXAMPLES, Value
from wearfit.records.template_names import EXAMPLE, TEMPLATE_ABOUT

CAUTION: Final = (
    "This is a planning aid. It does not replace inspection by a competent person, the tool and machine makers' instructions, local codes "
    "and regulations, or licensed professional judgement; where they differ, they govern. Do not release product, lift, store, open or "
    "repair a tool on the strength of these numbers alone."
)

HOW_TO: Final = (
    "Each of the other sheets is one table, and each of its rows one tool, one run, one event and so on.",
    "Only the sheets tools, runs and events must be filled in; each of the others sharpens the answer. A fleet that has had no event yet "
    "keeps the sheet events with its header alone.",
    f"The grey rows are an example. Delete the example rows, whose names begin with {EXAMPLE}, before you hand over your own.",
    "Keep the header row as it is. What stands under a header in bold on a dark ground must be filled in in every row; where its note says "
    "'this or', one of those must be. Everything else may stay blank. Point at a header to read what it means.",
    "You may add columns of your own at the right; they are kept but not used. The other sheets, and columns that may stay blank, may be "
    "deleted.",
    "A tool is one set of cavities that wears as one. Where a base takes several insert sets, give each set a row of its own in tools, "
    "such as BASE-7/A and BASE-7/B, and write its own runs, renewals and shots under that name: each then has a clock of its own. Sets for "
    "the same part share a design_id and learn from each other, and so what the base does to all of them; sets for other parts keep their "
    "own design_id, by which the plan is made.",
    "Where cavities are renewed or wear one by one and somebody keeps their histories apart, do the same with each cavity. Where nobody "
    "does, a renewal of some of the cavities is a modify with renewed_share, and the tool's age an average over them.",
    "A set that was written under the number of its base before goes into aliases: the base is old_tool_id, the set that was in it "
    "tool_id, and since the first day of the new name. A new set in place of a worn one is a retool of the tool, not a new tool.",
    "Save the workbook, then run `wearfit check FILE.xlsx` to see what would be noticed, and `wearfit recalibrate FILE.xlsx` to use it. "
    "The same workbook, grown by new rows, can be handed over again and again.",
)

KINDS: Final[dict[Kind, str]] = {
    "text": "text",
    "date": "day, such as 2024-03-31",
    "month": "month, such as 2024-03",
    "timestamp": "day and time, such as 2024-03-31 14:00",
    "number": "number",
    "count": "whole number",
    "flag": "1 for yes, 0 for no",
    "choice": "one of a list",
    "value": "number, or < and a number",
}

_MADE: Final = dt.datetime(2026, 1, 1)  # the same bytes every time, so that two copies can be compared
_LAST_ROW: Final = 1_048_575  # of a sheet, counted from 0; ECMA-376, as spreadsheets keep to it
_NUMBER_FORMATS: Final[dict[Kind, str]] = {
    "text": "@", "choice": "@", "month": "@", "date": "yyyy-mm-dd", "timestamp": "yyyy-mm-dd hh:mm",
}  # fmt: skip
_DARK, _LIGHT, _GREY = "#1F3A4D", "#DCE6EC", "#6B6B6B"


def template() -> bytes:
    """The template as an XLSX workbook; the same bytes every time."""
    content = io.BytesIO()
    # A name that begins with "=" is a name, and an address no link.
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    workbook = Workbook(content, options)
    workbook.set_properties({"title": "Records of injection moulds", "created": _MADE})
    _write_about(workbook)
    for table in TABLES.values():
        _write_table(workbook, table)
    workbook.close()
    return content.getvalue()


def _write_about(workbook: Workbook) -> None:
    sheet = workbook.add_worksheet(TEMPLATE_ABOUT)
    title = workbook.add_format({"bold": True, "font_size": 14})
    text = workbook.add_format({"text_wrap": True, "valign": "top"})
    bold = workbook.add_format({"bold": True, "text_wrap": True, "valign": "top"})
    header = workbook.add_format({"bold": True, "font_color": "white", "bg_color": _DARK})
    section = workbook.add_format({"bold": True, "bg_color": _LIGHT, "text_wrap": True, "valign": "top"})
    heads = (("Column", 20), ("Must be filled in", 17), ("Holds", 24), ("Unit", 16), ("Meaning", 64), ("Where it is blank", 34))
    last = len(heads) - 1
    for place, (_, width) in enumerate(heads):
        sheet.set_column(place, place, width)
    sheet.write_string(0, 0, "Records of injection moulds: how to fill in this workbook", title)
    at = 2
    for sentence in HOW_TO:
        sheet.merge_range(at, 0, at, last, sentence, text)
        sheet.set_row(at, 15 * (1 + len(sentence) // 165))
        at += 1
    sheet.merge_range(at + 1, 0, at + 1, last, CAUTION, bold)
    sheet.set_row(at + 1, 32)
    at += 3
    for place, (head, _) in enumerate(heads):
        sheet.write_string(at, place, head, header)
    for table in TABLES.values():
        at += 1
        required = "Must be handed over. " if table.required else ""
        sheet.merge_range(at, 0, at, last, f"Sheet {table.name}: {required}{table.meaning}", section)
        for column in table.columns:
            at += 1
            cells = (column.name, _needed(table, column), KINDS[column.kind], column.unit, _meaning(column), _blank(table, column))
            for place, cell in enumerate(cells):
                sheet.write_string(at, place, cell, text)
            sheet.set_row(at, 15 * max(1 + len(cells[4]) // 62, 1 + len(cells[5]) // 32, 1 + len(cells[1]) // 16))
    sheet.hide_gridlines(2)
    sheet.set_landscape()
    sheet.set_paper(9)  # A4
    sheet.fit_to_pages(1, 0)


def _write_table(workbook: Workbook, table: Table) -> None:
    sheet = workbook.add_worksheet(table.name)
    required = workbook.add_format({"bold": True, "font_color": "white", "bg_color": _DARK, "border": 1})
    optional = workbook.add_format({"bg_color": _LIGHT, "border": 1})
    rows = EXAMPLES[table.name]
    for place, column in enumerate(table.columns):
        plain = {"num_format": _NUMBER_FORMATS.get(column.kind, "General")}
        widest = max([len(column.name) + 3, *(len(str(row.get(column.name, ""))) + 1 for row in rows)])
        sheet.set_column(place, place, min(max(12, widest), 32), workbook.add_format(plain))
        sheet.write_string(0, place, column.name, required if column.required else optional)
        _write_note(sheet, place, _note(table, column))
        _limit(sheet, place, column)
        grey = workbook.add_format({**plain, "font_color": _GREY, "italic": True})
        for at, row in enumerate(rows, start=1):
            if column.name in row:
                _write(sheet, at, place, row[column.name], grey)
    sheet.ignore_errors({"number_stored_as_text": xl_range(1, 0, _LAST_ROW, len(table.columns) - 1)})
    sheet.freeze_panes(1, 0)
    if table.required:
        sheet.set_tab_color(_DARK)


def _write(sheet: Worksheet, row: int, place: int, value: Value, form: Format) -> None:
    if isinstance(value, str):
        sheet.write_string(row, place, value, form)
    elif isinstance(value, dt.date):
        sheet.write_datetime(row, place, value, form)
    else:
        sheet.write_number(row, place, value, form)


def _write_note(sheet: Worksheet, place: int, note: str) -> None:
    lines = sum(1 + len(line) // 42 for line in note.splitlines())
    sheet.write_comment(0, place, note, {"width": 300, "height": 16 * lines + 12, "font_size": 9})


def _limit(sheet: Worksheet, place: int, column: Column) -> None:
    """A list to choose from, where a cell can hold but a few words."""
    words = column.choices or (("0", "1") if column.kind == "flag" else ())
    if words:
        said = f"{column.name} holds one of these words: {', '.join(words)}."
        options = {
            "validate": "list", "source": list(words), "error_title": "Not in the list", "error_message": said[:255], "ignore_blank": True,
        }  # fmt: skip
        sheet.data_validation(1, place, _LAST_ROW, place, options)


def _note(table: Table, column: Column) -> str:
    return "\n".join(line for line in _lines(table, column) if line)


def _lines(table: Table, column: Column) -> Iterator[str]:
    yield column.meaning
    if column.choices:
        yield f"One of: {', '.join(column.choices)}."
    else:
        yield f"Holds: {KINDS[column.kind]}." + (f" Unit: {column.unit}." if column.unit else "")
    others = _others(table, column)
    if column.required:
        yield "Must be filled in."
    elif others:
        yield f"Fill in this or {others}."
    else:
        yield _blank(table, column)


def _meaning(column: Column) -> str:
    return f"{column.meaning} One of: {', '.join(column.choices)}." if column.choices else column.meaning


def _others(table: Table, column: Column) -> str:
    """The columns of which one stands in for this one where it is blank."""
    return " or ".join(name for group in table.one_of if column.name in group for name in group if name != column.name)


def _needed(table: Table, column: Column) -> str:
    if column.required:
        return "yes"
    others = _others(table, column)
    return f"this or {others}" if others else "no"


def _blank(table: Table, column: Column) -> str:
    """What a blank cell means, "" where there may be none or the meaning says it."""
    if column.required or _others(table, column) or "blank" in column.meaning.casefold():
        return ""
    return f"Blank means {column.default}." if column.default else "May stay blank."
