"""Words outside the list of their column: read as blank."""

from wearfit.records.cells import word_not_listed
from wearfit.records.columns import Table
from wearfit.records.findings import Finding
from wearfit.records.frames import ROW, Frames, cells_by_row
from wearfit.records.rules.marking import Judged, source_of
from wearfit.records.tables import TABLES


def blank_unlisted_words(frames: Frames) -> Judged:
    """Blank each word that its column's list lacks; set the row aside where the word is part of its key."""
    used = dict(frames)
    findings = []
    for name, table in TABLES.items():
        for column in table.columns:
            if not column.choices:
                continue
            frame = used[name]
            unlisted = ~frame[column.name].isin([*column.choices, ""])
            if not unlisted.any():
                continue
            for record in cells_by_row(frame[unlisted]):
                row, word, source = int(record[ROW]), str(record[column.name]), source_of(record)
                said = word_not_listed(column, word)
                if column.name in table.key:
                    findings.append(Finding(name, row, column.name, word, said.problem, said.repair, "set_aside", source))
                else:
                    problem = f"{said.problem} {_meaning_of_blank(table, column.name)}"
                    findings.append(Finding(name, row, column.name, word, problem, said.repair, "repaired", source))
            if column.name in table.key:
                used[name] = frame[~unlisted].reset_index(drop=True)
            else:
                used[name] = frame.assign(**{column.name: frame[column.name].where(~unlisted, "")})
    return used, findings


def _meaning_of_blank(table: Table, column: str) -> str:
    if column == "cause":
        return "The cause is taken as not stated."
    if column == "service_class":
        return "The class is taken as not known."
    return "The cell is taken as blank."
