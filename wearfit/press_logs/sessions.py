"""The shots of one part of a log drawn together: what a tool makes at one plant in one resin without a long stop."""

import datetime as dt
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Final

from wearfit.press_logs.columns import PLANT, RESIN, TIME, TOOL, Columns
from wearfit.press_logs.engine import Limits, engine, listed, literal, told
from wearfit.press_logs.survey import Part, Reading

VERSION: Final = 1
"""Of what a part gives: raise it where the same shots give other sessions, and parts that were kept are drawn anew."""

HOUR_US: Final = 3_600_000_000
FETCHED: Final = 10_000  # sessions at a time


@dataclass(frozen=True, slots=True)
class Session:
    """Shots of one tool at one plant in one resin, none of which comes long after the one before.

    Parameters
    ----------
    tool : str
    plant, resin : str or None
        None where the log does not say.
    first, last : int
        Of its shots. [us since 1970 in UTC]
    shots : int
        Each counted once.
    duplicates : int
        Rows that said a shot once more.
    judged, rejects : int
        Shots of which the log says whether they were good, and those that were not.
    least_open, most_open : float or None
        Cavities open.
    cycle_sum, cycles : float, int
        Of the cycle times that the log tells. [s]
    """

    tool: str
    plant: str | None
    resin: str | None
    first: int
    last: int
    shots: int
    duplicates: int
    judged: int
    rejects: int
    least_open: float | None
    most_open: float | None
    cycle_sum: float
    cycles: int


def sessions_of(part: Part, reading: Reading, limits: Limits) -> bytes:
    """Draw the shots of a part together.

    Returns
    -------
    bytes
        A Parquet file, a row a session, with the fields of `Session`.

    Raises
    ------
    Refusal
        Where a file cannot be read to its end, or the memory does not suffice.

    Notes
    -----
    Two rows of one tool and time stamp are one shot, whichever files they lie in: a part has all the rows of its days. Where they differ
    the lesser of the two holds, so that the order of the files does not matter, a cell that one of them leaves blank is filled by the
    other, and a shot is a reject where one says so. The columns stay apart, for one of several fields takes twice as long.
    """
    by_columns: dict[Columns, list[Path]] = {}
    for file in part.files:
        by_columns.setdefault(file.columns, []).append(file.path)
    shots = " UNION ALL ".join(_shots(columns, paths, part, reading) for columns, paths in by_columns.items())
    gap = round(reading.gap_hours * HOUR_US)
    query = f"""
        WITH once AS (
            SELECT tool, moment, count(*) - 1 AS again, min(plant) AS plant, min(resin) AS resin, min(good) AS good, min(open) AS open,
                min(cycle) AS cycle
            FROM ({shots}) GROUP BY tool, moment
        ), beside AS (
            SELECT *, moment - lag(moment) OVER along > {gap} OR plant IS DISTINCT FROM lag(plant) OVER along
                OR resin IS DISTINCT FROM lag(resin) OVER along OR lag(moment) OVER along IS NULL AS begins
            FROM once WINDOW along AS (PARTITION BY tool ORDER BY moment)
        ), numbered AS (
            SELECT *, sum(begins::INTEGER) OVER (PARTITION BY tool ORDER BY moment ROWS UNBOUNDED PRECEDING) AS session FROM beside
        )
        SELECT tool, any_value(plant) AS plant, any_value(resin) AS resin, min(moment) AS first, max(moment) AS last,
            count(*) AS shots, sum(again)::BIGINT AS duplicates, count(good) AS judged, count(*) FILTER (NOT good) AS rejects,
            min(open) AS least_open, max(open) AS most_open, coalesce(sum(cycle), 0.0) AS cycle_sum, count(cycle) AS cycles
        FROM numbered GROUP BY tool, session
    """
    with engine(limits) as connection, tempfile.TemporaryDirectory(prefix="wearfit-") as folder, told(f"The log of {part.name}"):
        written = Path(folder) / "sessions.parquet"
        connection.execute(f"COPY ({query}) TO {literal(str(written))} (FORMAT parquet, COMPRESSION zstd)")
        return written.read_bytes()


def in_order(files: Sequence[Path], limits: Limits) -> Iterator[Session]:
    """The sessions of all parts, tool by tool in order of time, a few at a time."""
    if not files:
        return
    names = ", ".join(f.name for f in fields(Session))
    with engine(limits) as connection, told("A result of a part"):
        found = connection.execute(f"SELECT {names} FROM read_parquet({listed(tuple(files))}) ORDER BY tool, first, last")
        while rows := found.fetchmany(FETCHED):
            yield from (Session(*row) for row in rows)


def _shots(columns: Columns, paths: Sequence[Path], part: Part, reading: Reading) -> str:
    """One row a shot as logged, of files with the same columns."""
    at, good, reject = columns.sql(TIME), columns.sql("good"), columns.sql("reject")
    since, until = columns.moment(f"{part.first} 00:00:00"), columns.moment(f"{part.last + dt.timedelta(days=1)} 00:00:00")
    return (
        f"SELECT {columns.text(TOOL)} AS tool, epoch_us({at}) AS moment, {columns.text(PLANT, reading.plant)} AS plant, "
        f"{columns.text(RESIN, reading.resin)} AS resin, coalesce({good}::BOOLEAN, NOT {reject}::BOOLEAN) AS good, "
        f"{columns.sql('active_cavities')}::DOUBLE AS open, {columns.sql('cycle_time_s')}::DOUBLE AS cycle "
        f"FROM read_parquet({listed(tuple(paths))}) WHERE {at} >= {since} AND {at} < {until} AND {columns.text(TOOL)} IS NOT NULL"
    )
