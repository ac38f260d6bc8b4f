"""The forms in which people hand over records, and the grids of cells that their files hold."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from wearfit.errors import Refusal
from wearfit.records.choices import Choices
from wearfit.records.findings import Finding, Severity
from wearfit.records.readers import archive, handover
from wearfit.records.readers import files as disk
from wearfit.records.readers.content import Form, form_of
from wearfit.records.readers.encodings import oddness_by_codec
from wearfit.records.readers.grid import Grid
from wearfit.records.readers.handover import Handover, ending, table_named
from wearfit.records.readers.limits import BOUNDS, Bounds
from wearfit.records.readers.text import grid_of_text
from wearfit.records.readers.workbook import grids_of_workbook
from wearfit.records.readers.zips import is_zip


@dataclass(frozen=True)
class Reader:
    """A form of records: whether a path has it, and the files that it holds."""

    form: str
    accepts: Callable[[Path], bool]
    files: Callable[[Path], Handover]


READERS: tuple[Reader, ...] = (
    Reader("a folder of such files", disk.is_folder, disk.files_of_folder),
    Reader("a text file (CSV, TSV, TXT)", disk.is_text_file, disk.file_alone),
    Reader("a workbook (XLSX, XLSM, ODS)", disk.is_workbook_file, disk.file_alone),
    Reader("a ZIP archive of such files", archive.accepts, archive.files_of_archive),
)


def files_of(path: Path) -> Handover:
    """The files that a path holds, as they came.

    Raises
    ------
    Refusal
        Status 2 where there is nothing at the path or no reader for its form, status 1 where it cannot be opened or holds no file
        that can be read.
    """
    if not path.exists():
        raise Refusal(f"There is nothing at '{path}'.", "Give the folder or file that holds the records.", status=2)
    reader = next((reader for reader in READERS if reader.accepts(path)), None)
    if reader is None:
        forms = "; ".join(reader.form for reader in READERS)
        raise Refusal(f"'{path.name}' is not records in a form that can be read.", f"Give one of these: {forms}.", status=2)
    handed = reader.files(path)
    for name, _ in handed.files:
        if not name.isprintable():
            raise Refusal(f"The name of the file {name!a} has characters that cannot be shown.", "Rename it.")
    if not handed.files:
        endings = ", ".join(ending[1:].upper() for ending in handover.TEXT_ENDINGS[:2] + handover.WORKBOOK_ENDINGS[:3])
        raise Refusal(
            f"'{path.absolute().name}' holds no file that can be read as a table.", f"Put the records into it as {endings} files."
        )
    return handed


def grids_of(
    files: Sequence[tuple[str, bytes]],
    choices: Choices = Choices(),  # noqa: B008
    bounds: Bounds = BOUNDS,
) -> tuple[tuple[Grid, ...], tuple[Finding, ...]]:
    """The sheets of all files, each file read as what it is, whatever its name says.

    Parameters
    ----------
    files : sequence of (str, bytes)
        Names and bytes.
    choices : Choices
    bounds : Bounds

    Returns
    -------
    tuple of Grid
        In the order of the files and of the sheets within them; sheets without a filled cell are none.
    tuple of Finding
        What was guessed, and what is read otherwise than its name says or not at all.

    Raises
    ------
    Refusal
        Where a file cannot be read, all are empty or they hold too much. A TXT file that cannot be read is left out with a
        finding where it lies beside others and is not named as a table, for it may be anything.
    """
    grids: list[Grid] = []
    findings: list[Finding] = []
    cells = 0
    undecided = [content for name, content in files if choices.encoding_of(name) is None and not is_zip(content)]
    pooled = oddness_by_codec(undecided) if len(undecided) > 1 else {}
    for name, content in files:
        try:
            more, told = _grids_of_file(name, content, choices, pooled, bounds)
        except Refusal as refusal:
            if len(files) == 1 or not handover.may_be_prose(name):
                raise
            more, told = (), (_about(name, f"{name} was left out: {refusal.problem}", refusal.repair, "set_aside"),)
        grids += more
        findings += told
        cells += sum(sum(map(len, grid.cells)) for grid in more)
        if cells > bounds.cells:
            problem = f"The files hold more than the {bounds.cells:,} cells that are read together; {name} is the one that is too much."
            raise Refusal(problem, "Hand them over in parts, by year or by plant.")
    if not grids:
        names = ", ".join(name for name, _ in files[: handover.SHOWN])
        raise Refusal(f"{names} {'is' if len(files) == 1 else 'are'} empty.", "Its first row must name the columns of a table.")
    return tuple(grids), tuple(findings)


def _grids_of_file(
    name: str, content: bytes, choices: Choices, pooled: Mapping[str, int], bounds: Bounds
) -> tuple[tuple[Grid, ...], tuple[Finding, ...]]:
    form = form_of(name, content)
    grids: tuple[Grid, ...]
    if form == "text":
        grid, findings = grid_of_text(name, content, choices, pooled, bounds)
        grids = () if grid is None else (grid,)
    elif form == "archive":
        raise Refusal(f"{name} is a ZIP archive and not what its name says.", "Rename it so that it ends in .zip, or unpack it.")
    else:
        grids, findings = grids_of_workbook(name, content, form, bounds)
    if not grids:
        return (), (_about(name, f"{name} is empty.", "Nothing needs doing, or fill it in.", "note"), *findings)
    return grids, (*_misnamed(name, form), *findings)


def _misnamed(name: str, form: Form) -> tuple[Finding, ...]:
    named_as_text = ending(name) in handover.TEXT_ENDINGS
    if named_as_text == (form == "text"):
        return ()
    what, right = ("text", ".csv") if form == "text" else ("a workbook", ".ods" if form == "open document" else ".xlsx")
    problem = f"{name} is {what} by its content and is read as such."
    return (_about(name, problem, f"Nothing needs doing, or let its name end in {right}.", "note"),)


def _about(name: str, problem: str, repair: str, severity: Severity) -> Finding:
    return Finding(table_named(name), None, None, name, problem, repair, severity, name)
