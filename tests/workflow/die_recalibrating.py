"""Kills recalibrations by SIGKILL at random moments and looks at the store after each.

`python tests/workflow/die_recalibrating.py --kills 50` does so fifty times.

Each is killed while it reads the records, stores them, samples or saves, in turn. Reading and sampling are cut at a random time,
storing and saving, which are over in milliseconds, at a random statement of the database. The model is compiled once, before the forks.
After each kill every record and calibration that was acknowledged must be there, an upload whole or not at all; the calibration that
answers must be one that passed; and the next commands must work. `--store URL`, which can be given more than once,
names a store that is not there yet, in the place of one in a file of its own. Prints a line a kill.
"""

import argparse
import contextlib
import csv
import io
import json
import os
import random
import select
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

# Threads do not survive a fork.
os.environ |= {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "screens"))

import small_work
import stores
from sqlalchemy import Engine, event

from wearfit.cli.main import main as command
from wearfit.demo.scenario import RESINS, SITES
from wearfit.demo.settings import Fleet
from wearfit.demo.shipped import shipped_calibration_bytes
from wearfit.demo.simulate import simulate_fleet
from wearfit.demo.tables import write_tables
from wearfit.model.calibrate import calibrate
from wearfit.model.layout import Layout
from wearfit.model.prepare import prepare
from wearfit.model.priors import parse_priors
from wearfit.model.priors_file import own_priors_text
from wearfit.model.sampler import Compiled, compile_model
from wearfit.records.assemble import assemble
from wearfit.records.readers.read import read
from wearfit.store.store import Store
from wearfit.workflow.history import history_of
from wearfit.workflow.progress import Progress, Report, silent
from wearfit.workflow.recalibrate import Order, recalibrate
from wearfit.workflow.worker import Worker
from wearfit.workflow.worker_process import Fitted, Request

STAGES: Final = ("read", "store", "sample", "save")
FLEET: Final = Fleet(sites=SITES[:3], resins=RESINS[:3], n_tools=14, n_designs=6, n_makers=3, seed=4, years=5)
# Larger than it need be: that of the fleets of 60 tools which are calibrated in other tests, so that its machine code is made once.
LAYOUT: Final = Layout.fitting(plants=4, resins=4, designs=20, makers=5)
SAMPLING_SECONDS: Final = 4.0  # of a longer stage, in which the moment is drawn
Place = tuple[str, str, int]


@dataclass
class Known:
    """What the store has said that it keeps."""

    rows: dict[Place, dict[str, str]] = field(default_factory=dict)
    calibrations: set[int] = field(default_factory=set)


class InHere(Worker):
    """The model in this very process, which is the one that is killed."""

    def __init__(self, compiled: Compiled) -> None:
        super().__init__()
        self.compiled = compiled

    def calibrate(self, request: Request, report: Report = silent) -> Fitted:
        tell = lambda stage, share: report(Progress(stage, share))  # noqa: E731
        priors, layout = parse_priors(request.priors), self.compiled.layout
        calibrate(request.exposures, request.live, request.fingerprint, priors, request.seed, self.compiled, tell, layout=layout)
        raise AssertionError("it was to be killed while it sampled")


def compiled_for(folder: Path) -> Compiled:
    exposures = history_of(assemble(read(folder).rows, set())).exposures
    return compile_model(prepare(exposures, parse_priors(own_priors_text()), LAYOUT), LAYOUT)


