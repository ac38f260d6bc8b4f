"""A small simulated press-cycle log, written by DuckDB, and its roll-up in plain loops."""

import datetime as dt
import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import duckdb

GAP = dt.timedelta(hours=6)
CYCLE = dt.timedelta(minutes=10)  # a slow press: few rows tell of many days
FIRST = dt.datetime(2024, 1, 29, 5)
COLUMNS = "tool_id VARCHAR, timestamp TIMESTAMP, plant_id VARCHAR, resin_id VARCHAR, good BOOLEAN, active_cavities INTEGER"


@dataclass(frozen=True)
class Shot:
    """One row of a log."""

    tool: str
    at: dt.datetime
    plant: str
    resin: str
    good: bool = True
    open: int = 4


@dataclass
class Run:
    """What a tool makes in one resin at one plant without a long stop."""

    tool: str
    plant: str
    resin: str
    first: dt.datetime
    last: dt.datetime
    shots: int
    rejects: int


def simulated(seed: int, tools: int = 5, sessions: int = 14) -> list[Shot]:
    """Sessions over some months: stops short and long, some of exactly the gap, changes of resin and plant without one."""
    rng = random.Random(seed)
    shots = []
    for number in range(tools):
        at = FIRST + dt.timedelta(minutes=rng.randrange(3000))
        plant, resin = "P1", "R1"
        for _ in range(sessions):
            for _ in range(rng.choice((1, 5, 40, 150, 400))):
                shots.append(Shot(f"T{number}", at, plant, resin, rng.random() > 0.05))
                at += CYCLE
            at += rng.choice(
                (dt.timedelta(0), dt.timedelta(hours=2), GAP - CYCLE, GAP - CYCLE + dt.timedelta(seconds=1), dt.timedelta(days=4))
            )
            plant, resin = rng.choice((plant, plant, "P1", "P2")), rng.choice(("R1", "R2"))
    return shots


def rolled_up(shots: Iterable[Shot]) -> list[Run]:
    """The runs of a log, shot by shot."""
    runs: list[Run] = []
    for tool in sorted({shot.tool for shot in shots}):
        seen: dict[dt.datetime, Shot] = {}
        for shot in shots:
            if shot.tool == tool:
                seen.setdefault(shot.at, shot)
        last: Run | None = None
        for at in sorted(seen):
            shot = seen[at]
            if last is None or (shot.plant, shot.resin) != (last.plant, last.resin) or at - last.last > GAP:
                last = Run(tool, shot.plant, shot.resin, at, at, 0, 0)
                runs.append(last)
            last.last, last.shots, last.rejects = at, last.shots + 1, last.rejects + (not shot.good)
    return runs


def dealt(shots: Sequence[Shot], files: int, seed: int) -> list[list[Shot]]:
    """The shots in several files, in no order, one in twenty of them in two files or twice in one."""
    rng = random.Random(seed)
    piles: list[list[Shot]] = [[] for _ in range(files)]
    for shot in shots:
        for _ in range(2 if rng.random() < 0.05 else 1):
            rng.choice(piles).append(shot)
    for pile in piles:
        rng.shuffle(pile)
    return piles


def by_weeks(shots: Sequence[Shot]) -> list[list[Shot]]:
    """A file a week."""
    piles: dict[int, list[Shot]] = {}
    for shot in shots:
        piles.setdefault((shot.at - FIRST).days // 7, []).append(shot)
    return list(piles.values())


def write(path: Path, shots: Iterable[Shot], columns: str = "*") -> None:
    """A Parquet file of the shots, with what a SELECT makes of the columns."""
    path.parent.mkdir(parents=True, exist_ok=True)
    text = path.with_suffix(".csv")
    text.write_text("\n".join(f"{s.tool},{s.at},{s.plant},{s.resin},{s.good},{s.open}" for s in shots))
    with duckdb.connect() as connection:
        connection.execute("SET TimeZone = 'UTC'")
        connection.execute(f"CREATE TABLE shots ({COLUMNS})")
        connection.execute(f"COPY shots FROM '{text}' (HEADER false)")
        text.unlink()
        copy(connection, f"SELECT {columns} FROM shots", path)


def copy(connection: duckdb.DuckDBPyConnection, query: str, path: Path) -> None:
    """Write a query's rows to a Parquet file."""
    path.parent.mkdir(parents=True, exist_ok=True)
    connection.execute(f"COPY ({query}) TO '{path}' (FORMAT parquet)")


def write_all(folder: Path, piles: Sequence[Sequence[Shot]]) -> None:
    for number, pile in enumerate(piles):
        write(folder / f"log-{number:03}.parquet", pile)


def moved(shots: Iterable[Shot], **changed: Any) -> list[Shot]:
    """The shots with something else in a field of theirs."""
    return [replace(shot, **changed) for shot in shots]
