"""Which letters the page can print, and what stands for the others."""

import unicodedata
from functools import cache
from importlib.resources import files
from itertools import groupby
from typing import Final

MOST_NUMBERS: Final = 12  # of letters in a row; a longer text would not leave room for the answer
_BLANK: Final = ("C", "Z")  # Unicode's general categories of what has no form: controls, direction marks, blanks, private use


def printable(text: str) -> str:
    """Text in one line as the page can print it: what has no form is a blank, letters that its typeface lacks are their numbers.

    Notes
    -----
    Two names that differ are printed differently, which squares in place of letters would not do.
    """
    formed = "".join(" " if unicodedata.category(sign)[0] in _BLANK else sign for sign in unicodedata.normalize("NFC", text))
    runs = groupby(" ".join(formed.split()), lambda sign: ord(sign) in letters())
    return "".join("".join(run) if there else _numbers([*run]) for there, run in runs)


def number(sign: str) -> str:
    """A letter by its number in Unicode, as the page prints it: 漢 is U+6F22."""
    return f"U+{ord(sign):04X}"


def _numbers(run: list[str]) -> str:
    more = len(run) - MOST_NUMBERS
    return f"‹{' '.join(map(number, run[:MOST_NUMBERS]))}{f' and {more} more' if more > 0 else ''}›"


def lacking(texts: tuple[str, ...]) -> tuple[str, ...]:
    """Letters among some texts that the page cannot print, in order of their numbers."""
    signs = {sign for text in texts for sign in unicodedata.normalize("NFC", text) if unicodedata.category(sign)[0] not in _BLANK}
    return tuple(sorted(sign for sign in signs if ord(sign) not in letters()))


@cache
def letters() -> frozenset[int]:
    """Code points that both weights of the page's typeface have: Latin, Greek, Cyrillic, Hebrew and signs.

    Notes
    -----
    The typeface comes with the typesetter, so that the page is the same on every machine. A test prints every one of these.
    """
    spans = (span.split("-") for span in files("wearfit.report").joinpath("letters.txt").read_text(encoding="ascii").split())
    return frozenset(point for first, *last in spans for point in range(int(first, 16), int((last or [first])[0], 16) + 1))
