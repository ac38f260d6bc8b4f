"""The cases: records as an owner would hand them over, and what must come of them."""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from wearfit.records.choices import Choices, read_choices
from wearfit.records.findings import Finding

HERE: Final = Path(__file__).parent


@dataclass(frozen=True)
class Wanted:
    """A finding that must come: what is None is not compared, `row` 0 stands for a whole table or column.

    `source` and `value` hold a part of the finding's own; `problem` and `repair` hold words that the sentences must contain,
    in any case of letters; `times` is how often it must come, None for once or more.
    """

    table: str | None = None
    row: int | None = None
    column: str | None = None
    severity: str | None = None
    source: str = ""
    value: str = ""
    problem: Sequence[str] = ()
    repair: Sequence[str] = ()
    times: int | None = None

    def fits(self, finding: Finding) -> bool:
        return (
            self.table in (None, finding.table)
            and self.row in (None, finding.row or 0)
            and self.column in (None, finding.column)
            and self.severity in (None, finding.severity)
            and self.source in finding.source
            and self.value in (finding.value or "")
            and all(word.casefold() in finding.problem.casefold() for word in self.problem)
            and all(word.casefold() in finding.repair.casefold() for word in self.repair)
        )


@dataclass(frozen=True)
class Case:
    """One case.

    Parameters
    ----------
    name : str
    records : Path
        What is handed over.
    choices : Choices
    tables : mapping of str to mapping of str to int
        Rows, used and set aside by table.
    findings : tuple of Wanted
    silent : tuple of str
        What no finding may mention.
    facts : tuple of mapping
        Of the records in use: of the rows of `table` whose cells are as `where` says, `sum`, `min` or `max` of a column
        `is` a number or day, within the relative error `within`; or the different `texts` of a column `are` these.
    refusal : mapping or None
        Words that problem and repair of the refusal must contain, and its status.
    """

    name: str
    records: Path
    choices: Choices
    tables: Mapping[str, Mapping[str, int]]
    findings: tuple[Wanted, ...]
    silent: tuple[str, ...]
    facts: tuple[Mapping[str, Any], ...]
    refusal: Mapping[str, Any] | None


def read_case(folder: Path) -> Case:
    said = tomllib.loads((folder / "expected.toml").read_text(encoding="utf-8"))
    known = {"what", "records", "choices", "tables", "findings", "silent", "facts", "refusal"}
    if set(said) - known:
        raise ValueError(f"{folder.name}: {set(said) - known}")
    if ("refusal" in said) == ("facts" in said):
        raise ValueError(f"{folder.name} wants either a refusal or facts")
    return Case(
        folder.name,
        (folder / said.get("records", "records")).resolve(),
        read_choices(said.get("choices", "")),
        said.get("tables", {}),
        tuple(Wanted(**wanted) for wanted in said.get("findings", ())),
        tuple(said.get("silent", ())),
        tuple(said.get("facts", ())),
        said.get("refusal"),
    )


CASES: Final = tuple(read_case(path.parent) for path in sorted(HERE.glob("*/expected.toml")))
