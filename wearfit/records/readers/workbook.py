"""A workbook as grids: read by a process of its own, which may die without harm."""

import contextlib
import json
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from dataclasses import asdict, replace
from pathlib import Path, PurePosixPath
from typing import Any, Final, Literal

import wearfit
from wearfit.errors import Refusal
from wearfit.records.findings import Finding, shown
from wearfit.records.readers.book import OUT_OF_MEMORY
from wearfit.records.readers.grid import Cell, Grid
from wearfit.records.readers.handover import table_called
from wearfit.records.readers.limits import BOUNDS, NAME, Bounds, size_text

_MODULE: Final = "wearfit.records.readers.workbook_process"
_LAST_WORD: Final = {"done": True}
# Where a single sheet goes by a name that its program gave it, the file's name tells more. From memory.
_NAMES_OF_PROGRAMS: Final = ("sheet", "tabelle", "feuil", "feuille", "hoja", "foglio", "planilha", "arkusz", "blad", "ark", "list", "munka")


def grids_of_workbook(
    name: str, content: bytes, form: Literal["workbook", "open document"], bounds: Bounds = BOUNDS
) -> tuple[tuple[Grid, ...], tuple[Finding, ...]]:
    """Read the bytes of an XLSX, XLSM or ODS workbook.

    Parameters
    ----------
    name : str
        Of the file, with its ending.
    content : bytes
    form : str
        "workbook" for XLSX and XLSM, "open document" for ODS.
    bounds : Bounds

    Returns
    -------
    tuple of Grid
        The sheets that have a filled cell, in the order of the workbook.
    tuple of Finding
        One a sheet with formulas whose result is not stored.

    Raises
    ------
    Refusal
        Where it is damaged or protected, goes past a bound, or cannot be read within the memory and time that are allowed.
    """
    grids: list[Grid] = []
    findings: list[Finding] = []
    rows: list[tuple[Cell, ...]] = []
    memo: dict[Cell, Cell] = {}
    share = memo.setdefault  # a word that stands in thousands of rows is held once
    for message in _told(name, content, form, bounds):
        if isinstance(message, list):
            rows.extend(tuple(map(share, row, row)) for row in message)
            continue
        sheet = message["sheet"]
        called = shown(sheet["name"], NAME)
        source = f"{name}, sheet {called}"
        if any(rows):
            merged = tuple((first_row, first, last_row, last) for first_row, first, last_row, last in sheet["merged"])
            percents, months = (tuple((at, first, last) for at, first, last in sheet[shown]) for shown in ("percents", "months"))
            grids.append(
                Grid(source, called, rows, merged, sheet["hidden"], percents=percents, months=months, from_1904=sheet["from_1904"])
            )
        if sheet["lost"]:
            findings.append(_lost_formulas(source, called, sheet["lost"], sheet["lost_at"]))
        rows = []
    return _named_by_file(name, grids), tuple(findings)


def _told(name: str, content: bytes, form: str, bounds: Bounds) -> Iterator[Any]:
    """What the process says, but for its last word.

    Raises
    ------
    Refusal
        Where it refuses, or ends without a last word.
    """
    # No import from the folder that the user happens to stand in; but from where this package lies, installed or not.
    command = [sys.executable, "-P", "-m", _MODULE, name, form, json.dumps(asdict(bounds))]
    package = str(Path(wearfit.__file__).parent.parent)
    paths = os.pathsep.join([package, *filter(None, [os.environ.get("PYTHONPATH")])])
    late = threading.Event()
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, env={**os.environ, "PYTHONPATH": paths}
    ) as process:

        def stop() -> None:
            late.set()
            process.kill()

        clock = threading.Timer(bounds.wall_s, stop)
        clock.daemon = True
        clock.start()
        try:
            assert process.stdin is not None and process.stdout is not None
            with contextlib.suppress(BrokenPipeError):  # it died; its end says why
                process.stdin.write(content)
            with contextlib.suppress(BrokenPipeError):
                process.stdin.close()
            for line in process.stdout:
                message = _understood(line)
                if isinstance(message, dict) and "problem" in message:
                    raise Refusal(message["problem"], message["repair"])
                if message is None or message == _LAST_WORD:
                    break
                yield message
            else:
                process.wait()  # so that its own end is seen, not the one that follows
                message = None
        finally:
            clock.cancel()
            process.kill()
    if message is None:
        raise _died(name, process.returncode, late.is_set(), bounds)


def _understood(line: bytes) -> Any:
    """What a line says; None where the process died over it."""
    try:
        return json.loads(line)
    except ValueError:
        return None


def _died(name: str, status: int, was_late: bool, bounds: Bounds) -> Refusal:
    # Negative: the number of the signal. Not all systems have all of them.
    ended_by = {-getattr(signal, word, 0): word for word in ("SIGXCPU", "SIGABRT", "SIGKILL")}.get(status)
    if was_late or ended_by == "SIGXCPU":
        why = f"it takes longer than the {bounds.wall_s if was_late else bounds.cpu_s:,} seconds that are allowed"
    elif status == OUT_OF_MEMORY or ended_by in ("SIGABRT", "SIGKILL"):
        why = f"it needs more than the {size_text(bounds.memory_bytes)} of memory that are allowed"
    else:
        why = "the program that reads workbooks stopped over it"
    return Refusal(f"{name} cannot be read: {why}.", "Save it anew, or save each sheet as 'CSV UTF-8', and leave out what is not records.")


def _lost_formulas(source: str, sheet: str, count: int, first: str) -> Finding:
    cells = "1 cell holds a formula" if count == 1 else f"{count:,} cells hold formulas"
    problem = f"In {source}, {cells} without a stored result, read as blank; the first is {first}."
    repair = "Open it in a spreadsheet program, let it calculate, and save it."
    return Finding(table_called(sheet), None, None, first, problem, repair, "note", source)


def _named_by_file(name: str, grids: list[Grid]) -> tuple[Grid, ...]:
    """The grids; a single one under a name such as Sheet1 by the name of the file."""
    if len(grids) == 1 and grids[0].name.rstrip(" 0123456789").casefold() in _NAMES_OF_PROGRAMS:
        return (replace(grids[0], name=PurePosixPath(name).stem),)
    return tuple(grids)
