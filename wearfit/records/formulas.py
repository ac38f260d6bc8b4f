"""Text that a spreadsheet would take for a formula: marked as text where it is written, the mark taken off where it is read."""

import re
from typing import Final

SIGNS: Final = ("=", "+", "-", "@", "\t", "\r")
_MARKED = re.compile(r"'+(?=[=+\-@\t\r])")


def kept_as_text(value: str) -> str:
    """Text that no spreadsheet takes for a formula: an apostrophe stands before what begins like one.

    Notes
    -----
    A CSV file cannot say that a cell is text. Spreadsheets evaluate a cell that begins with one of these signs, which can
    start a program or send data away. Source: common practice.
    """
    return f"'{value}" if value.startswith(SIGNS) else value


def unmarked(text: str) -> str:
    """The text that was marked so; any other text as it is."""
    return _MARKED.sub("", text, count=1) if text.startswith("'") and _MARKED.match(text) else text
