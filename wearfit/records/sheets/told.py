"""What is said of a sheet's layout and headers, and the refusals where a table cannot be made out."""

import json
from collections.abc import Sequence
from typing import Final

from wearfit.errors import Refusal
from wearfit.records.findings import Finding, Severity, listed
from wearfit.records.names import bare_name, nearest_name
from wearfit.records.readers.grid import Grid
from wearfit.records.sheets import conversions
from wearfit.records.sheets.header_units import in_thousands
from wearfit.records.sheets.headers import LONGEST, Fit, Heading, Match, nearest_column
from wearfit.records.sheets.sections import Section
from wearfit.records.tables import TABLES

_ONE_DAY: Final = ("date", "day", "productiondate", "rundate")
MOST_NAMED: Final = 20  # headers in one sentence


def header_findings(grid: Grid, section: Section, unknown: dict[int, str]) -> list[Finding]:
    """What is said of the header of a table that is read: words taken for columns, columns in another unit, and those not known."""
    match, table = section.match, section.match.table
    findings: list[Finding] = []

    def note(column: str | None, problem: str, repair: str) -> None:
        findings.append(Finding(table.name, None, column, None, problem, repair, "note", grid.source))

    by_word = [(match.label(at), column.name) for at, column in sorted(match.known.items()) if match.fits[at] in (Fit.WORD, Fit.LOWER_LINE)]
    if by_word:
        words = [f"'{label}' is read as {name}" if at == 0 else f"'{label}' as {name}" for at, (label, name) in enumerate(by_word)]
        note(None, f"{listed(words)}.", f"If one of them means something else, {choice_of(table.name, by_word[0][0], '')}")
    for at, conversion in sorted(match.conversions.items()):
        known = match.known[at]
        problem = conversions.told(match.label(at), known, conversion)
        repair = f"Nothing needs doing if that is right; if its numbers are {known.name} as it is wanted, correct the header."
        findings.append(Finding(table.name, None, known.name, match.label(at), problem, repair, "repaired", grid.source))
    absent = [column.name for column in table.columns if column.name not in match.names]
    for at, name in unknown.items():
        rival = next((column for column, positions in match.rivals.items() if at in positions), None)
        if at in match.left_unused:
            continue
        if at in match.wrong_units:
            column, unit = match.wrong_units[at]
            note(
                name,
                f"'{match.label(at)}' {_in_unit(column, unit, table.name)}; it is kept but not used.",
                _convert(table.name, column, unit),
            )
        elif at in match.beaten:
            taken = next(match.label(p) for p, column in match.known.items() if column.name == match.beaten[at])
            problem = f"The column '{name}' could be {match.beaten[at]} as well as '{taken}', which is read as it; it is kept but not used."
            note(name, problem, f"If it is the one that is meant, {choice_of(table.name, match.label(at), match.beaten[at])}")
        elif rival:
            problem = f"{listed(_quoted([match.label(p) for p in match.rivals[rival]]))} could each be {rival}; none of them is used."
            if at == match.rivals[rival][0]:
                note(name, problem, f"To use this one, {choice_of(table.name, match.label(at), rival)}")
        else:
            near = nearest_column(match, at, absent)
            repair = (
                f"If '{near}' is meant, write that, or {choice_of(table.name, match.label(at), near)}" if near else "Nothing needs doing."
            )
            note(name, f"The column '{name}' is not one that wearfit knows; it is kept but not used.", repair)
    return findings


def not_read_section(grid: Grid, section: Section) -> Finding:
    """A part of a sheet that stands under a header of its own which is no whole table's."""
    table = section.match.table
    header = f"the header in row {section.header.row + 1}"
    if section.records:
        stand = "stands" if len(section.records) == 1 else "stand"
        read = "was not read" if len(section.records) == 1 else "were not read"
        problem = f"{rows_text(section.records)} {stand} under {header}, which {_lacks(section.match)} of {table.name}, and {read}."
    else:
        problem = f"Nothing stands under {header}, which {_lacks(section.match)} of {table.name}."
    text = " | ".join(heading.text for heading in section.match.headings if heading.text)
    severity: Severity = "set_aside" if section.records else "note"
    repair = missing_repair(section.match, "")
    # Without a row, for the rows below are no table's, so that none counts them.
    return Finding(table.name, None, None, text[:LONGEST], problem, repair, severity, grid.source)


