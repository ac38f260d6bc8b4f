"""Names that one table uses and another should explain."""

from collections.abc import Collection, Iterable

from wearfit.records.findings import Finding
from wearfit.records.frames import ROW, Frames
from wearfit.records.names import nearest_name, offer
from wearfit.records.rules.marking import Judged, first_rows

OF_TOOLS = ("runs", "counter", "events", "readings", "plan")
OF_PLANTS = ("tools", "runs", "events", "plan", "climate")
OF_RESINS = ("runs", "plan")
OF_DESIGNS = ("plan", "bill")


def judge_references(frames: Frames) -> Judged:
    """Set aside rows of unknown tools; note plants, resins and designs that no row describes."""
    tools = list(frames["tools"]["tool_id"])
    used = dict(frames)
    findings: list[Finding] = []
    for name in OF_TOOLS:
        frame = used[name]
        unknown = ~frame["tool_id"].isin(["", *tools])
        typed = frame.loc[unknown, "tool_id"].unique()
        repairs = {tool: _repair(tool, tools, "tools") for tool in typed}
        for row, tool in frame.loc[unknown, [ROW, "tool_id"]].itertuples(index=False):
            problem = f"Tool {tool} is not among the tools in use."
            findings.append(Finding(name, int(row), "tool_id", tool, problem, repairs[tool], "set_aside"))
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
        for text, (row, count) in first_rows(frames[user], column).items():
            if text not in described:
                problem = f"'{text}', named in {_rows(count)}, is not in the {table} table. {consequence}"
                findings.append(Finding(user, row, column, text, problem, _repair(text, described, table), "note"))
    return findings


def _unmade_designs(frames: Frames) -> list[Finding]:
    made = [design for design in frames["tools"]["design_id"].unique() if design]
    findings = []
    for user in OF_DESIGNS:
        for text, (row, count) in first_rows(frames[user], "design_id").items():
            if text not in made:
                problem = f"No tool makes the design '{text}', named in {_rows(count)}."
                findings.append(Finding(user, row, "design_id", text, problem, offer(text, made, "Give its tools that design_id."), "note"))
    return findings


def _repair(text: str, described: Collection[str], table: str) -> str:
    near = nearest_name(text, described)
    if near:
        return f"Write '{near}' if that is meant, or add '{text}' to the {table} table."
    return f"Add '{text}' to the {table} table, or correct the name."


def _rows(count: int) -> str:
    return "one row" if count == 1 else f"{count:,} rows"
