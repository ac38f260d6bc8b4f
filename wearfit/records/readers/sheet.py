"""One sheet of cells, whatever its file form: its header matched to a table, its rows read cell by cell."""

from collections.abc import Sequence
from dataclasses import dataclass

from wearfit.errors import Refusal
from wearfit.records.cells import Unreadable, canonical, clean, word_not_listed
from wearfit.records.findings import Finding
from wearfit.records.identity import Row, key_of, plan_changes
from wearfit.records.names import nearest_name, offer, plain_name
from wearfit.records.tables import Column, Table


@dataclass(frozen=True)
class Sheet:
    """The rows of a sheet that can be read, what was noticed, and how many rows it holds."""

    rows: tuple[Row, ...]
    findings: tuple[Finding, ...]
    count: int


@dataclass(frozen=True)
class _Header:
    known: dict[int, Column]
    unknown: dict[int, str]
    width: int


def read_sheet(table: Table, source: str, cells: Sequence[Sequence[str]]) -> Sheet:
    """Read the cells of one table.

    Parameters
    ----------
    table : Table
    source : str
        Name of the file or sheet, for messages.
    cells : sequence of rows of cells
        As typed, the header first. Rows of blank cells count for the row numbers and nothing else.

    Raises
    ------
    Refusal
        Where there is no header, a required column is missing, or a column comes twice.
    """
    if not cells or not any(clean(cell) for cell in cells[0]):
        raise Refusal(f"{source} is empty.", f"Its first row must name the columns: {', '.join(table.names)}.")
    header, findings = _match_header(table, source, cells)
    memory: dict[tuple[str, str], str | Unreadable] = {}
    rows: list[Row] = []
    count = 0
    for number, typed in enumerate(cells[1:], start=2):
        if not any(typed) or not any(map(clean, typed)):
            continue
        count += 1
        values, problems = _read_row(table, header, typed, number, memory)
        if problems:
            findings += problems
        else:
            rows.append(Row(table.name, key_of(table, values), 0, values, number))
    changes = plan_changes({}, rows)
    rows = [change.row for change in changes]
    return Sheet(tuple(rows), (*findings, *_repeats(table, rows)), count)


def _match_header(table: Table, source: str, cells: Sequence[Sequence[str]]) -> tuple[_Header, list[Finding]]:
    typed = cells[0]
    by_plain = {plain_name(column.name): column for column in table.columns}
    known: dict[int, Column] = {}
    others: dict[int, str] = {}
    for position, name in enumerate(map(clean, typed)):
        column = by_plain.get(plain_name(name))
        if column is None and (name or any(clean(row[position]) for row in cells[1:] if position < len(row))):
            others[position] = name or f"column {position + 1}"
        elif column is None:
            continue
        elif column in known.values():
            raise Refusal(f"{source} has two columns named {column.name}.", "Rename or delete one of them.")
        else:
            known[position] = column
    absent = [column for column in table.columns if column not in known.values()]
    wanting = [column.name for column in absent if column.required]
    if wanting:
        near = nearest_name(wanting[0], others.values())
        rename = f"If '{near}' is {wanting[0]}, rename it." if near else "Add what is missing."
        raise Refusal(f"{source} has no column {' and no column '.join(wanting)}.", rename)
    for group in table.one_of:
        if not any(column.name in group for column in known.values()):
            raise Refusal(f"{source} has neither a column {' nor '.join(group)}.", "Add one of them.")
    unknown: dict[int, str] = {}
    findings = []
    for position, name in others.items():
        own, copy = name, 2
        while own in unknown.values():
            own, copy = f"{name} ({copy})", copy + 1
        unknown[position] = own
        problem = f"The column '{own}' is not one that wearfit knows; it is kept but not used."
        repair = offer(name, (column.name for column in absent), "Nothing needs doing.")
        findings.append(Finding(table.name, None, own, None, problem, repair, "note"))
    return _Header(known, unknown, len(typed)), findings


def _read_row(
    table: Table, header: _Header, typed: Sequence[str], number: int, memory: dict[tuple[str, str], str | Unreadable]
) -> tuple[dict[str, str], list[Finding]]:
    problems: list[Finding] = []

    def set_aside(column: str | None, value: str | None, problem: str, repair: str) -> None:
        problems.append(Finding(table.name, number, column, value, problem, repair, "set_aside"))

    if any(clean(cell) for cell in typed[header.width :]):
        beyond = next(cell for cell in typed[header.width :] if clean(cell))
        repair = "Put a text that holds a comma in double quotes."
        set_aside(None, clean(beyond), "The row has more cells than the header has columns.", repair)
        return {}, problems
    values: dict[str, str] = {}
    for position, column in header.known.items():
        cell = typed[position] if position < len(typed) else ""
        if not cell and not column.required:
            continue
        read = memory.get((column.name, cell))
        if read is None:
            read = memory[column.name, cell] = _read_cell(table, column, cell)
        if isinstance(read, Unreadable):
            set_aside(column.name, clean(cell) or None, read.problem, read.repair)
        elif read:
            values[column.name] = read
    for group in table.one_of:
        if not problems and not any(name in values for name in group):
            set_aside(group[0], None, f"Neither {' nor '.join(group)} is filled in.", "Fill in one of them.")
    for position, name in header.unknown.items():
        if position < len(typed) and (kept := clean(typed[position])):
            values[name] = kept
    return values, problems


def _read_cell(table: Table, column: Column, cell: str) -> str | Unreadable:
    try:
        text = canonical(column, cell)
    except Unreadable as unreadable:
        return unreadable
    if not text and column.required:
        return Unreadable(f"{column.name} is blank.", "Fill it in.")
    # A word outside its list can be repaired later, but not where it tells one row from another.
    if text and column.choices and column.name in table.key and text not in column.choices:
        return word_not_listed(column, text)
    return text


def _repeats(table: Table, rows: Sequence[Row]) -> list[Finding]:
    """What to say of keys that come more than once."""
    seen: dict[str, list[Row]] = {}
    findings = []
    for row in rows:
        earlier = seen.setdefault(row.key, [])
        # Of rows that do not repeat only the last stands, so that a return to older values is a change.
        twin = next((other for other in (earlier if table.repeats else earlier[-1:]) if other.values == row.values), None)
        if twin is not None:
            problem, repair = f"The row says the same as row {twin.row} and is counted once.", "Nothing needs doing, or delete one of them."
        elif earlier and table.repeats:
            problem = f"Row {earlier[-1].row} has the same {', '.join(table.key)} and other values; both count."
            repair = "If it is one and the same, delete one of them."
        elif earlier:
            problem = f"Row {earlier[-1].row} has the same {', '.join(table.key)} and other values; this later row is the one used."
            repair = "Delete the one that is wrong."
        if earlier:
            findings.append(Finding(table.name, row.row, table.key[0], row.values.get(table.key[0]), problem, repair, "note"))
        earlier.append(row)
    return findings
