"""What a reader noticed about one row, written for the person who typed the sheet."""

from dataclasses import asdict, dataclass
from typing import Literal

Severity = Literal["note", "repaired", "set_aside"]


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing noticed in the records.

    `row` counts as a spreadsheet does: the header is row 1, so the first record is row 2; None speaks of the
    whole table. `severity` is "note" (used as it is), "repaired" (used after a repair that `repair` names) or
    "set_aside" (not used until repaired).
    """

    table: str
    row: int | None
    column: str | None
    value: str | None
    problem: str
    repair: str
    severity: Severity

    def as_dict(self) -> dict[str, str | int | None]:
        return asdict(self)
