"""`wearfit history`: who did what when, what the store held then, and going back."""

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

from cyclopts import Parameter
from rich.console import Console

from wearfit.cli.options import Common
from wearfit.cli.output import Answer
from wearfit.cli.tables import print_line, print_table
from wearfit.errors import Refusal


def history(
    *,
    tool: Annotated[str | None, Parameter(metavar="ID")] = None,
    after: Annotated[int | None, Parameter(metavar="LINE")] = None,
    out: Annotated[Path | None, Parameter(metavar="FOLDER")] = None,
    restore: Annotated[int | None, Parameter(metavar="LINE")] = None,
    common: Common = Common(),  # noqa: B008
) -> Answer:
    """List who did what when in the store; show what it held then, or bring that back.

    Parameters
    ----------
    tool
        Every version of each row of this tool, and what it changed.
    after
        What the store held after this line.
    out
        With --after: write its rows there, a CSV file a table.
    restore
        Bring back what the store held after this line: rows, choices, settings and the current calibration. Nothing is lost.
    common
        What every command takes.
    """
    from wearfit.workflow import kept_history

    if sum(chosen is not None for chosen in (tool, after, restore)) > 1:
        raise Refusal("Two of `--tool`, `--after` and `--restore` are given.", "Give one of them.", 2)
    if out is not None and after is None:
        raise Refusal("`--out` says where to write the rows of a past state, and none is named.", "Name its line with `--after`.", 2)
    if after is not None:
        document = kept_history.state_after(common.store_url, after, out)
        return Answer(document, lambda console: _show_state(console, document))
    if restore is not None:
        document = kept_history.restore(common.store_url, restore)
        return Answer(document, lambda console: _show_restored(console, document))
    document = kept_history.history(common.store_url, tool)
    if tool is not None:
        return Answer(document, lambda console: _show_versions(console, document, kept_history.version_in_words))
    return Answer(document, lambda console: _show_lines(console, document, kept_history.in_words))


def _show_lines(console: Console, document: Mapping[str, Any], in_words: Any) -> None:
    rows = [(str(line["line"]), _when(line), line["by"] or "", in_words(line)) for line in document["lines"]]
    print_table(console, "History", ("Line", "When (UTC)", "Who", "What"), rows, right=("Line",))
    if not rows:
        print_line(console, "Nothing has been stored yet.")


def _show_versions(console: Console, document: Mapping[str, Any], in_words: Any) -> None:
    rows, before = [], None
    for v in document["versions"]:
        row = v["table"], " ".join(str(cell) for cell in v["key"])
        rows.append((*(row if row != before else ("", "")), str(v["line"] or ""), _when(v), v["by"] or "", in_words(v)))
        before = row
    columns = ("Table", "Row", "Line", "When (UTC)", "Who", "What it says")
    print_table(console, f"Versions of the rows of {document['tool_id']}", columns, rows, right=("Line",))


def _show_state(console: Console, document: Mapping[str, Any]) -> None:
    tables = [(table, f"{rows:,}") for table, rows in document["rows"].items()]
    print_table(console, f"After line {document['line']}", ("Table", "Rows"), tables, right=("Rows",))
    then = document["calibration_then"]
    print_line(console, "No calibration answered yet." if then is None else f"Calibration {then} answered.")
    for name, value in document["settings"].items():
        print_line(console, f"Setting {name}: {value}")
    for file in document["files"]:
        print_line(console, f"Written: {file}")


def _show_restored(console: Console, document: Mapping[str, Any]) -> None:
    if document["line"] is None:
        print_line(console, f"The store is as it was after line {document['restored']}; nothing was changed.")
    else:
        print_line(
            console,
            f"The state after line {document['restored']} is back (line {document['line']}): {document['brought_back']:,} rows "
            f"brought back, {document['withdrawn']:,} withdrawn. What was there before is kept: "
            f"`wearfit history --restore {document['before']}`.",
        )
    if document["note"]:
        print_line(console, document["note"])
    if document["calibration"] is not None:
        print_line(console, f"Calibration {document['calibration']} answers; `wearfit recalibrate` calibrates on the rows now in force.")


def _when(line: Mapping[str, Any]) -> str:
    return (line["at"] or "")[:16].replace("T", " ")
