"""Which letters the page can print, and what stands for the others."""

import unicodedata
from functools import cache
from importlib.resources import files
from typing import Final

STANDS_FOR: Final = "\u25a1"  # an empty square, for a letter that the page's typeface lacks
_BLANK: Final = ("C", "Z")  # Unicode's general categories of what has no form: controls, direction marks, blanks, private use


def printable(text: str) -> str:
    """Text in one line as the page can print it: what has no form is a blank, a letter that its typeface lacks an empty square."""
    formed = "".join(" " if unicodedata.category(sign)[0] in _BLANK else sign for sign in unicodedata.normalize("NFC", text))
    return "".join(sign if ord(sign) in letters() else STANDS_FOR for sign in " ".join(formed.split()))


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