def missing_columns(grid: Grid, match: Match) -> Refusal:
    """That a sheet which is said to hold a table lacks what it must have."""
    name, source = match.table.name, grid.source
    if match.complete:
        return Refusal(f"{source} holds another table above the header of {name}.", "Put each table on a sheet of its own.")
    for column in match.rivals:
        if column in match.missing or any(column in group for group in match.missing_groups):
            return rival_columns(grid, match, column)
    wrong = {column: (at, unit) for at, (column, unit) in match.wrong_units.items()}
    wanting = next((column for column in (*match.missing, *(c for group in match.missing_groups for c in group)) if column in wrong), None)
    because = ""
    if wanting:
        at, unit = wrong[wanting]
        because = f": '{match.label(at)}' {_in_unit(wanting, unit, name)}"
    if match.missing:
        problem = f"{source} has no column {' and no column '.join(match.missing)}{because}."
    else:
        problem = f"{source} has neither a column {' nor '.join(match.missing_groups[0])}{because}."
    if wanting:
        return Refusal(problem, _convert(name, wanting, wrong[wanting][1]))
    return Refusal(problem, missing_repair(match, grid.name))


def rival_columns(grid: Grid, match: Match, column: str) -> Refusal:
    """That two headers of a sheet are equally good for one column."""
    labels = [match.label(at) for at in match.rivals[column]]
    headings = {heading.position: heading.text for heading in match.headings}
    count = "two" if len(labels) == 2 else str(len(labels))
    if all(bare_name(headings[at]) == bare_name(column) for at in match.rivals[column]):
        return Refusal(f"{grid.source} has {count} columns named {column}.", "Rename or delete one of them.")
    problem = f"{grid.source} has {count} columns that may be {column}: {listed(_quoted(labels))}."
    return Refusal(problem, f"Rename the one that is meant {column}, or {choice_of(match.table.name, labels[0], column)}")


def missing_repair(match: Match, sheet: str) -> str:
    """What would give a header the columns that it lacks: the nearest header offered, else all that mean nothing yet, else more columns."""
    table = match.table.name
    wanting = [*match.missing, *(column for group in match.missing_groups for column in group)]
    others = [heading for heading in match.headings if heading.text and heading.position not in match.known]
    if table == "runs" and "ended_on" in wanting:
        day = next((heading.label for heading in others if bare_name(heading.text) in _ONE_DAY), None)
        if day:
            return f"If each row is the production of one day, write '{day}' in two columns, started_on and ended_on."
    for column in wanting:
        for heading in others:
            if nearest_column(match, heading.position, [column]):
                meant = f"If '{heading.label}' is {column}, rename it, or {choice_of(table, heading.label, column)}"
                rest = [other for other in others if other is not heading] if sheet and len(wanting) > 1 else []
                return f"{meant[:-1]}; {_mean_nothing(rest)}." if rest else meant
    add = "Add what is missing" if match.missing else "Add one of them"
    if not sheet:
        return f"{add}."
    leave = f'leave the sheet out with {key_of(sheet)} = "" under [tables] in the choices.'
    if not others or not wanting:
        return f"{add}, or {leave}"
    such = f'such as {key_of(others[0].label)} = "{wanting[0]}"; {_mean_nothing(others)}'
    return f"Say what its headers mean under [columns.{table}] in the choices, {such}. {add}, or {leave}"


def _mean_nothing(headings: Sequence[Heading]) -> str:
    """That headers stand for no column yet; the page asks of each what it is."""
    named = [key_of(heading.label) for heading in headings[:MOST_NAMED]]
    return f"{listed(named)} {'means' if len(named) == 1 else 'mean'} nothing yet"


