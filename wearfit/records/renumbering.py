"""Tools that were given another number: rows under the old number become rows under the new one."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import replace

from wearfit.records.findings import Finding
from wearfit.records.identity import Row, key_of, rows_in_force
from wearfit.records.tables import TABLES

DAY_OF_ROW = {"runs": "started_on", "counter": "date", "events": "date", "readings": "date"}


def renumber(rows: Iterable[Row]) -> tuple[list[Row], list[Finding]]:
    """Write every row under the number that its tool has now.

    Parameters
    ----------
    rows : iterable of Row
        Rows in force, those of the aliases table among them.

    Returns
    -------
    list of Row
        Where a row stands under the old number and under the new one, the same file having been handed over before and
        after the change, the one under the new number is the one kept.
    list of Finding
    """
    rows = list(rows)
    aliases = {row.values["old_tool_id"]: row for row in rows if row.table == "aliases"}
    if not aliases:
        return rows, []
    current, findings = _follow(aliases)
    native = {(row.table, row.key) for row in rows if row.values.get("tool_id") not in current}
    kept: list[Row] = []
    doubled: Counter[tuple[str, str]] = Counter()
    late: Counter[str] = Counter()
    for row in rows:
        old = row.values.get("tool_id", "")
        if row.table == "aliases":
            if row.values["old_tool_id"] in current:  # one that leads back to itself is set aside
                kept.append(row)
            continue
        if old not in current:
            kept.append(row)
            continue
        values = {**row.values, "tool_id": current[old]}
        moved = replace(row, values=values, key=key_of(TABLES[row.table], values))
        if (row.table, moved.key) in native:
            doubled[row.table, old] += 1
            continue
        since = aliases[old].values.get("since")
        late[old] += bool(since and row.table in DAY_OF_ROW and values[DAY_OF_ROW[row.table]] >= since)
        kept.append(moved)
    findings += [_doubled(table, old, current[old], count) for (table, old), count in doubled.items()]
    findings += [_late(aliases[old], count) for old, count in late.items() if count]
    return rows_in_force(kept), findings


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
