"""Records that are kept but that the wear clock does not use yet."""

from wearfit.records.findings import Finding
from wearfit.records.frames import Frames
from wearfit.records.rules.marking import Judged


def note_unused(frames: Frames) -> Judged:
    """One note for each table or column of which this release makes no use, or little."""
    unused = (
        ("readings", None, len(frames["readings"]), "Readings are kept but not used yet, save those that end a life over their limit"),
        ("tools", "coating", int((frames["tools"]["coating"] != "").sum()), "Coatings are kept but not used yet"),
    )
    return dict(frames), [
        Finding(table, None, column, None, f"{what} ({count:,} rows).", "Nothing needs doing.", "note")
        for table, column, count, what in unused
        if count
    ]