def no_table(grids: Sequence[Grid], reasons: Sequence[str]) -> Refusal:
    """That nothing of what was handed over is a table."""
    names = _quoted([grid.source for grid in grids])
    others = f": {listed(names[:10])}{f' and {len(names) - 10} more' if len(names) > 10 else ''}" if names else ""
    because = f"; {reasons[0]}" if len(reasons) == 1 else ""
    example = f'{key_of(grids[0].name if grids else "Sheet1")} = "runs"'
    return Refusal(
        f"Nothing here is named as a table or has the columns of one{others}{because}.",
        f"Name each sheet or file as the table it holds ({', '.join(TABLES)}), or say it under [tables] in the choices: {example}.",
    )


def unread(grid: Grid, problem: str, repair: str, severity: Severity = "note") -> Finding:
    """That a sheet was not read."""
    return Finding(grid.name, None, None, grid.source, problem, repair, severity, grid.source)


def not_a_table(grid: Grid, match: Match | None) -> Finding:
    """That a sheet is none of the tables; the table that it comes nearest to, by its columns or its name, is offered."""
    if match is None:
        near = nearest_name(grid.name, TABLES)
        repair = (
            f"If '{near}' is meant, write that, or {how_to_choose(grid, near)}" if near else f"If it is one, {how_to_choose(grid, 'runs')}"
        )
        return unread(grid, f"{grid.source} is not named as a table and was not read.", repair)
    problem = f"{grid.source} is not named as a table and was not read; it {_lacks(match)} of {match.table.name}."
    return unread(grid, problem, missing_repair(match, ""))


def may_be_several(grid: Grid, tables: Sequence[str]) -> Refusal:
    """That the columns of a sheet are not those of one table alone; what is said where it is passed over, too."""
    problem = f"{grid.source} was not read, for it is not named as a table and its columns could be those of {' or '.join(tables)}."
    return Refusal(problem, f"If it is to be read, {how_to_choose(grid, tables[0])}")


def _lacks(match: Match) -> str:
    groups = [" or ".join(group) for group in match.missing_groups]
    return f"lacks the column{'s' if len(match.missing) + len(groups) > 1 else ''} {listed([*match.missing, *groups])}"


def how_to_choose(grid: Grid, table: str) -> str:
    return f'say which table it holds under [tables] in the choices: {key_of(grid.name)} = "{table}".'


def choice_of(table: str, label: str, column: str) -> str:
    """How to say in the choices which column a header is."""
    return f'say so under [columns.{table}] in the choices: {key_of(label)} = "{column}".'


def key_of(name: str) -> str:
    """A name as the choices, which are TOML, want it on the left."""
    return f"'{name}'" if "'" not in name else json.dumps(name, ensure_ascii=False)


def _in_unit(column: str, unit: str, table: str) -> str:
    wanted = _unit_of(table, column)
    if wanted != "°C" and in_thousands(unit):
        return f"counts in '{unit}', but {column} in single {wanted}"
    return f"is in {unit}, but {column} in {'the unit of value' if wanted == 'as measured' else wanted}"


def _convert(table: str, column: str, unit: str) -> str:
    wanted = _unit_of(table, column)
    if wanted != "°C" and in_thousands(unit):
        return f"Write the numbers in full and name the column {column}."
    return f"Convert it{'' if wanted == 'as measured' else f' to {wanted}'} and name the column {column}."


def _unit_of(table: str, column: str) -> str:
    unit = TABLES[table].column(column).unit
    return "°C" if unit == "degC" else unit


def rows_text(rows: Sequence[int]) -> str:
    """Rows, counted from 0, at the beginning of a sentence: "Row 3", "Rows 3 to 5"."""
    return f"Row {rows[0] + 1}" if len(rows) == 1 else f"Rows {rows[0] + 1} to {rows[-1] + 1}"


def _quoted(labels: Sequence[str]) -> list[str]:
    return [f"'{label}'" for label in labels]
