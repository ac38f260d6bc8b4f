"""The cells of an OpenDocument sheet: what they hold, and where that differs what they show."""

import datetime as dt
import re
from typing import Final

from wearfit.records.readers.book import moment_text, number_cell, span_text
from wearfit.records.readers.grid import Cell
from wearfit.records.readers.number_formats import Shown

# Source: OpenDocument 1.3 part 3, section 19.385 (value types), from memory.
OFFICE: Final = "urn:oasis:names:tc:opendocument:xmlns:office:1.0 "
VALUE_TYPE: Final = OFFICE + "value-type"
_ERROR_TYPE: Final = "urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0 value-type"

_NUMBERS = re.compile(r"\d+")
_DURATION = re.compile(r"(-?)P(?:(\d{1,6})D)?T?(?:(\d{1,8})H)?(?:(\d{1,8})M)?(?:(\d{1,8}(?:\.\d*)?)S)?")


def value_of(attributes: dict[str, str], text: str) -> Cell:
    """What a cell of a table holds.

    Parameters
    ----------
    attributes : dict of str to str
        Of its element.
    text : str
        What stands in it.
    """
    kind = attributes.get(VALUE_TYPE, "")
    if attributes.get(_ERROR_TYPE) == "error":
        return text
    if kind in ("float", "percentage", "currency"):
        return number_cell(float(attributes.get(OFFICE + "value", "nan")))
    if kind == "date":
        return _date_text(attributes.get(OFFICE + "date-value", text))
    if kind == "time":
        return _time_text(attributes.get(OFFICE + "time-value", text))
    if kind == "boolean":
        return "1" if attributes.get(OFFICE + "boolean-value") == "true" else "0"
    return attributes.get(OFFICE + "string-value", text)


def shown_as(attributes: dict[str, str], text: str) -> Shown | None:
    """What a cell is shown as, told by its kind, and for a date by the text that stands in it; parameters as of `value_of`."""
    kind = attributes.get(VALUE_TYPE, "")
    if kind == "percentage":
        return "percent"
    if kind != "date":
        return None
    year, month = (*attributes.get(OFFICE + "date-value", "").split("-"), "", "")[:2]
    numbers = _NUMBERS.findall(text)
    written = next((each for each in (year, year[-2:]) if each in numbers), None)
    if written is None:
        return None
    numbers.remove(written)
    months = [] if any(map(str.isalpha, text)) else [month]
    return "month" if [number.zfill(2) for number in numbers] == months else None


def _date_text(written: str) -> str:
    try:
        return moment_text(dt.datetime.fromisoformat(written))
    except ValueError:
        return written


def _time_text(written: str) -> str:
    found = _DURATION.fullmatch(written)
    if found is None:
        return written
    days, hours, minutes = (int(found[part] or 0) for part in (2, 3, 4))
    span = dt.timedelta(days, float(found[5] or 0), minutes=minutes, hours=hours)
    return span_text(-span if found[1] else span)
