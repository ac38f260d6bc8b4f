"""Look through the parts of an XLSX workbook before a library reads it: whether it may be read, and how far its sheets reach."""

import posixpath
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final
from xml.parsers import expat

from wearfit.errors import Refusal
from wearfit.records.findings import shown
from wearfit.records.readers import zips
from wearfit.records.readers.extents import Extent, column_letters, follow
from wearfit.records.readers.limits import NAME, Bounds
from wearfit.records.readers.number_formats import Shown, styles_shown

_XML_ENDINGS: Final = (".xml", ".rels", ".vml")
_DECLARATIONS: Final = (b"<!DOCTYPE", b"<!ENTITY")
_BOOK: Final = "xl/workbook.xml"
_LINKS: Final = "xl/_rels/workbook.xml.rels"
_SHEETS: Final = "xl/worksheets/"
_STYLES: Final = "xl/styles.xml"

_TRUE: Final = ("1", "true")  # of XML Schema; from memory

Elements = list[tuple[str, dict[str, str]]]


@dataclass(frozen=True)
class Seen:
    """What a workbook says before it is read.

    Parameters
    ----------
    extents : mapping of str to Extent
        By the name of the sheet.
    from_1904 : bool
        Whether its numbers of days count from 1904. Source: ECMA-376 part 1, 18.2.28 (date1904), from memory.
    """

    extents: Mapping[str, Extent]
    from_1904: bool


def look_through(name: str, archive: zipfile.ZipFile, bounds: Bounds) -> Seen:
    """Unpack every part that is XML once, piece by piece, and look at the sheets.

    Parameters
    ----------
    name : str
        Of the workbook, for messages.
    archive : ZipFile
    bounds : Bounds

    Returns
    -------
    Seen

    Raises
    ------
    Refusal
        Where the workbook is damaged, holds declarations that a workbook has no need of, or goes past a bound.
    """
    parts = {entry.filename.lower(): entry for entry in archive.infolist()}
    if len(parts) < len(archive.infolist()) or _BOOK not in parts:
        raise zips.damaged(name)
    links = {attributes.get("Id", ""): attributes.get("Target", "") for _, attributes in _elements(name, archive, parts.get(_LINKS))}
    book = _elements(name, archive, parts[_BOOK])
    sheets = [attributes for element, attributes in book if element == "sheet"]
    from_1904 = any(element == "workbookPr" and attributes.get("date1904") in _TRUE for element, attributes in book)
    if len(sheets) > bounds.sheets:
        raise Refusal(f"{name} has {len(sheets):,} sheets; at most {bounds.sheets:,} are read.", "Leave out what is not records.")
    part_of = {sheet.get("name", ""): _part(links.get(_link_of(sheet), "")) for sheet in sheets}
    styles = styles_shown(zips.pieces(archive, parts[_STYLES], name, bounds.unpacked_bytes)) if _STYLES in parts else {}
    extents: dict[str, Extent] = {}
    left, cells = bounds.unpacked_bytes, 0
    for part, entry in parts.items():
        if not part.endswith(_XML_ENDINGS):
            continue  # pictures and the like, which nobody unpacks
        is_sheet = part in part_of.values() or part.startswith(_SHEETS)
        extent = Extent()
        left -= _look_at(name, archive, entry, left, extent if is_sheet else None, styles)
        cells += extent.block
        if extent.last_row >= bounds.rows or extent.last_column >= bounds.columns or cells > bounds.cells:
            raise too_far(name, next((sheet for sheet in part_of if part_of[sheet] == part), part), extent, bounds)
        extents[part] = extent
    return Seen({sheet: extents[part] for sheet, part in part_of.items() if part in extents}, from_1904)


def too_far(name: str, sheet: str, extent: Extent, bounds: Bounds) -> Refusal:
    """Refusal of a sheet that reaches too far."""
    if extent.last_row >= bounds.rows:
        allowed = f"{bounds.rows:,} rows"
    elif extent.last_column >= bounds.columns:
        allowed = f"{bounds.columns:,} columns"
    else:
        allowed = f"{bounds.cells:,} cells in all"
    row, column = f"{extent.last_row + 1:,}", column_letters(extent.last_column)
    reach = f"{name} cannot be read: its sheet {shown(sheet, NAME)} reaches to row {row} and column {column}"
    return Refusal(f"{reach}; at most {allowed} are read.", "Delete what stands far from the table, or hand over fewer records at a time.")


def refuse_declarations(name: str, piece: bytes) -> None:
    """Refuse XML that declares a document type or entities: a workbook has none, and a few lines of them can unfold to gigabytes."""
    if any(declaration in piece for declaration in _DECLARATIONS):
        problem = f"{name} cannot be read: it holds XML declarations that no spreadsheet program writes."
        raise Refusal(problem, "Open it in a spreadsheet program and save it anew.")


def _look_at(
    name: str, archive: zipfile.ZipFile, entry: zipfile.ZipInfo, left: int, extent: Extent | None, styles: Mapping[str, Shown]
) -> int:
    """Bytes of a part; its extent where it is a sheet."""
    size = 0
    end = b""
    feed = None if extent is None else follow(extent, styles)
    try:
        for piece in zips.pieces(archive, entry, name, left):
            size += len(piece)
            refuse_declarations(name, end + piece)
            end = piece[-len(_DECLARATIONS[0]) :]
            if feed is not None:
                feed(piece)
        if feed is not None:
            feed(None)
    except (expat.ExpatError, ValueError):
        raise zips.damaged(name) from None
    return size


def _elements(name: str, archive: zipfile.ZipFile, entry: zipfile.ZipInfo | None) -> Elements:
    """All elements of a small part, each by its name without prefix and its attributes."""
    found: Elements = []
    if entry is None:
        return found
    parser = expat.ParserCreate()
    parser.StartElementHandler = lambda element, attributes: found.append((element.rpartition(":")[2], attributes))
    content = b"".join(zips.pieces(archive, entry, name, zips.SMALL))
    refuse_declarations(name, content)
    try:
        parser.Parse(content, True)
    except (expat.ExpatError, ValueError):
        raise zips.damaged(name) from None
    return found


def _link_of(sheet: Mapping[str, str]) -> str:
    return next((value for key, value in sheet.items() if key.endswith(":id")), "")


def _part(target: str) -> str:
    """Name of a part within the archive, as links from the book name it."""
    return posixpath.normpath(posixpath.join("/xl", target)).lstrip("/").lower()
