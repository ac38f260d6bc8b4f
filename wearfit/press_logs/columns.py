"""Which columns a log has: found by their names, checked by their types, and read as one and the same expression from every file."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from wearfit.errors import Refusal
from wearfit.press_logs.engine import literal, name
from wearfit.records.names import bare_name

TOOL: Final = "tool_id"
TIME: Final = "timestamp"
PLANT: Final = "plant_id"
RESIN: Final = "resin_id"

WHOLE: Final = ("TINYINT", "SMALLINT", "INTEGER", "BIGINT", "HUGEINT", "UTINYINT", "USMALLINT", "UINTEGER", "UBIGINT", "UHUGEINT")
NUMBER: Final = (*WHOLE, "FLOAT", "DOUBLE", "DECIMAL")
TEXT: Final = ("VARCHAR", "ENUM", "UUID")
STAMP: Final = ("TIMESTAMP", "TIMESTAMP_S", "TIMESTAMP_MS", "TIMESTAMP_NS", "TIMESTAMP WITH TIME ZONE")
ZONED: Final = "TIMESTAMP WITH TIME ZONE"
FLAG: Final = ("BOOLEAN", *NUMBER)


@dataclass(frozen=True)
class Wanted:
    """One column that a log may have.

    Parameters
    ----------
    name : str
        Under which it is read.
    types : tuple of str
        That DuckDB may find in it.
    meant : str
        What it should hold, for the user.
    synonyms : tuple of str
        Other names of it, as `bare_name` writes them.
    """

    name: str
    types: tuple[str, ...]
    meant: str
    synonyms: tuple[str, ...] = ()


SHOTS: Final = (
    Wanted(TOOL, (*TEXT, *WHOLE), "text or whole numbers", ("tool", "toolno", "toolnumber", "mould", "mouldid", "mouldno")),
    Wanted(TIME, STAMP, "time stamps", ("ts", "time", "datetime", "shotat", "cycleat", "cycletimestamp")),
    Wanted(PLANT, (*TEXT, *WHOLE), "text or whole numbers", ("plant", "site", "factory")),
    Wanted(RESIN, (*TEXT, *WHOLE), "text or whole numbers", ("resin", "material", "materialid")),
    Wanted("good", FLAG, "1 for a good shot and 0 for a reject", ("ok", "isgood")),
    Wanted("reject", FLAG, "1 for a reject and 0 for a good shot", ("rejected", "scrap", "isreject")),
    Wanted("active_cavities", NUMBER, "numbers", ("cavities", "opencavities", "cavitiesopen")),
    Wanted("cycle_time_s", NUMBER, "seconds", ("cycletime", "cycletimesec", "cycles", "cyclesec")),
)
"""Of a press-cycle log."""

AIR: Final = (
    Wanted(PLANT, (*TEXT, *WHOLE), "text or whole numbers", ("plant", "site", "factory")),
    Wanted(TIME, STAMP, "time stamps", ("ts", "time", "datetime", "hour")),
    Wanted("temp_c", NUMBER, "degrees Celsius", ("temperature", "temp", "temperaturec")),
    Wanted("rh_pct", NUMBER, "percent", ("rh", "humidity", "relativehumidity", "rhpercent")),
    Wanted("place", TEXT, "the words outdoor or hall"),
)
"""Of hourly air."""

MONTH: Final = "month"
GRAINS: Final = (MONTH, "hour")
"""What air is drawn together by."""


@dataclass(frozen=True)
class Columns:
    """How a file's columns are read: (name under which it is read, name in the file, type), by what was wanted."""

    read: tuple[tuple[str, str, str], ...]

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(wanted for wanted, _, _ in self.read)

    def sql(self, wanted: str, otherwise: str = "NULL") -> str:
        """The expression that reads a column; `otherwise` where the file has none."""
        for known, theirs, _ in self.read:
            if known == wanted:
                return name(theirs)
        return otherwise

    def text(self, wanted: str, otherwise: str | None = None) -> str:
        """The expression of a name, blank as NULL; `otherwise` in its place where there is none."""
        found = f"nullif(trim({self.sql(wanted)}::VARCHAR), '')"
        return found if otherwise is None else f"coalesce({found}, {literal(otherwise)})"

    def moment(self, iso: str) -> str:
        """A moment, in UTC, as the type of the file's time stamps writes it."""
        zoned = {known: kind for known, _, kind in self.read}[TIME] == ZONED
        return f"TIMESTAMPTZ {literal(iso + '+00')}" if zoned else f"TIMESTAMP {literal(iso)}"


def columns_of(
    file: str, found: Sequence[tuple[str, str]], wanted: Sequence[Wanted], needed: Sequence[str], named: Mapping[str, str] | None = None
) -> Columns:
    """The columns of one file.

    Parameters
    ----------
    file : str
        For the user.
    found : sequence of (str, str)
        Names and types that DuckDB found in it.
    wanted : sequence of Wanted
    needed : sequence of str
        Of these those that must be there.
    named : mapping of str to str, optional
        What the user calls which of them; None where nobody can be asked that.

    Raises
    ------
    Refusal
        Where a column that is needed is not there, or one has another type.
    """
    by_name: dict[str, tuple[str, str]] = {}
    for theirs, kind in found:
        by_name.setdefault(bare_name(theirs), (theirs, kind))
    read = []
    for one in wanted:
        called = None if named is None else named.get(one.name)
        names = (bare_name(one.name), *one.synonyms) if called is None else (bare_name(called),)
        at = next((by_name[known] for known in names if known in by_name), None)
        if at is None:
            if one.name in needed or called is not None:
                raise _absent(file, one, called, [theirs for theirs, _ in found], named is not None)
            continue
        theirs, kind = at
        if kind.split("(")[0] not in one.types:
            raise Refusal(
                f"The column '{theirs}' of '{file}' holds {kind}, where {one.meant} are wanted.",
                "Write it so." if named is None else f"Write it so, or name another column by --column {one.name}=NAME.",
            )
        read.append((one.name, theirs, kind.split("(")[0]))
    return Columns(tuple(read))


def _absent(file: str, one: Wanted, called: str | None, found: Sequence[str], can_be_named: bool) -> Refusal:
    if called is not None:
        return Refusal(f"'{file}' has no column '{called}'.", f"It has {', '.join(found)}; name one of them.", 2)
    if not can_be_named:
        return Refusal(f"'{file}' has no column '{one.name}'; it has {', '.join(found)}.", "Give the column that name.")
    also = f", or give one for all by --{one.name.removesuffix('_id')}" if one.name in (PLANT, RESIN) else ""
    return Refusal(f"'{file}' has no column '{one.name}'; it has {', '.join(found)}.", f"Name it by --column {one.name}=NAME{also}.")
