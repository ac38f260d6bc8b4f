"""Names that one table uses and another should explain."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Final

from wearfit.records.findings import Finding
from wearfit.records.frames import Frames
from wearfit.records.names import nearest_name, offer
from wearfit.records.rules.marking import Judged, counted, first_rows, mark
from wearfit.records.rules.renumbered import alias_row, by_spelling, same_but_for_spelling

OF_TOOLS = ("runs", "counter", "events", "readings", "plan")
OF_PLANTS = ("tools", "runs", "events", "plan", "climate")
OF_RESINS = ("runs", "plan")
OF_DESIGNS = ("plan", "bill")
NEAR_LOOKED_FOR: Final = 50  # unknown tools for which a near name is looked for: it takes a look at every tool


def judge_references(frames: Frames) -> Judged:
    """Set aside rows of unknown tools; note plants, resins and designs that no row describes."""
    tools = list(frames["tools"]["tool_id"])
    spelt = by_spelling(tools)
    repairs: dict[str, str] = {}
    used = dict(frames)
    findings: list[Finding] = []
    for name in OF_TOOLS:
        frame = used[name]
        unknown = ~frame["tool_id"].isin(["", *tools])
        if not unknown.any():
            continue
        for tool in frame.loc[unknown, "tool_id"].unique():
            repairs.setdefault(tool, _repair_of_tool(tool, tools, spelt, len(repairs) < NEAR_LOOKED_FOR))
        lost = frame[unknown].assign(how=frame.loc[unknown, "tool_id"].map(repairs))
        findings += mark(name, lost, "tool_id", "Tool {tool_id} is not among the tools in use.", "{how}", "set_aside")
        used[name] = frame[~unknown].reset_index(drop=True)
    findings += _undescribed(used, "plants", "plant_id", OF_PLANTS, "Its climate is taken as not known, which widens the answer.")
    findings += _undescribed(used, "resins", "resin_id", OF_RESINS, "Its filler is taken as not known, which widens the answer.")
    findings += _unmade_designs(used)
    return used, findings


def _undescribed(frames: Frames, table: str, column: str, users: Iterable[str], consequence: str) -> list[Finding]:
    described = list(frames[table][column])
    if not described:
        problem = f"There is no {table} table, so nothing is known of any {column.removesuffix('_id')}, which widens the answer."
        return [Finding(table, None, None, None, problem, f"Add the {table} table.", "note")]
    findings = []
    for user in users:
        for text, (row, count, source) in first_rows(frames[user], column).items():
            if text not in described:
                problem = f"'{text}', named in {counted(count, 'row')}, is not in the {table} table. {consequence}"
                findings.append(Finding(user, row, column, text, problem, _repair(text, described, table), "note", source))
    return findings


def _unmade_designs(frames: Frames) -> list[Finding]:
    made = [design for design in frames["tools"]["design_id"].unique() if design]
    findings = []
    for user in OF_DESIGNS:
        for text, (row, count, source) in first_rows(frames[user], "design_id").items():
            if text not in made:
                problem = f"No tool makes the design '{text}', named in {counted(count, 'row')}."
                repair = offer(text, made, "Give its tools that design_id.")
                findings.append(Finding(user, row, "design_id", text, problem, repair, "note", source))
    return findings


def _repair_of_tool(tool: str, tools: Collection[str], spelt: Mapping[str, Sequence[str]], look_near: bool) -> str:
    alike = same_but_for_spelling(tool, spelt)
    if alike is not None:
        return f"If it is {alike}, write that, or add to the aliases table a row with {alias_row(tool, alike)}."
    if not look_near:
        return f"Add '{tool}' to the tools table, or correct the name."
    return _repair(tool, tools, "tools")


def _repair(text: str, described: Collection[str], table: str) -> str:
    near = nearest_name(text, described)
    if near:
        return f"Write '{near}' if that is meant, or add '{text}' to the {table} table."
    return f"Add '{text}' to the {table} table, or correct the name."
