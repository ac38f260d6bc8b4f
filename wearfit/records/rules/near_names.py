"""Plants, resins, designs, makers and products that may be one under two names: told, never made one."""

from collections.abc import Iterator, Sequence
from typing import Final

from wearfit.records.findings import Finding
from wearfit.records.frames import Frames
from wearfit.records.respelling import choice_of
from wearfit.records.rules.marking import Judged, counted, first_rows
from wearfit.records.rules.references import OF_PLANTS, OF_RESINS, SHORTEST_OF
from wearfit.records.spellings import SHORTEST, name_index, spelling_key

# By column: the tables whose names are compared, and the table that describes them, if any. A name near to a described one is told by
# `judge_references`; two described ones are two, but for spellings of one name that describe it differently.
_COMPARED: Final = (
    ("plant_id", OF_PLANTS, "plants", "The wear of each is then learned apart."),
    ("resin_id", OF_RESINS, "resins", "The wear in each is then learned apart."),
    ("design_id", ("tools",), "", "Their tools then do not learn from each other."),
    ("maker_id", ("tools",), "", "Their tools then do not learn from each other."),
    ("product_id", ("bill", "plan"), "", "What is planned for one is then not made for the other."),
)  # fmt: skip


def note_near_names(frames: Frames) -> Judged:
    """Note pairs of names that may be one, such as "North Works" and "North Work"."""
    findings: list[Finding] = []
    for column, tables, described_in, consequence in _COMPARED:
        described = list(frames[described_in][column]) if described_in else []
        findings += _spelt_alike(described, frames, column, described_in, consequence)
        findings += _near(frames, column, tables, described, consequence)
    return dict(frames), findings


def _spelt_alike(described: Sequence[str], frames: Frames, column: str, table: str, consequence: str) -> Iterator[Finding]:
    spelt: dict[str, str] = {}
    rows = first_rows(frames[table], column) if described else {}
    for name, (row, _, source) in rows.items():
        first = spelt.setdefault(spelling_key(name), name)
        if first != name:
            problem = f"'{first}' and '{name}' differ in spelling alone but are described otherwise; they are taken for two. {consequence}"
            repair = f"If they are one, let their rows of {table} say the same, or write {choice_of(column, name, first)}."
            yield Finding(table, row, column, name, problem, repair, "note", source)


def _near(frames: Frames, column: str, tables: Sequence[str], described: Sequence[str], consequence: str) -> Iterator[Finding]:
    known = set(described)
    used = {table: {name: found for name, found in first_rows(frames[table], column).items() if name not in known} for table in tables}
    counts: dict[str, int] = {}
    for names in used.values():
        for name, (_, count, _) in names.items():
            counts[name] = counts.get(name, 0) + count
    index = name_index(counts, SHORTEST_OF.get(column, SHORTEST))
    for rarer in sorted(counts):
        for name in index.near(rarer):
            if (counts[rarer], rarer) > (counts[name], name):
                continue  # told once a pair, of the rarer one
            table = next(table for table in tables if rarer in used[table])
            row, _, source = used[table][rarer]
            problem = (
                f"'{rarer}' in {counted(counts[rarer], 'row')} and '{name}' in {counted(counts[name], 'row')} may be one; they are "
                f"taken for two. {consequence}"
            )
            repair = f"If they are one, write {choice_of(column, rarer, name)}; if they are two, nothing needs doing."
            yield Finding(table, row, column, rarer, problem, repair, "note", source)
