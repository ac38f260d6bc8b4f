"""Findings about rows of a frame."""

from collections.abc import Mapping
from typing import Any

import pandas as pd

from wearfit.records.cells import number_text
from wearfit.records.findings import Finding, Severity
from wearfit.records.frames import ROW, Frames

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
    findings = []
    for record in rows.to_dict("records"):
        cells = {str(name): plain(cell) for name, cell in record.items()}
        value = cells.get(column) or None
        findings.append(Finding(table, int(record[ROW]), column, value, problem.format_map(cells), repair.format_map(cells), severity))
    return findings


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


def with_table(frames: Frames, name: str, frame: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """The tables with one of them replaced."""
    return {**frames, name: frame.reset_index(drop=True)}


def of_tool(frames: Frames, frame: pd.DataFrame, column: str) -> pd.Series:
    """What the tools table says of each row's tool, shape (row,); blank where the tool is not in it."""
    return by_tool(frames["tools"].set_index("tool_id")[column], frame)


def by_tool(of_tools: pd.Series, frame: pd.DataFrame) -> pd.Series:
    """Each row's value out of one value a tool, shape (row,); blank where its tool has none."""
    return of_tools.reindex(frame["tool_id"]).set_axis(frame.index)


def first_rows(frame: pd.DataFrame, column: str) -> Mapping[str, tuple[int, int]]:
    """First file row and number of rows of each text in a column, blank cells left out."""
    filled = frame[frame[column] != ""]
    if filled.empty:
        return {}
    by_text = filled.groupby(column, sort=True)[ROW].agg(["min", "size"])
    return {str(text): (int(first), int(count)) for text, first, count in by_text.itertuples()}
