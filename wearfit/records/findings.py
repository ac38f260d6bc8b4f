"""What a reader noticed about one row, written for the person who typed the sheet."""

from dataclasses import asdict, dataclass
from typing import Literal

Severity = Literal["note", "repaired", "set_aside"]


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing noticed in the records.

    `row` counts as a spreadsheet does, from 1 with the title and header rows; None speaks of the whole table or
    column. `source` is the file or sheet that the row stands in, "" where there is none to name. `severity` is
    "note" (used as it is), "repaired" (used after a repair that the finding names) or "set_aside" (not used until
    repaired).
    """

    table: str
    row: int | None
    column: str | None
    value: str | None
    problem: str
    repair: str
    severity: Severity
    source: str = ""

    def as_dict(self) -> dict[str, str | int | None]:
        return asdict(self)
