"""Tools that were given another number: rows under the old number become rows under the new one."""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace

from wearfit.records.findings import Finding
from wearfit.records.identity import Row
from wearfit.records.rows import Rows, TableRows, rows_in_force

DAY_OF_ROW = {"runs": "started_on", "counter": "date", "events": "date", "readings": "date"}


def renumber(rows: Rows) -> tuple[Rows, list[Finding]]:
    """Write every row under the number that its tool has now.

    Parameters
    ----------
    rows : Rows
        Rows in force, those of the aliases table among them.

    Returns
    -------
    Rows
        Where a row stands under the old number and under the new one, the same file having been handed over before and
        after the change, the one under the new number is the one kept.
    list of Finding
    """
    aliases = {row.values["old_tool_id"]: row for some in rows.tables if some.table == "aliases" for row in some}
    if not aliases:
        return rows, []
    current, findings = _follow(aliases)
    kept: list[TableRows] = []
    doubled: Counter[tuple[str, str]] = Counter()
    late: Counter[str] = Counter()
    for some in rows.tables:
        old = _told_by(some, "old_tool_id" if some.table == "aliases" else "tool_id", current)
        if some.table == "aliases":
            kept.append(some.take([place for place, is_old in enumerate(old) if is_old]))  # one that leads back to itself is set aside
            continue
        if not any(old):
            kept.append(some)
            continue
        moved = _under_new_numbers(some, current)
        keys = moved.key_codes()
        native = {key for key, is_old in zip(keys, old, strict=True) if not is_old}
        twice = [is_old and key in native for key, is_old in zip(keys, old, strict=True)]
        doubled.update((some.table, tool) for tool, gone in zip(some.column("tool_id").by_row(), twice, strict=True) if gone)
        late.update(_late_uses(some.take([place for place, is_old in enumerate(old) if is_old and not twice[place]]), aliases))
        kept.append(moved.take([place for place, gone in enumerate(twice) if not gone]))
    findings += [_doubled(table, old, current[old], count) for (table, old), count in doubled.items()]
    findings += [_late(aliases[old], count) for old, count in late.items()]
    return rows_in_force(Rows(tuple(kept))), findings


def _told_by(rows: TableRows, column: str, current: Mapping[str, str]) -> list[bool]:
    """Whether each row names a tool by an old number."""
    return [text in current for text in rows.column(column).by_row()]


def _under_new_numbers(rows: TableRows, current: Mapping[str, str]) -> TableRows:
    return replace(rows, columns={**rows.columns, "tool_id": rows.columns["tool_id"].mapped(lambda text: current.get(text, text))})


def _late_uses(rows: TableRows, aliases: Mapping[str, Row]) -> Iterator[str]:
    """The old number of each row that uses it on or after the day of the new one."""
    if rows.table in DAY_OF_ROW:
        for old, day in zip(rows.column("tool_id").by_row(), rows.column(DAY_OF_ROW[rows.table]).by_row(), strict=True):
            since = aliases[old].values.get("since")
            if since and day >= since:
                yield old


def _follow(aliases: Mapping[str, Row]) -> tuple[dict[str, str], list[Finding]]:
    """The number that each old number leads to, over as many changes as there were."""
    current: dict[str, str] = {}
    findings = []
    for old, row in aliases.items():
        seen = [old]
        while seen[-1] in aliases and (following := aliases[seen[-1]].values["tool_id"]) not in seen:
            seen.append(following)
        if seen[-1] in aliases:
            problem = f"The new numbers of '{old}' lead back to '{aliases[seen[-1]].values['tool_id']}', so none of them is the last."
            new = row.values["tool_id"]
            findings.append(Finding("aliases", row.row, "tool_id", new, problem, "Correct the chain.", "set_aside", row.source))
        else:
            current[old] = seen[-1]
    return current, findings


def _doubled(table: str, old: str, new: str, count: int) -> Finding:
    rows, are = ("One row", "is") if count == 1 else (f"{count:,} rows", "are")
    problem = f"{rows} under the old number '{old}' {are} there under '{new}' too; what stands under the new number is used."
    return Finding(table, None, "tool_id", old, problem, "Nothing needs doing.", "note")


def _late(alias: Row, count: int) -> Finding:
    old, new, since = alias.values["old_tool_id"], alias.values["tool_id"], alias.values["since"]
    rows, use = ("One row", "uses") if count == 1 else (f"{count:,} rows", "use")
    problem = f"{rows} dated {since} or later still {use} the old number '{old}', which is read as '{new}'."
    return Finding("aliases", alias.row, "since", since, problem, f"Write '{new}' there, or correct since.", "note", alias.source)
