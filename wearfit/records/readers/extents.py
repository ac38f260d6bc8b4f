"""How far the filled cells of an XLSX sheet reach, and what the library that reads them would drop: told from the sheet's XML."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from xml.parsers import expat

from wearfit.records.readers.number_formats import Shown

_ADDRESS = re.compile(r"([A-Za-z]{1,7})([0-9]{1,9})")


@dataclass
class Extent:
    """What is filled of a sheet, told while its XML goes by.

    Parameters
    ----------
    first_row, last_row, first_column, last_column : int
        Of the filled cells, from 0 and inclusive; the last ones are -1 where none is filled.
    errors : dict of (int, int) to str
        Row and column of cells whose formula failed, and what they show, such as "#N/A".
    lost : int
        Formulas without a stored result.
    lost_at : str
        Address of the first of them.
    shown : dict of Shown to dict of int to list of [int, int]
        Filled cells that are shown as something else than they hold: by column, the first row and the last of each stretch.
    """

    first_row: int = -1
    last_row: int = -1
    first_column: int = -1
    last_column: int = -1
    errors: dict[tuple[int, int], str] = field(default_factory=dict)
    lost: int = 0
    lost_at: str = ""
    shown: dict[Shown, dict[int, list[list[int]]]] = field(default_factory=dict)

    @property
    def block(self) -> int:
        """Cells from the first filled row and column to the last."""
        return 0 if self.last_row < 0 else (self.last_row - self.first_row + 1) * (self.last_column - self.first_column + 1)

    def fill(self, row: int, column: int) -> None:
        """Take in a filled cell."""
        if self.last_row < 0:
            self.first_row, self.first_column = row, column
        self.first_row, self.last_row = min(self.first_row, row), max(self.last_row, row)
        self.first_column, self.last_column = min(self.first_column, column), max(self.last_column, column)

    def show(self, shown: Shown, row: int, column: int, last_row: int | None = None) -> None:
        """Take in that a filled cell, or those down to a row, is shown so."""
        stretches = self.shown.setdefault(shown, {}).setdefault(column, [])
        if stretches and stretches[-1][1] == row - 1:
            stretches[-1][1] = row if last_row is None else last_row
        else:
            stretches.append([row, row if last_row is None else last_row])

    def stretches(self, shown: Shown) -> list[list[int]]:
        """Column, first row and last row of the cells that are shown so."""
        return [[column, *rows] for column, stretches in self.shown.get(shown, {}).items() for rows in stretches]


def column_letters(column: int) -> str:
    """Letters of a column counted from 0: A to Z, AA and so on."""
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def place_of(address: str) -> tuple[int, int]:
    """Row and column from 0 of an address such as B7.

    Raises
    ------
    ValueError
        Where it is none.
    """
    found = _ADDRESS.fullmatch(address)
    if found is None or int(found[2]) == 0:
        raise ValueError(f"no address: {address[:20]}")
    column = 0
    for letter in found[1].upper():
        column = 26 * column + ord(letter) - ord("A") + 1
    return int(found[2]) - 1, column - 1


def follow(extent: Extent, styles: Mapping[str, Shown]) -> Callable[[bytes | None], None]:
    """A function that is fed the XML of a sheet piece by piece, then None, and notes into the extent what it sees.

    It raises ExpatError or ValueError where that is not the XML of a sheet. Cells that have a format and no value do not
    count, for spreadsheets format whole columns. `styles`: what the cells of some styles are shown as.
    """
    parser = expat.ParserCreate()
    parser.buffer_text = True
    row_name, cell_name, formula_name, value_names = "row", "c", "f", ("v", "t")
    row, column = -1, -1
    row_text = ""
    address: str | None = None
    kind = ""
    shown_as: Shown | None = None
    has_formula = False
    shown: list[str] = []
    filled_row = -1
    seen: set[str] = set()  # letters of the columns in which a cell of a row under its own number was filled

    def doctype(*_: object) -> None:
        raise ValueError("a document type")

    def root(name: str, _: dict[str, str]) -> None:
        nonlocal row_name, cell_name, formula_name, value_names
        prefix = name[: name.find(":") + 1]  # some programs write x:row and x:c
        row_name, cell_name, formula_name, value_names = prefix + "row", prefix + "c", prefix + "f", (prefix + "v", prefix + "t")
        parser.StartElementHandler = element

    # Called for every element of what may be millions of cells: the common case is a few comparisons.
    def element(name: str, attributes: dict[str, str]) -> None:
        nonlocal row, column, row_text, address, kind, shown_as, has_formula, filled_row
        if name == cell_name:
            if has_formula or kind == "e":
                settle()
            if "r" not in attributes:
                column = 1 + (column if address is None else place_of(address)[1])
            address = attributes.get("r")
            kind = attributes.get("t", "")
            shown_as = styles.get(attributes.get("s", "")) if styles else None
        elif name in value_names:
            if filled_row != row or address is None or not address.endswith(row_text) or address[: -len(row_text)] not in seen:
                at = place()
                extent.fill(*at)
                if at[0] == row and address is not None and row_text:
                    filled_row = row
                    seen.add(address[: -len(row_text)])
            if shown_as is not None:
                extent.show(shown_as, *place())
            if has_formula or kind == "e":
                parser.CharacterDataHandler = shown.append
        elif name == row_name:
            if has_formula or kind == "e":
                settle()
            row_text = attributes.get("r", "")
            row = int(row_text) - 1 if row_text else row + 1
            column, address, kind = -1, None, ""
        elif name == formula_name and (address is not None or column >= 0):  # within a cell, not in a rule of formats
            has_formula = True

    def place() -> tuple[int, int]:
        return (row, column) if address is None else place_of(address)

    def settle() -> None:
        """Take in the formula or error that came last."""
        nonlocal has_formula, kind
        text = "".join(shown).strip()
        if kind == "e":
            extent.errors[place()] = text
        elif not text and kind != "str":  # a formula that gives a blank text says so
            extent.lost += 1
            extent.lost_at = extent.lost_at or f"{column_letters(place()[1])}{place()[0] + 1}"
        shown.clear()
        parser.CharacterDataHandler = None
        has_formula, kind = False, ""

    def feed(piece: bytes | None) -> None:
        parser.Parse(piece or b"", piece is None)
        if piece is None and (has_formula or kind == "e"):
            settle()

    parser.StartDoctypeDeclHandler = doctype
    parser.StartElementHandler = root
    return feed
