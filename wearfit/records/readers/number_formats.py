"""What the number formats of an XLSX workbook say of its cells: a share shown as a percentage, a day shown as a month."""

import re
from collections.abc import Iterable, Mapping
from typing import Final, Literal
from xml.parsers import expat

Shown = Literal["percent", "month"]

# Formats that every program knows without a code: 0 %, 0.00 %, mmm-yy. Source: ECMA-376 part 1, 18.8.30.
_BUILT_IN: Final[Mapping[str, Shown]] = {"9": "percent", "10": "percent", "17": "month"}
# Texts in quotes, signs that stand for themselves, colours and languages in brackets, blanks as wide as a sign.
_NOT_CODE: Final = re.compile(r'"[^"]*"|\\.|\[[^\]]*\]|[_*].')
_DAY_OR_CLOCK: Final = frozenset("dhs")


def shown_by(code: str) -> Shown | None:
    """What a number with the format is shown as, None for whatever needs no telling.

    Parameters
    ----------
    code : str
        Such as "0.0%" or "mmm-yy"; what it says of positive numbers counts.
    """
    letters = _NOT_CODE.sub("", code).partition(";")[0].casefold()
    if "%" in letters:
        return "percent"
    return "month" if {"m", "y"} <= set(letters) and _DAY_OR_CLOCK.isdisjoint(letters) else None


def styles_shown(pieces: Iterable[bytes]) -> dict[str, Shown]:
    """What the cells of each style are shown as, where that needs telling.

    Parameters
    ----------
    pieces : iterable of bytes
        The part that lists the styles, as it unpacks.

    Returns
    -------
    dict of str to Shown
        By the number with which cells name the style; empty where the part is not the XML of styles, for whether the workbook can
        be read without it is not decided here.
    """
    parser = expat.ParserCreate()
    codes: dict[str, Shown | None] = dict(_BUILT_IN)
    styles: dict[str, Shown] = {}
    within = ""
    count = 0

    def doctype(*_: object) -> None:
        raise ValueError("a document type")

    def start(element: str, attributes: dict[str, str]) -> None:
        nonlocal within, count
        name = element.rpartition(":")[2]
        if name in ("numFmts", "cellXfs"):
            within = name
        elif name == "numFmt" and within == "numFmts":
            codes[attributes.get("numFmtId", "")] = shown_by(attributes.get("formatCode", ""))
        elif name == "xf" and within == "cellXfs":
            if shown := codes.get(attributes.get("numFmtId", "")):
                styles[str(count)] = shown
            count += 1

    def end(element: str) -> None:
        nonlocal within
        if element.rpartition(":")[2] == within:
            within = ""

    parser.StartDoctypeDeclHandler = doctype
    parser.StartElementHandler, parser.EndElementHandler = start, end
    try:
        for piece in pieces:
            parser.Parse(piece, False)
        parser.Parse(b"", True)
    except (expat.ExpatError, ValueError):
        return {}
    return styles
