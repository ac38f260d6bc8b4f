"""`wearfit next-run`: the chance that a tool wears out before a run is finished."""

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

from cyclopts import Parameter
from rich.console import Console

from wearfit.cli.options import Common, Day
from wearfit.cli.output import Answer
from wearfit.cli.tables import Cell, print_line, print_table, warned
from wearfit.cli.wording import CAUTION, HELD, frequencies, frequency, shots
from wearfit.errors import Refusal


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
    common: Common = Common(),  # noqa: B008
) -> Answer:
    """The chance that a tool wears out before a run is finished.

    Parameters
    ----------
    tool, plant, resin, month, shots
        The run: which tool, where, in what, when and how many machine shots.
    runs
        A file with the columns tool_id, plant_id, resin_id, month, shots instead: each row is asked alone.
    as_of
        Answer for this day; later than the calibration's own, each clock is rolled forward by expected use.
    after_plan
        Add the planned use up to the run's month first.
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
        absent = ", ".join(name for name in one if name not in given)
        raise Refusal(f"The run is not described in full: {absent} is missing.", "Give all of it, or a file with `--runs FILE.csv`.", 2)
    else:
        asked = [questions.question_of_options(*given.values())]
    document, answered = answers.next_run(common.store_url, asked, as_of, after_plan)
    return Answer(document, lambda console: _show(console, document), 0 if answered else 1)


def _show(console: Console, document: Mapping[str, Any]) -> None:
    runs = document["runs"]
    columns = ("Tool", "Month", "Plant", "Resin", "Shots", "Wears out first", "Range", "Any stop", "Largest run at 1 in 10", "To note")
    title = f"Will the run be finished? As of {document['as_of']}"
    print_table(console, title, columns, [_row(run) for run in runs], right=("Shots", "Largest run at 1 in 10"))
    print_line(
        console,
        "Wears out first: the chance that the tool wears out before the run is finished, and the range in which it lies with odds of "
        "9 in 10. Any stop: wear-out or sudden damage. Largest run: the most shots that keep the chance of wear-out at 1 in 10.",
    )
    if any(run["hold"] for run in runs):
        print_line(console, HELD, "bold")
    print_line(console, CAUTION)


def _row(run: Mapping[str, Any]) -> tuple[Cell, ...]:
    where = (run["tool_id"] or "", run["month"] or "", run["plant_id"] or "", run["resin_id"] or "", shots(run["shots"]))
    new = f"Never seen before, so taken as one of its kind: {', '.join(run['new'])}." if run["new"] else ""
    words = " ".join(filter(None, ["STOP: held." if run["hold"] else "", run["problem"], new]))
    note: Cell = warned(words) if run["hold"] or run["problem"] else words
    largest = shots(run["largest_run_at_risk"]["0.10"])
    return (*where, frequency(run["p_wear_out"]), frequencies(run["p_wear_out_interval"]), frequency(run["p_any_stop"]), largest, note)
