"""Questions about next runs, from the cells of a file or of the command line."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from wearfit.errors import Refusal
from wearfit.forecasts.next_run import RISKS
from wearfit.forecasts.run_question import RunQuestion
from wearfit.records.cells import Unreadable, clean
from wearfit.records.columns import Column
from wearfit.workflow.asked_file import canonical_cells, read_asked_file

COLUMNS: Final = (
    Column("tool_id", "text", required=True),
    Column("plant_id", "text", required=True),
    Column("resin_id", "text", required=True),
    Column("month", "month", required=True),
    Column("shots", "count", required=True, low=1),
)


@dataclass(frozen=True)
class Question:
    """One question, or why its cells are none.

    Parameters
    ----------
    cells : mapping of str to str
        As typed, by column.
    run : RunQuestion or None
    problem : str
        In a sentence with its repair, where `run` is None.
    """

    cells: Mapping[str, str]
    run: RunQuestion | None
    problem: str = ""


def question_of(cells: Mapping[str, str]) -> Question:
    """The question that five cells ask."""
    try:
        values = canonical_cells(cells, COLUMNS)
    except Unreadable as unreadable:
        return Question(cells, None, f"{unreadable.problem} {unreadable.repair}")
    return Question(cells, RunQuestion(values["tool_id"], values["plant_id"], values["resin_id"], values["month"], int(values["shots"])))


def read_questions(path: Path) -> list[Question]:
    """Questions of a CSV file with the columns of COLUMNS, in any order; columns beside them are passed over.

    Raises
    ------
    Refusal
        Status 2, where the file cannot be read, lacks a column or asks nothing.
    """
    return [question_of(row.cells) for row in read_asked_file(path, "run", COLUMNS)]


def question_of_options(tool: str, plant: str, resin: str, month: str, shots: str) -> Question:
    """The question that the options of the command ask.

    Raises
    ------
    Refusal
        Status 2, where an option's value makes no sense.
    """
    asked = question_of({"tool_id": tool, "plant_id": plant, "resin_id": resin, "month": month, "shots": shots})
    if asked.run is None:
        raise Refusal(asked.problem, "See `wearfit next-run --help`.", 2)
    return asked


def unanswered(question: Question) -> dict[str, Any]:
    """The answer to a row that asks nothing, in the shape of the others."""
    cells = {column.name: clean(question.cells.get(column.name, "")) or None for column in COLUMNS}
    return {
        **cells, "shots": None, "p_wear_out": None, "p_wear_out_interval": [None, None], "p_any_stop": None, "hold": False,
        "largest_run_at_risk": {f"{risk:.2f}": None for risk in RISKS}, "new": [], "readings_since": 0, "readings_note": None,
        "problem": question.problem,
    }  # fmt: skip