def grow(folder: Path, number: int) -> None:
    """Another run in the file, and another count in the first: one row more, and one changed."""
    with (folder / "runs.csv").open(newline="") as file:
        header, *rows = csv.reader(file)
    start, end, shots = (header.index(name) for name in ("started_on", "ended_on", "shots"))
    added = [*rows[0]]
    added[start] = added[end] = f"{2000 + number // 300}-{1 + number % 12:02}-{1 + number % 28:02}"
    rows[0][shots] = str(1000 + number)
    with (folder / "runs.csv").open("w", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows([header, *rows, added])


def work(url: str, folder: Path, worker: Worker, say: Callable[[str], None], stage: str, die_at: int | None) -> None:
    """A recalibration, that says what it has come to; dies at that statement of a stage of storing or saving."""
    now, told, ticks = "read", "", 0

    def tick(*_: object) -> None:
        nonlocal now, ticks
        if now == "read" and any("INSERT INTO history" in str(given) for given in _):
            now = "store"
        if now == stage:
            ticks += 1
            if ticks == die_at:
                os.kill(os.getpid(), signal.SIGKILL)

    def report(progress: Progress) -> None:
        nonlocal now, told
        now = progress.stage
        if now != told:
            told = now
            say(now)

    event.listen(Engine, "before_cursor_execute", tick)
    event.listen(Engine, "commit", tick)
    done = recalibrate(url, Order((folder,), make_current=True), worker, report)
    say(f"saved {done.calibration}")
    say(f"ticks {ticks}")


def fork(job: Callable[[Callable[[str], None]], None], kill_in: str | None, seconds: float) -> list[str]:
    """Do a job in a child, which is killed so many seconds after it has said that a stage begins; what it said."""
    reader, writer = os.pipe()
    if (child := os.fork()) == 0:
        os.close(reader)
        try:
            job(lambda word: os.write(writer, f"{word}\n".encode()) and None)
            os._exit(0)
        except BaseException as error:
            os.write(2, f"{error!r}\n".encode())
            os._exit(1)
    os.close(writer)
    said: list[str] = []
    with open(reader) as pipe:
        for line in pipe:
            said.append(line.strip())
            if said[-1] == kill_in:
                # The pipe ends with the child, should it be done before its time.
                select.select([pipe], [], [], seconds)
                os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    if not os.WIFSIGNALED(status) and status != 0:
        raise AssertionError(f"the recalibration ended with {status} by itself, having said {said}")
    return said


def look(url: str, known: Known, before: dict[Place, dict[str, str]], after: dict[Place, dict[str, str]], told: list[str]) -> None:
    """What must hold after a kill; takes down what was acknowledged."""
    whole = {**before, **after}
    known.calibrations |= {int(word.split()[1]) for word in told if word.startswith("saved")}
    with Store.open(url, must_exist=True) as store:
        held = {(row.table, row.key, row.occurrence): row.values for row in store.rows()}
        # "assemble" is said after the records were stored; before it they may be.
        assert held == whole or (held == before and "assemble" not in told), "an upload is there in part, or was acknowledged and is not"
        for upload in store.uploads():
            store.files(upload.id)
        current = store.calibration()
        assert current.summary.passed, "the calibration that answers did not pass"
        assert current.blob.startswith(shipped_calibration_bytes()[:4]), "the calibration that answers is not whole"
        assert known.calibrations <= {entry.id for entry in store.calibrations()}, "an acknowledged calibration is not there"
        store.set_setting("tolerance", str(0.1 + len(store.history()) / 1e6))
        known.rows = held
    for next_one in (["calibrations"], ["history"], ["forecast"]):
        with contextlib.redirect_stdout(io.StringIO()) as out:
            assert command([*next_one, "--store", url, "--json"]) == 0, f"{next_one} does not work: {out.getvalue()}"


def rows_of(folder: Path) -> dict[Place, dict[str, str]]:
    """The rows as the store will hold them, of a folder in which no key is repeated."""
    return {(row.table, row.key, row.occurrence): row.values for row in read(folder).rows}


def run(url: str, kills: int, seed: int, folder: Path, model: Worker) -> None:
    chance, known = random.Random(seed), Known()
    with Store.open(url) as store:
        store.add_calibration(shipped_calibration_bytes(), stores.summary(True), make_current=True)
        store.add_upload(read(folder))
        known.rows = {(row.table, row.key, row.occurrence): row.values for row in store.rows()}
    began = time.perf_counter()
    rows_of(folder)
    longest = {"read": time.perf_counter() - began, "sample": SAMPLING_SECONDS}
    count: dict[str, int] = {}
    for stage in ("store", "save"):
        grow(folder, 10_000 + len(count))
        said = fork(lambda say, stage=stage: work(url, folder, small_work.Shipped(), say, stage, None), None, 0.0)
        count[stage] = int(said[-1].split()[1])
        look(url, known, known.rows, rows_of(folder), said)
    for kill in range(kills):
        stage = STAGES[kill % len(STAGES)]
        grow(folder, kill)
        worker = model if stage == "sample" else small_work.Shipped()
        at = None if stage in longest else chance.randint(1, count[stage])
        seconds = chance.uniform(0.0, longest.get(stage, 0.0))
        before, after = known.rows, rows_of(folder)

        def job(say: Callable[[str], None], worker: Worker = worker, stage: str = stage, at: int | None = at) -> None:
            work(url, folder, worker, say, stage, at)

        told = fork(job, stage if at is None else None, seconds)
        look(url, known, before, after, told)
        moment = f"statement {at} of {count[stage]}" if at is not None else f"{seconds:.2f} s into it"
        print(json.dumps({"kill": kill + 1, "stage": stage, "moment": moment, "stored": "assemble" in told}), flush=True)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--kills", type=int, default=50)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--store", action="append")
    given = parser.parse_args()
    scratch = Path(tempfile.mkdtemp(prefix="wearfit-kills-"))
    try:
        folder = scratch / "history"
        write_tables(simulate_fleet(FLEET).tables, folder)
        model = InHere(compiled_for(folder))
        for url in given.store or [str(scratch / "wearfit.db")]:
            run(url, given.kills, given.seed, folder, model)
    finally:
        shutil.rmtree(scratch)
