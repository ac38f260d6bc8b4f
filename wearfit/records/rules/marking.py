"""Findings about rows of a frame."""

from collections.abc import Mapping
from string import Formatter
from typing import Any

import numpy as np
import pandas as pd

from wearfit.records.cells import number_text
from wearfit.records.findings import Finding, Severity
from wearfit.records.frames import ROW, SOURCE, Frames, cells_by_row, numbered

Judged = tuple[dict[str, pd.DataFrame], list[Finding]]  # the tables as they are used, and what was noticed


def mark(table: str, rows: pd.DataFrame, column: str, problem: str, repair: str, severity: Severity) -> list[Finding]:
    """One finding for each of the rows.

    Parameters
    ----------
    table : str
    rows : DataFrame
        Rows of the table, with any further columns that the sentences name.
    column : str
        The column at fault.
    problem, repair : str
        Sentences in which {name} stands for the row's cell of that name.
    severity : Severity
    """
    if rows.empty:
        return []
    # Only the cells that the sentences name are written out; tables are wide and may have many rows at fault.
    named = {column, *(field for text in (problem, repair) for _, field, _, _ in Formatter().parse(text) if field)}
    # What is the same for all rows is held once.
    fixed = {text for text in (problem, repair) if "{" not in text and "}" not in text}
    findings = []
    for record in cells_by_row(rows[[*named, *(name for name in (ROW, SOURCE) if name not in named)]]):
        cells = {name: plain(record[name]) for name in named}
        value = cells[column] or None
        what, how = (text if text in fixed else text.format_map(cells) for text in (problem, repair))
        findings.append(Finding(table, int(record[ROW]), column, value, what, how, severity, source_of(record)))
    return findings


def source_of(record: Mapping[Any, Any]) -> str:
    """The file or sheet that a row stands in, "" where that is not known."""
    return str(record.get(SOURCE, ""))


def plain(cell: Any) -> str:
    """A cell as a person writes it; "" for a blank one."""
    if isinstance(cell, str):
        return cell
    if pd.isna(cell):
        return ""
    if isinstance(cell, pd.Timestamp):
        return cell.date().isoformat()
    return number_text(float(cell))


def grouped(number: float) -> str:
    """A large number for a sentence: 12,500."""
    return f"{number:,.0f}"


def counted(number: int, singular: str) -> str:
    """So many of a thing: "one run", "2,300 runs"."""
    return f"one {singular}" if number == 1 else f"{number:,} {singular}s"


def with_table(frames: Frames, name: str, frame: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """The tables with one of them replaced."""
    return {**frames, name: numbered(frame)}


def of_tool(frames: Frames, frame: pd.DataFrame, column: str) -> pd.Series:
    """What the tools table says of each row's tool, shape (row,); blank where the tool is not in it."""
    tools = frames["tools"]
    return by_tool(tools[column].set_axis(tools["tool_id"]), frame)


def by_tool(of_tools: pd.Series, frame: pd.DataFrame) -> pd.Series:
    """Each row's value out of one value a tool, shape (row,); blank where its tool has none."""
    place = {tool: i for i, tool in enumerate(of_tools.index)}
    codes, distinct = pd.factorize(frame["tool_id"].to_numpy(), use_na_sentinel=False)
    at = np.array([place.get(tool, -1) for tool in distinct], dtype=np.intp)[codes]
    values = of_tools.to_numpy()
    # As `reindex` does it, which makes an index of all names first.
    found = pd.api.extensions.take(values, at, allow_fill=True)
    return pd.Series(found, index=frame.index, name=of_tools.name, dtype=found.dtype)


def first_rows(frame: pd.DataFrame, column: str) -> Mapping[str, tuple[int, int, str]]:
    """First file row, number of rows and source of the first, of each text in a column, blank cells left out."""
    filled = np.flatnonzero((frame[column] != "").to_numpy())
    if not len(filled):
        return {}
    texts, rows, sources = (frame[name].to_numpy()[filled] for name in (column, ROW, SOURCE))
    codes, distinct = pd.factorize(texts, sort=True)
    order = np.lexsort((rows, pd.factorize(sources, sort=True)[0]))
    _, first = np.unique(codes[order], return_index=True)
    counts = np.bincount(codes).tolist()
    return {str(text): (int(rows[at]), n, str(sources[at])) for text, n, at in zip(distinct, counts, order[first], strict=True)}
