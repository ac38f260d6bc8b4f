"""Time and peak memory of a roll-up: `uv run python tests/bench/press_logs.py --rows 100000000 --folder FOLDER --out FILE.json`.

Writes a made-up press-cycle log in Parquet, a file a month, where it is not there already: tools that run by day and stand by night, in
one resin after the other, one row in a thousand there twice. Rolls it up in a process of its own, whose memory and that of its children
is looked at twenty times a second, and checks that no shot is lost or counted twice. A row takes some 2 bytes on disk, for what is made
up is in good order; a press's own rows take more.
"""

import argparse
import datetime as dt
import json
import os
import shutil
import subprocess
import sys
import threading
import time
from importlib.metadata import version
from pathlib import Path
from typing import Any

import duckdb

TOOLS = 200
CYCLE_S = 30
SHOTS_A_DAY = 2_000  # two shifts; the rest of the day is a stop that parts runs
RESIN_DAYS = 9  # in one resin
BYTES_A_ROW = 12  # looked for on the disk, files of results and spilled rows among them
FIRST = dt.date(2020, 1, 1)
TWICE = 1_000  # one row in so many is there twice
LOOK_SECONDS = 0.05


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=100_000_000)
    parser.add_argument("--folder", type=Path, required=True, help="for the log and the results; stays")
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--memory", type=int, default=2_000, help="of each process [MB]")
    parser.add_argument("--out", type=Path)
    given = parser.parse_args()
    days = max(1, round(given.rows / (TOOLS * SHOTS_A_DAY)))
    log = given.folder / f"log-{days}-days"
    writing = 0.0 if log.is_dir() else timed(lambda: write(log, days))
    shutil.rmtree(given.folder / "runs.csv.parts", ignore_errors=True)
    command = [
        str(Path(sys.executable).with_name("wearfit")), "rollup", str(log), "--out", str(given.folder / "runs.csv"), "--processes",
        str(given.processes), "--memory", str(given.memory), "--json",
    ]  # fmt: skip
    began = time.perf_counter()
    document, peak = watched(command)
    first = time.perf_counter() - began
    again = timed(lambda: watched(command))
    shots, twice = days * TOOLS * SHOTS_A_DAY, document["duplicates"]
    if document["shots"] != shots or document["rows_read"] != shots + twice or not twice:
        raise SystemExit(f"{document['shots']:,} shots and {twice:,} duplicates of {shots:,} shots: some are lost or counted twice.")
    result = {
        "date": str(dt.datetime.now(dt.UTC).date()),
        "wearfit": version("wearfit"), "duckdb": version("duckdb"),
        "rows": document["rows_read"],
        "tools": TOOLS, "days": days, "parts": document["parts_drawn"], "runs": document["runs"],
        "megabytes": round(sum(f.stat().st_size for f in log.iterdir()) / 1e6), "processes": given.processes,
        "memory_limit_mb": given.memory, "seconds_writing": round(writing, 1), "seconds": round(first, 1),
        "seconds_again": round(again, 1), "peak_mb": round(peak / 1e6),
    }  # fmt: skip
    print("\n".join(f"{name:16} {value}" for name, value in result.items()))
    if given.out:
        given.out.write_text(json.dumps(result, indent=1) + "\n")


def write(log: Path, days: int) -> None:
    """The log, whole or not at all, a file a month."""
    log.parent.mkdir(parents=True, exist_ok=True)
    needed, free = days * TOOLS * SHOTS_A_DAY * BYTES_A_ROW, shutil.disk_usage(log.parent).free
    if free < 2 * needed:
        raise SystemExit(f"{needed / 1e9:.1f} GB are needed twice over, and {free / 1e9:.1f} GB are free in {log.parent}.")
    made = log.with_suffix(".part")
    shutil.rmtree(made, ignore_errors=True)
    made.mkdir()
    months: dict[str, list[int]] = {}
    for day in range(days):
        months.setdefault(f"{FIRST + dt.timedelta(days=day):%Y-%m}", []).append(day)
    with duckdb.connect(config={"memory_limit": "2GB", "threads": 1, "preserve_insertion_order": False}) as connection:
        for month, of_month in months.items():
            shots = (
                f"SELECT 'T' || (1000 + tool) AS tool_id, "
                f"TIMESTAMP '{FIRST}' + INTERVAL (day * 86400 + shot * {CYCLE_S} + tool % 30) SECOND AS timestamp, "
                f"'P' || (tool % 20) AS plant_id, 'R' || ((day // {RESIN_DAYS} + tool) % 12) AS resin_id, "
                f"hash(tool, day, shot) % 50 > 0 AS good, 4::TINYINT AS active_cavities "
                f"FROM range({of_month[0]}, {of_month[-1] + 1}) days(day), range({TOOLS}) tools(tool), range({SHOTS_A_DAY}) shots(shot)"
            )
            query = f"{shots} UNION ALL SELECT * FROM ({shots}) WHERE hash(tool_id, timestamp) % {TWICE} = 0"
            connection.execute(f"COPY ({query}) TO '{made / f'{month}.parquet'}' (FORMAT parquet, COMPRESSION zstd)")
            print(f"{month} is written", flush=True)
    made.rename(log)


def timed(work: Any) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def watched(command: list[str]) -> tuple[dict[str, Any], int]:
    """Run a command; gives its JSON document, and the most memory that it and its children held together. [bytes]"""
    import psutil  # comes with Dask

    peak = 0
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        whole = psutil.Process(process.pid)

        def look() -> None:
            nonlocal peak
            while process.poll() is None:
                held = 0
                try:
                    for one in (whole, *whole.children(recursive=True)):
                        held += one.memory_info().rss
                except psutil.Error:  # one has ended meanwhile
                    pass
                peak = max(peak, held)
                time.sleep(LOOK_SECONDS)

        looking = threading.Thread(target=look, daemon=True)
        looking.start()
        said, _ = process.communicate()
        looking.join()
    if process.returncode:
        raise SystemExit(f"The roll-up ended with status {process.returncode}: {said}")
    return json.loads(said), peak


if __name__ == "__main__":
    main()
