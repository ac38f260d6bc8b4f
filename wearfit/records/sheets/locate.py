"""From the sheets as they came to the tables found in them."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from wearfit.errors import Refusal
from wearfit.records.choices import Choices
from wearfit.records.findings import Finding
from wearfit.records.names import plain_name
from wearfit.records.readers.grid import Grid
from wearfit.records.sheets import told
from wearfit.records.sheets.beside import SEARCHED_ROWS
from wearfit.records.sheets.headers import Fit, Match, match_header
from wearfit.records.sheets.layout import Band, one_line
from wearfit.records.sheets.merged import filled_down
from wearfit.records.sheets.minutes import read_minutes
from wearfit.records.sheets.naming import Named, Naming, naming_of
from wearfit.records.sheets.region import Region
from wearfit.records.sheets.row_words import read_row_words, told_of_currencies
from wearfit.records.sheets.sections import Section, first_filled, nearest_header, region_of, sections_of
from wearfit.records.sheets.told_rows import row_findings
from wearfit.records.tables import TABLES
from wearfit.records.template_names import TEMPLATE_ABOUT

# Of each group one table must be there: a sheet that was to hold it is then not passed over.
NEEDED: Final = (("tools",), ("runs", "counter"), ("events",))
# What was done or seen: in a budget or a summary it stands a second time, or has not been done at all.
HISTORY: Final = ("runs", "counter", "events", "readings")


@dataclass(frozen=True)
class _Unread:
    """A sheet whose name speaks of tables, but which lacks columns of them."""

    tables: tuple[str, ...]
    refusal: Refusal
    finding: Finding


@dataclass(frozen=True)
class _Located:
    regions: tuple[Region, ...] = ()
    findings: tuple[Finding, ...] = ()
    unread: _Unread | None = None
    reason: str = ""


def locate(grids: Sequence[Grid], choices: Choices) -> tuple[tuple[Region, ...], tuple[Finding, ...]]:
    """Which sheet is which table, where its header stands and which of its rows are records.

    Parameters
    ----------
    grids : sequence of Grid
    choices : Choices

    Returns
    -------
    tuple of Region
        In the order of the grids, then of their rows. A sheet may hold several tables, a table stand in several sheets.
    tuple of Finding
        What was taken for what, and what was not read.

    Raises
    ------
    Refusal
        Where no sheet holds a table; where a sheet that is named or chosen as a table lacks a required column or has two for
        one column; where a sheet that by a word of the trade is a table which the records need lacks one, and no other holds it.
    """
    located = [_locate_one(grid, choices) for grid in grids]
    regions = tuple(region for each in located for region in each.regions)
    held = {region.table.name for region in regions}
    findings: list[Finding] = []
    for each in located:
        findings += each.findings
        if each.unread:
            if any(held.isdisjoint(group) and not set(group).isdisjoint(each.unread.tables) for group in NEEDED):
                raise each.unread.refusal
            findings.append(each.unread.finding)
    if not regions:
        raise told.no_table(grids, [each.reason for each in located if each.reason])
    return regions, (*findings, *told_of_currencies(regions))


def _locate_one(grid: Grid, choices: Choices) -> _Located:
    naming = naming_of(grid, choices)
    if naming.left_out:
        return _Located()
    start = first_filled(grid)
    if start is None and naming.named >= Named.EXACTLY:
        raise Refusal(f"{grid.source} is empty.", f"Its first row must name the columns: {', '.join(TABLES[naming.tables[0]].names)}.")
    if start is None:
        return _Located(findings=(told.unread(grid, f"{grid.source} is empty.", "Nothing needs doing."),))
    if grid.hidden and naming.named < Named.CHOSEN:
        repair = f"If it is to be read, show it, or {told.how_to_choose(grid, (*naming.tables, 'runs')[0])}"
        return _Located(
            findings=(told.unread(grid, f"{grid.source} is hidden and was not read.", repair),), reason=f"{grid.source} is hidden"
        )
    if naming.set_by and naming.tables:
        return _set_by_name(grid, naming.set_by, naming.tables[0])
    sections = sections_of(grid, naming.tables, choices)
    grid, merged = filled_down(grid, sections)
    if merged:
        sections = sections_of(grid, naming.tables, choices)
    whole = {section.match.table.name for section in sections if section.match.complete}
    if naming.named >= Named.EXACTLY and whole.isdisjoint(naming.tables):
        raise told.missing_columns(grid, _nearest(grid, naming, start, choices))
    if not whole:
        return _not_whole(grid, naming, choices)
    if naming.set_by:
        return _set_by_name(grid, naming.set_by, min(whole, key=tuple(TABLES).index))
    done = [name for name in HISTORY if name in whole] if naming.no_history else []
    aside = _set_by_name(grid, naming.no_history, done[0]) if done else _Located()
    sections = [section for section in sections if section.match.table.name not in done]
    regions, findings = [], [*aside.findings, *_how_named(grid, naming, sections), *merged]
    for section in sections:
        if not section.match.complete:
            findings.append(told.not_read_section(grid, section))
            continue
        _refuse_twins(grid, section.match)
        region, said = read_row_words(region_of(grid, section), section.match)
        region, minutes = read_minutes(region, section.match)
        regions.append(region)
        read = {words.header for words in region.row_words}
        unknown = {at: header for at, header in region.unknown.items() if header not in read}
        findings += [*told.header_findings(grid, section, unknown), *said, *minutes, *row_findings(grid, section)]
    return _Located(tuple(regions), tuple(findings), reason=aside.reason)


def _set_by_name(grid: Grid, words: str, table: str) -> _Located:
    """A sheet that could be read as a table, but whose name says that it is none to be read."""
    problem = f"{grid.source} was not read as {table}, for its name says '{words}'."
    repair = f"Nothing needs doing if that is right. If it is to be read, {told.how_to_choose(grid, table)}"
    return _Located(findings=(told.unread(grid, problem, repair),), reason=f"{grid.source} says '{words}' in its name")


def _nearest(grid: Grid, naming: Naming, start: int, choices: Choices) -> Match:
    """What comes nearest to the header of the table that a sheet is named as: the row with the most words where nothing does."""
    table = TABLES[naming.tables[0]]
    nearest = nearest_header(grid, [table], choices)
    return nearest.match if nearest else match_header(table, one_line(grid, Band(), _most_words(grid, start)), choices)


def _most_words(grid: Grid, start: int) -> int:
    """The first of the rows with the most different texts with a letter, as a header has in any language; a title has few."""
    rows = range(start, min(start + SEARCHED_ROWS, len(grid.cells)))
    return max(rows, key=lambda row: len({cell for cell in grid.cells[row] if isinstance(cell, str) and any(map(str.isalpha, cell))}))


def _not_whole(grid: Grid, naming: Naming, choices: Choices) -> _Located:
    """A sheet without one complete header: said, and where its name speaks of a table perhaps more than said."""
    if plain_name(grid.name) == plain_name(TEMPLATE_ABOUT):
        return _Located()  # it came with the template, and who filled that in does not expect it to be read
    tables = [TABLES[name] for name in naming.tables or TABLES]
    nearest = nearest_header(grid, tables, choices)
    match = nearest.match if nearest else None
    if match and match.complete:
        each = [nearest_header(grid, [table], choices) for table in tables]
        refusal = told.may_be_several(grid, [header.match.table.name for header in each if header and header.match.complete])
        finding = told.unread(grid, refusal.problem, refusal.repair)
        return _Located(unread=_Unread(naming.tables, refusal, finding), reason=refusal.problem.rstrip("."))
    if match is None or (match.required_found == 0 and not match.rivals):
        return _Located(findings=(told.not_a_table(grid, None),))
    if naming.named == Named.NOT:
        near = match if 2 * match.required_found >= len(match.missing) + match.required_found and match.required_found > 1 else None
        finding = told.not_a_table(grid, near)
        return _Located(findings=(finding,), reason=finding.problem.rstrip(".") if near else "")
    refusal = told.missing_columns(grid, match)
    if naming.named == Named.NUMBERED:
        raise refusal
    problem = f"{refusal.problem.rstrip('.')}, so that it was not read as the table {match.table.name}."
    return _Located(unread=_Unread(naming.tables, refusal, told.unread(grid, problem, refusal.repair, "set_aside")))


def _how_named(grid: Grid, naming: Naming, sections: Sequence[Section]) -> list[Finding]:
    """That a sheet is read as a table though it is not named as it."""
    findings = []
    whole = [section for section in sections if section.match.complete]
    for name in dict.fromkeys(section.match.table.name for section in whole):
        if name in naming.tables and naming.named > Named.LOOSELY:
            continue
        rows = [section.header.row + 1 for section in whole if section.match.table.name == name]
        where = grid.source if len(whole) == len(rows) else f"The part of {grid.source} under row {' and row '.join(map(str, rows))}"
        said = "as its name says" if name in naming.tables else "as its columns say"
        repair = f'If it is another, or to be left out, say so under [tables] in the choices: {told.key_of(grid.name)} = "".'
        problem = f"{where} is read as the table {name}, {said}."
        findings.append(Finding(name, None, None, grid.source, problem, repair, "note", grid.source))
    return findings


def _refuse_twins(grid: Grid, match: Match) -> None:
    """Refuse two columns of one name; of two that stand for a column by a word of the trade, none is used."""
    for column, positions in match.rivals.items():
        if match.fits[positions[0]] >= Fit.EXACT:
            raise told.rival_columns(grid, match, column)
