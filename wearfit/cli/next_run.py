"""`wearfit next-run`: the chance that a tool wears out before a run is finished."""

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

from cyclopts import Parameter
from rich.console import Console
from rich.text import Text

from wearfit.cli.options import Common, Day, ReadingsFile
from wearfit.cli.output import Answer
from wearfit.cli.tables import WIDE, Cell, print_line, print_table, warned
from wearfit.errors import Refusal
from wearfit.workflow.noted_words import LOOK
from wearfit.workflow.wording import CAUTION, FLASH, HELD, UNKNOWN, frequencies, frequency, readings_since, readings_uncounted, shots


def next_run(
    *,
    tool: Annotated[str | None, Parameter(metavar="ID")] = None,
    plant: Annotated[str | None, Parameter(metavar="ID")] = None,
    resin: Annotated[str | None, Parameter(metavar="ID")] = None,
    month: Annotated[str | None, Parameter(metavar="YYYY-MM")] = None,
    shots: Annotated[str | None, Parameter(metavar="N")] = None,
    runs: Annotated[Path | None, Parameter(metavar="FILE.csv")] = None,
    as_of: Day = None,
    after_plan: bool = False,
    readings: ReadingsFile = None,
    common: Common = Common(),  # noqa: B008
) -> Answer:
    """The chance that a tool wears out before a run is finished.

    Parameters
    ----------
    tool
        The tool that is to run.
    plant
        Where; one that the records do not know is taken as one of its kind.
    resin
        In what; likewise.
    month
        In which month, such as 2026-09.
    shots
        How many machine shots. All five describe one run.
    runs
        Instead of them, a file with the columns tool_id, plant_id, resin_id, month, shots: each row is asked alone.
    as_of
        Answer for this day; later than the calibration's own, each clock is rolled forward by expected use.
    after_plan
        Add the planned use up to the run's month first.
    readings
        Count these readings too: a file with the columns of the readings table. Nothing of it is stored.
    common
        What every command takes.
    """
    from wearfit.workflow import answers, questions

    one = {"--tool": tool, "--plant": plant, "--resin": resin, "--month": month, "--shots": shots}
    given = {name: value for name, value in one.items() if value is not None}
    if runs is not None:
        if given:
            raise Refusal(
                f"A file of runs and {', '.join(given)} were both given.", "Give `--runs FILE.csv`, or one run by its options.", 2
            )
        asked = questions.read_questions(runs)
    elif len(given) < len(one):
        absent = [name for name in one if name not in given]
        lacks = f"{', '.join(absent)} {'is' if len(absent) == 1 else 'are'} missing"
        raise Refusal(f"The run is not described in full: {lacks}.", "Give all of it, or a file with `--runs FILE.csv`.", 2)
    else:
        asked = [questions.question_of_options(*given.values())]
    document, answered = answers.next_run(common.store_url, asked, as_of, after_plan, readings)
    return Answer(document, lambda console: _show(console, document), 0 if answered else 1)


def _show(console: Console, document: Mapping[str, Any]) -> None:
    runs, wide = document["runs"], console.width >= WIDE
    run_columns = ("Tool", "Month", "Plant", "Resin", "Shots") if wide else ("Run",)
    columns = (*run_columns, "Wears out first", "Range", "Largest at\n1 in 10", *(("Any stop",) if wide else ()))
    rows = [_run(run) + _risk(run) + (frequency(run["p_any_stop"]),) if wide else _run_folded(run) + _risk(run) for run in runs]
    print_table(console, f"Will the run be finished? As of {document['as_of']}", columns, rows, right=("Shots", "Largest at\n1 in 10"))
    for run in runs:
        for note in _notes(run):
            print_line(console, f"{run['tool_id']}, {run['month']}, {run['plant_id']}: {note}")
    for sentence in readings_uncounted(document):
        print_line(console, sentence)
    print_line(
        console,
        "Wears out first: the chance that the tool wears out before the run is finished, and the range that holds this chance 9 times in "
        "10. Largest: the most shots that keep it at 1 in 10. "
        + ("Any stop: wear-out or sudden damage." if wide else "A wider screen shows the chance of any stop as well."),
    )
    if any(run["hold"] for run in runs):
        print_line(console, HELD, "bold")
    elif any(run["look_first"] for run in runs):
        print_line(console, FLASH)
    print_line(console, CAUTION)


def _run(run: Mapping[str, Any]) -> tuple[Cell, ...]:
    tool: Cell = warned(f"{run['tool_id']} STOP") if run["hold"] else run["tool_id"] or UNKNOWN
    return tool, *(run[column] or UNKNOWN for column in ("month", "plant_id", "resin_id")), shots(run["shots"])


def _run_folded(run: Mapping[str, Any]) -> tuple[Cell, ...]:
    """The run in one cell of two lines, for a narrow screen."""
    tool, month, plant, resin, number = _run(run)
    first = Text.assemble(tool, f", {month}, {number}\n{plant}, {resin}")
    return (first,)


def _risk(run: Mapping[str, Any]) -> tuple[Cell, ...]:
    largest = run["largest_run_at_risk"]["0.10"]
    return frequency(run["p_wear_out"]), frequencies(run["p_wear_out_interval"]), shots(largest)


def _notes(run: Mapping[str, Any]) -> list[str]:
    stop = "STOP: it is held." if run["hold"] else f"{LOOK}. {run['look_first']}" if run["look_first"] else None
    new = f"Never seen before, so taken as one of its kind: {', '.join(run['new'])}." if run["new"] else None
    return [note for note in (stop, run["problem"], *readings_since(run), new) if note]
