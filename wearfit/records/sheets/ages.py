"""Which of two files or sheets is the older, as their names say."""

import re
from dataclasses import dataclass
from typing import Final

from wearfit.records.names import bare_name

# Common practice, from memory.
_OLD: Final = frozenset(
    (
        "old",
        "older",
        "copy",
        "backup",
        "bak",
        "archive",
        "archived",
        "previous",
        "prev",
        "former",
        "superseded",
        "obsolete",
        "orig",
        "original",
    )
)
_NEW: Final = frozenset(("new", "newer", "newest", "latest", "current", "final", "corrected", "correction", "updated", "revised"))
_LATEST: Final = (9999, 12, 31)  # a file without a date is the one that is kept up; dated ones are taken from it now and then

_DAY_LAST = re.compile(r"(?<!\d)((?:19|20)\d\d)[-_. ]?(0[1-9]|1[0-2])[-_. ]?(0[1-9]|[12]\d|3[01])(?!\d)", re.ASCII)
_DAY_FIRST = re.compile(r"(?<!\d)(0?[1-9]|[12]\d|3[01])[-_. ](0?[1-9]|1[0-2])[-_. ]((?:19|20)\d\d)(?!\d)", re.ASCII)
_MONTH = re.compile(r"(?<!\d)((?:19|20)\d\d)[-_. ](0[1-9]|1[0-2])(?!\d)", re.ASCII)
_YEAR = re.compile(r"(?<!\d)((?:19|20)\d\d)(?!\d)", re.ASCII)
# A program that saves a file a second time numbers it, so that "tools (1)" came after "tools".
_VERSION = re.compile(r"(?<![a-z])(?:v|ver|version|rev|revision)[-_. ]?(\d{1,3})(?!\d)|\((\d{1,3})\)", re.ASCII)


@dataclass(frozen=True, order=True)
class Age:
    """What a name says of the age of what it names; the later is the greater.

    Parameters
    ----------
    mark : int
        -1 where it says old, 1 where it says new.
    date : tuple of int
        Year, month and day, 0 where it names a year or month alone; far ahead where it has none.
    version : int
        0 for none.
    """

    mark: int
    date: tuple[int, int, int]
    version: int

    def is_version_beside(self, other: "Age") -> bool:
        """Whether one of the two is a later state of the other; lists of two years or months stand side by side."""
        return self != other and (self.mark != other.mark or self.version != other.version or self.date[2] > 0 < other.date[2])


def age_of(source: str) -> Age:
    """The age of a file or sheet.

    Parameters
    ----------
    source : str
        Such as "tools old.csv", "tools_2024-03-31.csv", "history v2.xlsx, sheet tools".
    """
    words = {bare_name(word) for word in re.split(r"[\W_\d]+", source)}
    mark = -1 if words & _OLD else 1 if words & _NEW else 0
    text = source.casefold()
    date = _LATEST
    if found := _DAY_LAST.search(text):
        date = int(found[1]), int(found[2]), int(found[3])
    elif found := _DAY_FIRST.search(text):
        date = int(found[3]), int(found[2]), int(found[1])
    elif found := _MONTH.search(text):
        date = int(found[1]), int(found[2]), 0
    elif years := _YEAR.findall(text):
        date = int(max(years)), 0, 0
    versions = [int(one or other) for one, other in _VERSION.findall(text)]
    return Age(mark, date, max(versions, default=0))
