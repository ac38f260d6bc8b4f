"""Names that one table uses and another should explain."""

from collections.abc import Iterable, Sequence
from typing import Final

from wearfit.records.findings import Finding
from wearfit.records.frames import Frames
from wearfit.records.respelling import choice_of
from wearfit.records.rules.marking import Judged, counted, first_rows, mark
from wearfit.records.rules.renumbered import alias_row
from wearfit.records.spellings import SHORTEST, SHORTEST_OF_RESINS, NameIndex, name_index

OF_TOOLS = ("runs", "counter", "events", "readings", "plan")
OF_PLANTS = ("tools", "runs", "events", "plan", "climate")
OF_RESINS = ("runs", "plan")
OF_DESIGNS = ("plan", "bill")
SHORTEST_OF: Final = {"resin_id": SHORTEST_OF_RESINS}
MOST_OFFERED: Final = 3  # near names from which the reader may choose


def judge_references(frames: Frames) -> Judged:
    """Set aside rows of unknown tools."""
    tools = list(frames["tools"]["tool_id"])
    index: NameIndex | None = None
    repairs: dict[str, str] = {}
    used = dict(frames)
    findings: list[Finding] = []
    for name in OF_TOOLS:
        frame = used[name]
        unknown = ~frame["tool_id"].isin(["", *tools])
        if not unknown.any():
            continue
        index = index or name_index(tools)
        for tool in frame.loc[unknown, "tool_id"].unique():
            repairs.setdefault(tool, _repair_of_tool(tool, index))
        lost = frame[unknown].assign(how=frame.loc[unknown, "tool_id"].map(repairs))
        findings += mark(name, lost, "tool_id", "Tool {tool_id} is not among the tools in use.", "{how}", "set_aside")
        used[name] = frame[~unknown].reset_index(drop=True)
    return used, findings


def note_undescribed(frames: Frames) -> Judged:
    """Note plants, resins and designs that no row describes.

    Parameters
    ----------
    frames : Frames
        After `judge_references`.
    """
    return dict(frames), [
        *_undescribed(frames, "plants", "plant_id", OF_PLANTS, "Its climate is taken as not known, which widens the answer."),
        *_undescribed(frames, "resins", "resin_id", OF_RESINS, "Its filler is taken as not known, which widens the answer."),
        *_unmade_designs(frames),
    ]


def _undescribed(frames: Frames, table: str, column: str, users: Iterable[str], consequence: str) -> list[Finding]:
    described = list(frames[table][column])
    if not described:
        problem = f"There is no {table} table, so nothing is known of any {column.removesuffix('_id')}, which widens the answer."
        return [Finding(table, None, None, None, problem, f"Add the {table} table.", "note")]
    index = name_index(described, SHORTEST_OF.get(column, SHORTEST))
    findings = []
    for user in users:
        for text, (row, count, source) in first_rows(frames[user], column).items():
            if text not in described:
                problem = f"'{text}', named in {counted(count, 'row')}, is not in the {table} table. {consequence}"
                findings.append(Finding(user, row, column, text, problem, _repair(column, text, index, table), "note", source))
    return findings


def _unmade_designs(frames: Frames) -> list[Finding]:
    made = [design for design in frames["tools"]["design_id"].unique() if design]
    index = name_index(made)
    findings = []
    for user in OF_DESIGNS:
        for text, (row, count, source) in first_rows(frames[user], "design_id").items():
            if text not in made:
                problem = f"No tool makes the design '{text}', named in {counted(count, 'row')}."
                repair = _meant("design_id", text, index.near(text), "give its tools that design_id")
                findings.append(Finding(user, row, "design_id", text, problem, repair, "note", source))
    return findings


def _repair_of_tool(tool: str, index: NameIndex) -> str:
    near = index.near(tool)
    if len(near) == 1:
        return f"If it is {near[0]}, write that, or add to the aliases table a row with {alias_row(tool, near[0])}."
    if not near:
        other = "if it is another number of a tool in use, say so in the aliases table, with old_tool_id and tool_id"
        return f"Add '{tool}' to the tools table, or correct the name; {other}."
    return _repair("tool_id", tool, index, "tools")


def _repair(column: str, text: str, index: NameIndex, table: str) -> str:
    near = index.near(text)
    return _meant(column, text, near, f"add '{text}' to the {table} table" + ("" if near else ", or correct the name"))


def _meant(column: str, text: str, near: Sequence[str], otherwise: str) -> str:
    """What to do where one of some near names may be meant, and where not."""
    if not near:
        return f"{otherwise[0].upper()}{otherwise[1:]}."
    if len(near) > 1:
        names = " or ".join(f"'{name}'" for name in near[:MOST_OFFERED])
        return f"If {names} is meant, write that; if not, {otherwise}."
    return f"If '{near[0]}' is meant, write that, or {choice_of(column, text, near[0])}; if not, {otherwise}."
