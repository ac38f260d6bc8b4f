"""Reader of a folder of files, and of one file alone."""

from pathlib import Path

from wearfit.errors import Refusal
from wearfit.records.readers import handover
from wearfit.records.readers.handover import Handover
from wearfit.records.readers.limits import ALL_BYTES, size_text


def is_folder(path: Path) -> bool:
    """Whether the path is a folder."""
    return path.is_dir()


def is_text_file(path: Path) -> bool:
    """Whether the path is a file with the ending of a text file."""
    return path.is_file() and path.suffix.lower() in handover.TEXT_ENDINGS


def is_workbook_file(path: Path) -> bool:
    """Whether the path is a file with the ending of a workbook."""
    return path.is_file() and path.suffix.lower() in handover.WORKBOOK_ENDINGS


def file_alone(path: Path) -> Handover:
    """The one file, whatever it is named."""
    return Handover(((path.name, handover.bytes_of(path)),))


def files_of_folder(path: Path) -> Handover:
    """The files of a folder that have the ending of a form that is read.

    Parameters
    ----------
    path : Path

    Returns
    -------
    Handover
        Folders within it and files of other forms are left out and told.

    Raises
    ------
    Refusal
        Where a file leads out of the folder, cannot be opened, or there are too many or too large ones.
    """
    name = path.absolute().name
    try:
        entries = sorted(entry for entry in path.iterdir() if not handover.is_leftover(entry.name))
    except OSError as error:
        raise Refusal(f"The folder '{path.name}' cannot be opened: {error.strerror}.", "Check that it may be read.") from error
    root = path.resolve()
    inside = [entry for entry in entries if entry.is_file()]
    for entry in inside:
        if not entry.resolve().is_relative_to(root):
            raise Refusal(f"{entry.name} leads out of the folder '{root.name}'.", "Put the file itself into the folder.")
    wanted = [entry for entry in inside if handover.is_read(entry.name)]
    handover.check_count(name, len(wanted))
    files = []
    total = 0
    for entry in wanted:
        content = handover.bytes_of(entry)
        total += len(content)
        if total > ALL_BYTES:
            problem = f"The files in '{name}' have more than the {size_text(ALL_BYTES)} that are read together."
            raise Refusal(problem, "Hand them over in parts, by year or by plant.")
        files.append((entry.name, content))
    others = [entry.name for entry in inside if entry not in wanted]
    return Handover(tuple(files), handover.left_out(others, [entry.name for entry in entries if entry.is_dir()]))
