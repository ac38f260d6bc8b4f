"""What lies in a folder of logs: which files, with which columns, and rows of which days; and how these are parted by time."""

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from wearfit.errors import Refusal
from wearfit.press_logs.columns import PLANT, RESIN, SHOTS, TIME, TOOL, Columns, columns_of
from wearfit.press_logs.engine import Limits, engine, listed, told

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

MOST_ROWS: Final = 20_000_000  # of a part; months with more are parted by day. Some 2 GB, beyond which DuckDB works from disk
EPOCH: Final = dt.date(1970, 1, 1)


@dataclass(frozen=True)
class Reading:
    """How the user says that logs are to be read.

    Parameters
    ----------
    gap_hours : float
        A longer stop parts two runs. [h]
    plant, resin : str, optional
        Of shots that do not say theirs.
    named : tuple of (str, str)
        Columns that have other names: ours, theirs.
    """

    gap_hours: float = 6.0
    plant: str | None = None
    resin: str | None = None
    named: tuple[tuple[str, str], ...] = ()

    def __post_init__(self) -> None:
        if not 0.0 < self.gap_hours <= 10_000.0:
            raise Refusal(f"A gap of {self.gap_hours:g} hours is not above 0 and up to 10,000.", "Give one, such as --gap 6.", 2)
        known = [one.name for one in SHOTS]
        for ours, _ in self.named:
            if ours not in known:
                raise Refusal(f"'{ours}' is no column that a log is read for.", f"Name one of {', '.join(known)}.", 2)

    @property
    def needed(self) -> tuple[str, ...]:
        """Columns that every file must have."""
        lacking = [column for column, given in ((PLANT, self.plant), (RESIN, self.resin)) if given is None]
        return (TOOL, TIME, *lacking)


@dataclass(frozen=True)
class LogFile:
    """One file of a log.

    Parameters
    ----------
    path : Path
    stamp : tuple of int
        Size and time of the last change: a file that is written again is read again. [bytes, ns]
    columns : Columns
    days : mapping of int to int
        Rows of each day. [day since 1970 in UTC]
    unusable : int
        Rows without a tool or a time.
    """

    path: Path
    stamp: tuple[int, int]
    columns: Columns
    days: Mapping[int, int]
    unusable: int


@dataclass(frozen=True)
class Part:
    """The rows of a stretch of time, whichever files they lie in.

    Parameters
    ----------
    first, last : date
        Days, both counted.
    files : tuple of LogFile
        Those that have rows of these days.
    rows : int
    """

    first: dt.date
    last: dt.date
    files: tuple[LogFile, ...]
    rows: int

    @property
    def name(self) -> str:
        return f"{self.first:%Y-%m}" if self.first != self.last else str(self.first)

    @property
    def facts(self) -> tuple[object, ...]:
        """What its rows depend on."""
        return (str(self.first), str(self.last), *((str(f.path), f.stamp, f.columns.read) for f in self.files))


def survey(folder: Path, reading: Reading, limits: Limits = Limits()) -> tuple[LogFile, ...]:  # noqa: B008
    """Look at every Parquet file in a folder and the folders in it.

    Raises
    ------
    Refusal
        Where there is none, or one cannot be read or lacks a column.
    """
    with engine(limits) as connection:
        return tuple(_look(connection, path, reading) for path in files_in(folder, (".parquet", ".pq")))


def files_in(place: Path, endings: Sequence[str]) -> list[Path]:
    """A file, or those of some endings in a folder and below it, those with a point before their name left out.

    Raises
    ------
    Refusal
        Status 2 where there is nothing at the place, status 1 where there is no such file.
    """
    place = place.absolute()
    if place.is_file():
        return [place]
    if not place.is_dir():
        raise Refusal(f"There is no file or folder '{place}'.", "Check the path.", 2)
    found = sorted(path for path in place.rglob("*") if path.suffix.lower() in endings and path.is_file())
    found = [path for path in found if not any(part.startswith(".") for part in path.relative_to(place).parts)]
    if not found:
        raise Refusal(f"'{place}' holds no file that ends in {' or '.join(endings)}.", "Name the folder with the logs.")
    return found


def parted(files: Sequence[LogFile]) -> tuple[Part, ...]:
    """The rows by month, in order of time; by day where a month has too many."""
    rows = Counter[int]()
    for file in files:
        rows.update(file.days)
    months: dict[dt.date, list[int]] = {}
    for day in sorted(rows):
        months.setdefault(_date(day).replace(day=1), []).append(day)
    stretches = []
    for month, days in months.items():
        if sum(rows[day] for day in days) <= MOST_ROWS:
            stretches.append((month, (month + dt.timedelta(days=31)).replace(day=1) - dt.timedelta(days=1), days))
        else:
            stretches += [(_date(day), _date(day), [day]) for day in days]
    return tuple(
        Part(first, last, tuple(f for f in files if not f.days.keys().isdisjoint(days)), sum(rows[day] for day in days))
        for first, last, days in stretches
    )


def _look(connection: "DuckDBPyConnection", path: Path, reading: Reading) -> LogFile:
    source = f"read_parquet({listed((path,))})"
    state = path.stat()
    with told(f"'{path.name}'"):
        found = [(str(row[0]), str(row[1])) for row in connection.execute(f"DESCRIBE SELECT * FROM {source}").fetchall()]
    columns = columns_of(path.name, found, SHOTS, reading.needed, dict(reading.named))
    moment = columns.sql(TIME)
    with told(f"'{path.name}'"):
        counted = connection.execute(
            f"SELECT CASE WHEN isfinite({moment}) AND {columns.text(TOOL)} IS NOT NULL THEN epoch_us({moment}) // 86400000000 END AS day, "
            f"count(*) FROM {source} GROUP BY day"
        ).fetchall()
    days = {int(day): int(count) for day, count in counted if day is not None}
    return LogFile(path, (state.st_size, state.st_mtime_ns), columns, days, sum(int(count) for day, count in counted if day is None))


def _date(day: int) -> dt.date:
    return EPOCH + dt.timedelta(days=day)
