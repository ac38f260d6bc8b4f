"""Checks spoilt records for as long as it is told: `uv run python tests/bench/fuzz_records.py --minutes 30 --seed 1`.

The untidy cases are spoilt byte by byte, inside their archives and cell by cell, and checked in a process of their own.
Whatever ends otherwise than in an answer or a refusal, says what cannot be printed, or takes longer than it may, is kept
under a folder with what was said of it. Counts go to standard output; exit status 1 where anything broke.
"""

import argparse
import csv
import datetime as dt
import io
import multiprocessing
import shutil
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from multiprocessing.connection import Connection
from pathlib import Path
from random import Random
from typing import Final

TESTS: Final = Path(__file__).parents[1]
sys.path.insert(0, str(TESTS / "records"))

import mutated  # noqa: E402

TODAY: Final = dt.date(2026, 6, 30)
PATIENCE_S: Final = 60
KEPT_OF_A_KIND: Final = 3
WAYS: Final = ("bytes", "inside", "cells", "workbook", "cells and bytes")


def sources() -> list[Path]:
    """What each case hands over."""
    found = [path for case in sorted((TESTS / "untidy").iterdir()) if case.is_dir() for path in sorted(case.iterdir())]
    return [path for path in found if path.name not in ("expected.toml", "__pycache__") and (path.is_dir() or path.suffix != ".toml")]


def rows_of(content: bytes) -> list[list[str]]:
    """Cells of a text file, well enough to be spoilt."""
    csv.field_size_limit(2**30)
    for encoding in ("utf-8-sig", "utf-16", "cp1250"):
        try:
            text = content.decode(encoding)
        except UnicodeError:
            continue
        first = text.partition("\n")[0]
        delimiter = max(",;\t", key=first.count)
        return list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))
    return [["?"]]


def spoil_into(source: Path, place: Path, random: Random) -> tuple[Path, str]:
    """Write a spoilt copy of a case; returns its path and the way in which it was spoilt."""
    way = random.choice(WAYS)
    if source.is_file():
        content = source.read_bytes()
        packed = content[:2] == b"PK"
        inside = packed and random.random() < 0.8
        target = place / source.name
        target.write_bytes(mutated.spoil_inside(content, random) if inside else mutated.spoil(content, random))
        return target, "inside" if inside else "bytes"
    files = [file for file in sorted(source.iterdir()) if file.is_file()]
    if way == "workbook":
        target = place / "history.xlsx"
        sheets = [(file.stem, rows_of(file.read_bytes())) for file in files]
        spoilt = [(name, mutated.spoil_cells(rows, random) if random.random() < 0.6 else rows) for name, rows in sheets]
        target.write_bytes(mutated.as_workbook(spoilt, random))
        return target, way
    target = place / "records"
    target.mkdir()
    chosen = random.choice(files)
    for file in files:
        content = file.read_bytes()
        if file == chosen or random.random() < 0.3:
            if way != "bytes":
                content = mutated.as_text(mutated.spoil_cells(rows_of(content), random), random.choice(",,;\t"))
            if way in ("bytes", "cells and bytes"):
                content = mutated.spoil(content, random)
        (target / file.name).write_bytes(content)
    return target, "cells" if way == "inside" else way


def work(orders: Connection) -> None:
    """Check each path that comes, and answer how it ended: ("answer" | "refusal" | "broken", what to say)."""
    from wearfit.errors import Refusal
    from wearfit.records.choices import Choices
    from wearfit.workflow.check import check

    warnings.simplefilter("error")
    while True:
        path = orders.recv()
        try:
            found = check(Path(path), Choices(), TODAY)
            sentences = [text for f in found.findings for text in (f.problem, f.repair)]
            ended = ("answer" if found.refusal is None else "refusal", "")
            for name, count in found.tables.items():
                if count.used + count.set_aside > count.rows and name != "runs":  # runs are also reckoned from counters
                    ended = ("broken", f"{name}: {count}")
        except Refusal as refusal:
            sentences = [refusal.problem, refusal.repair]
            ended = ("refusal", "")
        except BaseException:
            sentences = []
            ended = ("broken", traceback.format_exc())
        unfit = [s for s in sentences if not s.isprintable() or not s.endswith(".") or s != s.strip() or len(s) > 2_000]
        orders.send(("broken", f"no sentence: {unfit[0]!r}") if unfit else ended)


def start() -> tuple[multiprocessing.Process, Connection]:
    here, there = multiprocessing.Pipe()
    worker = multiprocessing.get_context("spawn").Process(target=work, args=(there,), daemon=True)
    worker.start()
    there.close()
    return worker, here


def kind_of(said: str) -> str:
    """What tells one fault from another: the place and the type of an error."""
    lines = [line.strip() for line in said.strip().splitlines()]
    places = [line for line in lines if line.startswith("File ") and "wearfit" in line]
    return f"{places[-1] if places else ''} {lines[-1][:80] if lines else ''}".strip()


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=5.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, default=Path("fuzzed"), help="folder for the inputs that broke something")
    asked = parser.parse_args()
    end = time.monotonic() + 60 * asked.minutes
    random = Random(asked.seed)
    counts: Counter[tuple[str, str]] = Counter()
    faults: Counter[str] = Counter()
    slowest = 0.0
    seeds = sources()
    worker, orders = start()
    number = 0
    while time.monotonic() < end:
        number += 1
        with tempfile.TemporaryDirectory() as folder:
            path, way = spoil_into(random.choice(seeds), Path(folder), random)
            began = time.monotonic()
            try:
                orders.send(str(path))
                outcome, said = orders.recv() if orders.poll(PATIENCE_S) else ("broken", f"not done in {PATIENCE_S} s")
            except (EOFError, OSError):
                worker.join(5)
                outcome, said = "broken", f"the process died with {worker.exitcode}"
            slowest = max(slowest, time.monotonic() - began)
            if said.startswith(("not done", "the process died")):
                worker.kill()
                worker.join()
                worker, orders = start()
            counts[way, outcome] += 1
            if outcome == "broken":
                kind = kind_of(said)
                faults[kind] += 1
                if faults[kind] <= KEPT_OF_A_KIND:
                    kept = asked.keep / f"{asked.seed}-{number}"
                    kept.mkdir(parents=True, exist_ok=True)
                    (kept / "said.txt").write_text(said, encoding="utf-8", errors="backslashreplace")
                    (shutil.copytree if path.is_dir() else shutil.copy)(path, kept / path.name)
    worker.kill()
    worker.join()
    print(f"{number:,} inputs, seed {asked.seed}, slowest {slowest:.1f} s")
    for (way, outcome), count in sorted(counts.items()):
        print(f"{way:16} {outcome:8} {count:8,}")
    for kind, count in faults.most_common():
        print(f"{count:6,} x {kind}")
    print(f"{sum(faults.values()):,} broke something" + (f"; the first of each kind are under {asked.keep}" if faults else ""))
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
