"""Reader of files that come as names and bytes, such as those that were dropped on a page: nothing of them touches a disk."""

from collections import Counter
from collections.abc import Sequence
from typing import Final

from wearfit.errors import Refusal
from wearfit.records.findings import Finding, shown
from wearfit.records.readers import handover
from wearfit.records.readers.archive import unpacked
from wearfit.records.readers.handover import Handover
from wearfit.records.readers.limits import ALL_BYTES, FILE_BYTES, NAME, size_text

LONGEST_NAME: Final = 200  # of several files together, as a store lists them


def files_dropped(files: Sequence[tuple[str, bytes]]) -> Handover:
    """Files as if they lay in one folder, the members of archives beside the others.

    Parameters
    ----------
    files : sequence of (str, bytes)
        Names without folders, and bytes.

    Returns
    -------
    Handover
        In order of names; what is in no form that is read is left out and told.

    Raises
    ------
    Refusal
        Where there is nothing to be read, there is too much of it, a name comes twice or an archive is damaged.
    """
    found: list[tuple[str, bytes]] = []
    findings: list[Finding] = []
    others: list[str] = []
    for name, content in files:
        if len(content) > FILE_BYTES:
            raise handover.too_large(shown(name, NAME), len(content))
        if handover.ending(name) in handover.ARCHIVE_ENDINGS:
            inside = unpacked(name, content)
            found += inside.files
            findings += inside.findings
        elif handover.is_read(name):
            found.append((name, content))
        elif not handover.is_leftover(name):
            others.append(name)
    twice = [name for name, count in Counter(name for name, _ in found).items() if count > 1]
    if twice:
        raise Refusal(f"Two of the files are named {shown(twice[0], NAME)}.", "Rename or leave out one of them.")
    if sum(len(content) for _, content in found) > ALL_BYTES:
        problem = f"The files have more than the {size_text(ALL_BYTES)} that are read together."
        raise Refusal(problem, "Hand them over in parts, by year or by plant.")
    handover.check_count(name_of(files), len(found))
    for name, _ in found:
        if not name.isprintable():
            raise Refusal(f"The name of the file {name!a} has characters that cannot be shown.", "Rename it.")
    if not found:
        raise Refusal(f"{name_of(files)} holds no file that can be read as a table.", "Hand over CSV, XLSX or ODS files, or a ZIP of them.")
    return Handover(tuple(sorted(found)), (*findings, *handover.left_out(others, ())))


def name_of(files: Sequence[tuple[str, bytes]]) -> str:
    """What files are called together: the same for the same names, whatever their order."""
    return shown(", ".join(sorted(name for name, _ in files)), LONGEST_NAME)
