"""What a reader noticed about one row, written for the person who typed the sheet."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Final, Literal

Severity = Literal["note", "repaired", "set_aside"]

LONGEST_VALUE: Final = 200  # characters of a cell that a finding quotes; a cell may hold a page, and a list of findings is to be read


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing noticed in the records.

    `row` counts as a spreadsheet does, from 1 with the title and header rows; None speaks of the whole table or
    column. `source` is the file or sheet that the row stands in, "" where there is none to name. `severity` is
    "note" (used as it is), "repaired" (used after a repair that the finding names) or "set_aside" (not used until
    repaired). `value`, `problem` and `repair` are kept as one line of printable text, the value at most
    LONGEST_VALUE characters of it.
    """

    table: str
    row: int | None
    column: str | None
    value: str | None
    problem: str
    repair: str
    severity: Severity
    source: str = ""

    def __post_init__(self) -> None:
        if self.value is not None:
            object.__setattr__(self, "value", shown(self.value, LONGEST_VALUE))
        for name in ("problem", "repair"):
            sentence = getattr(self, name)
            if not sentence.isprintable():
                object.__setattr__(self, name, shown(sentence))

    def as_dict(self) -> dict[str, str | int | None]:
        return asdict(self)


def shown(text: str, longest: int | None = None) -> str:
    """Text as it can be quoted: on one line, what cannot be printed as a question mark in a lozenge, no longer than said.

    Parameters
    ----------
    text : str
    longest : int, optional
        Most characters; one that is cut ends in an ellipsis, which counts.
    """
    if longest is not None and len(text) > longest:
        text = text[: longest - 1] + "…"
    if text.isprintable():
        return text
    return "".join(letter if letter.isprintable() else " " if letter.isspace() else "\N{REPLACEMENT CHARACTER}" for letter in text)


def listed(names: Sequence[str]) -> str:
    """Names as a sentence lists them: "A", "A and B", "A, B and C"."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
