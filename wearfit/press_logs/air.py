"""Hourly air, from Parquet or CSV, as rows of the climate table of the plants that made the runs."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from wearfit.exposures.humidity import MAGNUS_FACTOR, MAGNUS_TEMP_C
from wearfit.exposures.monthly_air import MIN_HOURS_PER_MONTH, RH_FLOOR_PCT
from wearfit.press_logs.columns import AIR, MONTH, PLANT, TIME, columns_of
from wearfit.press_logs.engine import Limits, engine, listed, told
from wearfit.press_logs.survey import files_in

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection


@dataclass(frozen=True)
class Climate:
    """Rows of the climate table.

    Parameters
    ----------
    rows : tuple of dict
        Cells by column.
    readings : int
        Rows of air that were read, of the plants asked for.
    absent : tuple of str
        Plants asked for of which there is no air.
    thin_months : int
        Months left out because too few of their hours are recorded.
    """

    rows: tuple[dict[str, str], ...]
    readings: int
    absent: tuple[str, ...]
    thin_months: int


def climate_of(place: Path, plants: Collection[str], grain: str, limits: Limits) -> Climate:
    """Draw air together by hour or by month.

    Parameters
    ----------
    place : Path
        A file or a folder of them, one row a reading.
    plants : collection of str
        Air of others is passed over.
    grain : str
        One of `columns.GRAINS`. The records count hours exactly; months are a seven-hundredth as many rows.

    Raises
    ------
    Refusal
        Where the place, a file or its columns refuse.

    Notes
    -----
    Several readings of one hour are averaged. A month's temperature is the mean of its hours, and its humidity that at which air of this
    temperature has the mean dew point of its hours: whether a mould sweats is decided by the dew point, which the records reckon
    from the two. Months of fewer hours than the records want of hourly rows are left out.
    """
    with engine(limits) as connection:
        selects = [_readings(connection, path) for path in files_in(place, (".parquet", ".pq", ".csv"))]
        connection.execute("CREATE TEMP TABLE wanted (plant VARCHAR)")
        connection.executemany("INSERT INTO wanted VALUES (?)", [[plant] for plant in sorted(plants)])
        with told(f"The air in '{place.name}'"):
            connection.execute(
                f"""CREATE TEMP TABLE hours AS
                SELECT plant, place, date_trunc('hour', moment) AS hour, avg(temp) AS temp,
                    avg(least(greatest(rh, {RH_FLOOR_PCT}), 100.0)) AS rh, count(*) AS readings
                FROM ({" UNION ALL ".join(selects)}) JOIN wanted USING (plant)
                WHERE isfinite(moment) AND isfinite(temp) AND isfinite(rh) GROUP BY ALL"""
            )
        readings, known = connection.execute("SELECT coalesce(sum(readings), 0), list(DISTINCT plant) FROM hours").fetchall()[0]
        rows, thin = _by_month(connection) if grain == MONTH else (_by_hour(connection), 0)
    return Climate(tuple(rows), int(readings), tuple(sorted(set(plants) - set(known or ()))), thin)


def _readings(connection: "DuckDBPyConnection", path: Path) -> str:
    of = "read_csv" if path.suffix.lower() == ".csv" else "read_parquet"
    source = f"{of}({listed((path,))})"
    with told(f"'{path.name}'"):
        found = [(str(row[0]), str(row[1])) for row in connection.execute(f"DESCRIBE SELECT * FROM {source}").fetchall()]
    columns = columns_of(path.name, found, AIR, [one.name for one in AIR if one.name != "place"])
    place = f"lower({columns.text('place', 'outdoor')})"
    return (
        f"SELECT {columns.text(PLANT)} AS plant, {place} AS place, {columns.sql(TIME)}::TIMESTAMP AS moment, "
        f"{columns.sql('temp_c')}::DOUBLE AS temp, {columns.sql('rh_pct')}::DOUBLE AS rh FROM {source}"
    )


def _by_hour(connection: "DuckDBPyConnection") -> list[dict[str, str]]:
    found = connection.execute(
        "SELECT plant, strftime(hour, '%Y-%m-%dT%H:%M'), temp, rh, place FROM hours ORDER BY plant, place, hour"
    ).fetchall()
    return [_cells(plant, "timestamp", hour, temp, rh, place) for plant, hour, temp, rh, place in found]


def _by_month(connection: "DuckDBPyConnection") -> tuple[list[dict[str, str]], int]:
    """Rows of months with enough hours, and how many have too few."""
    # The Magnus form of `exposures.humidity`, solved for the dew point and back for the humidity.
    ratio = f"(ln(rh / 100.0) + {MAGNUS_FACTOR} * temp / ({MAGNUS_TEMP_C} + temp))"
    found = connection.execute(
        f"""WITH months AS (
            SELECT plant, place, date_trunc('month', hour) AS month, count(*) AS hours, avg(temp) AS temp,
                avg({MAGNUS_TEMP_C} * {ratio} / ({MAGNUS_FACTOR} - {ratio})) AS dew
            FROM hours GROUP BY ALL)
        SELECT plant, strftime(month, '%Y-%m'), hours, temp, least(100.0, 100.0 * exp({MAGNUS_FACTOR} * dew / ({MAGNUS_TEMP_C} + dew)
            - {MAGNUS_FACTOR} * temp / ({MAGNUS_TEMP_C} + temp))), place
        FROM months ORDER BY plant, place, month"""
    ).fetchall()
    enough = [row for row in found if row[2] >= MIN_HOURS_PER_MONTH]
    return [_cells(plant, MONTH, month, temp, rh, place) for plant, month, _, temp, rh, place in enough], len(found) - len(enough)


def _cells(plant: str, column: str, when: str, temp: float, rh: float, place: str) -> dict[str, str]:
    return {PLANT: plant, column: when, "temp_c": f"{temp:.2f}", "rh_pct": f"{rh:.2f}", "place": place}


def columns_written(grain: str) -> Sequence[str]:
    """Of the climate table those that rows of a grain have."""
    return (PLANT, MONTH if grain == MONTH else "timestamp", "temp_c", "rh_pct", "place")
