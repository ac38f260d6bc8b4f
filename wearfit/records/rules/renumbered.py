"""Tools that may have been given another number: the aliases are offered, never taken."""

import re
from collections.abc import Collection, Hashable, Iterator, Mapping
from itertools import pairwise
from typing import Any, Final

from wearfit.records.findings import Finding
from wearfit.records.frames import ROW, Frames, cells_by_row
from wearfit.records.rules.marking import Judged, mark, source_of
from wearfit.records.spellings import zeroless

# What is added to a number when a tool was changed: T104 becomes T104A, T104-01 or T104R2. Common practice, from memory.
ADDED: Final = re.compile(r"(?:[A-Za-z]|[-_/. ]\d{1,2}|[-_/. ]?R(?:EV)?[-_. ]?\d{1,2})", re.IGNORECASE)
LONGEST: Final = 8  # characters that ADDED may take


def alias_row(old: str, new: str, since: str = "") -> str:
    """The row of the aliases table to write, in words."""
    day = f", since {since}" if since else ""
    return f"old_tool_id '{old}', tool_id '{new}'{day}"


def note_renumbered(frames: Frames) -> Judged:
    """Note tools whose numbers differ in spelling alone, and tools that seem to go on under a longer number."""
    tools = frames["tools"]
    findings = []
    spelt: dict[str, list[str]] = {}
    for tool in tools["tool_id"]:
        spelt.setdefault(zeroless(tool), []).append(tool)
    for alike in spelt.values():
        if len(alike) > 1:
            rows = tools[tools["tool_id"].isin(alike[1:])].assign(first=alike[0])
            findings += mark(
                "tools", rows, "tool_id", "'{tool_id}' and '{first}' differ in spelling alone and are taken for two tools.",
                f"If they are one, add to the aliases table a row with {alias_row('{tool_id}', '{first}')}.", "note",
            )  # fmt: skip
    return dict(frames), findings + list(_gone_on(frames))


def _gone_on(frames: Frames) -> Iterator[Finding]:
    """One note for each pair of numbers with one stem of which one's runs end before the other's begin."""
    families = {stem: family for stem, family in _families(frames["tools"]["tool_id"].tolist()).items() if len(family) > 1}
    if not families:
        return
    rows = {str(row["tool_id"]): row for row in cells_by_row(frames["tools"])}
    retired = set(frames["events"].loc[frames["events"]["event"] == "retire", "tool_id"])
    runs = frames["runs"]
    members = {tool for family in families.values() for tool in family}
    spans = runs[runs["tool_id"].isin(members)].groupby("tool_id").agg(first=("started_on", "min"), last=("ended_on", "max"))
    for family in families.values():
        used = spans[spans.index.isin(family)].sort_values("first")
        if len(used) < len(family) or (used["first"].iloc[1:].to_numpy() <= used["last"].iloc[:-1].to_numpy()).any():
            continue  # sisters that run side by side, or one that never ran
        order = [str(tool) for tool in used.index]
        for old, new in pairwise(order):
            if old not in retired and len(old) <= len(new) and _alike(rows[old], rows[new]):
                yield _offer(rows[new], old, str(used["last"][old].date()), str(used["first"][new].date()))


def _families(tools: Collection[str]) -> dict[str, list[str]]:
    """Tools by the number in use that theirs is made from, that one first."""
    known = set(tools)
    families: dict[str, list[str]] = {}
    for tool in sorted(tools):
        stems = (tool[:-n] for n in range(LONGEST, 0, -1) if n < len(tool) and tool[:-n] in known and ADDED.fullmatch(tool[-n:]))
        stem = next(stems, None)
        if stem is not None:
            families.setdefault(stem, [stem]).append(tool)
    return families


def _alike(one: Mapping[Hashable, Any], other: Mapping[Hashable, Any]) -> bool:
    """Whether two tools have one design, or one number of cavities where a design is not given."""
    if one["design_id"] and other["design_id"]:
        return bool(one["design_id"] == other["design_id"])
    return bool(one["cavities"] == other["cavities"])


def _offer(tool: Mapping[Hashable, Any], old: str, last: str, first: str) -> Finding:
    new = str(tool["tool_id"])
    problem = (
        f"The runs of '{old}' end on {last} and those of '{new}' begin on {first}; it may be one tool that was given another "
        "number when it was changed. They are taken for two, and the wear of the first is not counted to the second."
    )
    repair = f"If they are one, add to the aliases table a row with {alias_row(old, new, first)}."
    return Finding("tools", int(tool[ROW]), "tool_id", new, problem, repair, "note", source_of(tool))
