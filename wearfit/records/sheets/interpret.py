"""From sheets of cells to what an upload says: which table is where, how its cells are written, and its rows."""

import datetime as dt
from collections.abc import Iterable, Sequence

from wearfit.records.choices import Choices
from wearfit.records.findings import Finding
from wearfit.records.readers.grid import Grid
from wearfit.records.rows import Rows, TableRows, joined
from wearfit.records.sheets.dialects import writings_of
from wearfit.records.sheets.locate import locate
from wearfit.records.sheets.region import Region
from wearfit.records.sheets.repeats import number_repeats
from wearfit.records.sheets.row_words import apply_row_words
from wearfit.records.sheets.sheet import Sheet, read_region
from wearfit.records.sheets.typed import typed_region
from wearfit.records.tables import TABLES
from wearfit.records.upload import Upload, digest_of


def interpret(
    name: str,
    files: Iterable[tuple[str, bytes]],
    grids: Sequence[Grid],
    findings: Iterable[Finding] = (),
    choices: Choices | None = None,
    today: dt.date | None = None,
) -> Upload:
    """Read the sheets of one hand-over.

    Parameters
    ----------
    name : str
        Of the folder or file.
    files : iterable of (str, bytes)
        As they came.
    grids : sequence of Grid
        All sheets of all files.
    findings : iterable of Finding
        What was noticed in reading the files.
    choices : Choices, optional
        The user's decisions.
    today : date, optional
        Rows of what has happened later are set aside; not looked at by default.

    Raises
    ------
    Refusal
        Where no sheet holds a table, or one that does lacks a required column.
    """
    choices = Choices() if choices is None else choices
    kept = tuple(sorted(files))
    regions, located = locate(grids, choices)
    rows, noticed, counts = read_regions(regions, choices, today)
    return Upload(name, digest_of(kept), kept, rows, (*findings, *located, *noticed), counts)


def read_regions(regions: Sequence[Region], choices: Choices, today: dt.date | None = None) -> tuple[Rows, list[Finding], dict[str, int]]:
    """Read all the regions of one upload.

    Returns
    -------
    Rows
        Table by table in the order of TABLES, within a table in the order of the regions.
    list of Finding
        In the same order, those about columns before those about rows, what repeats last.
    dict of str to int
        Rows of each table that is there, readable or not.
    """
    typed = [typed_region(region, _neighbour(region, regions)) for region in regions]
    columns = [column for region in typed for column in region.columns]
    written = iter(writings_of(columns, choices, today))
    sheets: list[tuple[str, Sheet]] = []
    for region in typed:
        own = [next(written) for _ in region.columns]
        sheet = read_region(region, [writing for writing, _ in own], today)
        said = [*region.notes, *(finding for _, told in own for finding in told)]
        kept, aside = apply_row_words(region.region, sheet.rows)
        sheets.append((region.region.table.name, Sheet(kept, (*said, *sheet.findings, *aside), sheet.count)))
    tables: list[TableRows] = []
    findings: list[Finding] = []
    counts: dict[str, int] = {}
    for name, table in TABLES.items():
        of_table = [sheet for table_name, sheet in sheets if table_name == name]
        if not of_table:
            continue
        read = [part for sheet in of_table for part in sheet.rows.tables]
        repeated: list[Finding] = []
        if read:
            numbered, repeated = number_repeats(table, joined(read))
            tables.append(numbered)
        findings += [*(finding for sheet in of_table for finding in sheet.findings), *repeated]
        counts[name] = sum(sheet.count for sheet in of_table)
    return Rows(tuple(tables)), findings, counts


def _neighbour(region: Region, regions: Sequence[Region]) -> int | None:
    """Column at which the nearest table to the right in the same sheet begins, None where there is none."""
    return min((other.first for other in regions if other.grid is region.grid and other.first >= region.end), default=None)
