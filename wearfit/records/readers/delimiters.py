"""What parts the columns of a text: judged by its first lines."""

import csv
import io
import re
from collections import Counter
from collections.abc import Sequence
from typing import Final

# In the order in which a tie is broken: a tab is hardly ever typed within a cell, a comma often.
DELIMITERS: Final = ("\t", ";", "|", ",")

_LINES: Final = 200  # enough to tell; judgement
_NAMED = re.compile(r'"?sep=(.)"?[ \t]*\Z', re.IGNORECASE)
_DECIMAL_COMMA = re.compile(r"(?<=\d),(?=\d)")


def named_delimiter(first_line: str) -> str | None:
    """Delimiter that a first line such as "sep=;" names, as spreadsheets write and read it, or None."""
    named = _NAMED.fullmatch(first_line.rstrip("\r\n"))
    return named[1] if named else None


def delimiter_of(head: str) -> str:
    """What parts the columns of a text.

    Parameters
    ----------
    head : str
        Its beginning; the last line may be cut.

    Returns
    -------
    str
        The delimiter that cuts most lines into equally many cells, a comma where none cuts any. Delimiters within double quotes
        do not count, nor commas that only ever stand between two digits where another delimiter serves.
    """
    counts = {delimiter: _cells_by_line(head, delimiter) for delimiter in DELIMITERS}
    scores = {delimiter: _evenness(cells) for delimiter, cells in counts.items()}
    others = max(scores[delimiter] for delimiter in DELIMITERS if delimiter != ",")
    if others > (0.5, 0) and _evenness(_cells_by_line(_DECIMAL_COMMA.sub(".", head), ",")) < (0.2, 0):
        scores[","] = (0.0, 0)
    best = max(DELIMITERS, key=lambda delimiter: scores[delimiter])
    return best if scores[best][0] > 0 else ","


def _cells_by_line(head: str, delimiter: str) -> list[int]:
    """Cells in each line that is not blank, the last left out where others stand, for it may be cut."""
    lines = csv.reader(io.StringIO(head, newline=""), delimiter=delimiter)
    counts: list[int] = []
    try:
        for cells in lines:
            if any(map(str.strip, cells)):
                counts.append(len(cells))
            if len(counts) > _LINES:
                break
    except csv.Error:
        pass
    return counts[:-1] if len(counts) > 2 else counts


def _evenness(counts: Sequence[int]) -> tuple[float, int]:
    """Share of the lines that have the most common number of cells above one; then how early the first of them stands."""
    cut = Counter(count for count in counts if count > 1)
    if not cut:
        return 0.0, 0
    common, lines = max(cut.items(), key=lambda pair: (pair[1], pair[0]))
    return lines / len(counts), -counts.index(common)
