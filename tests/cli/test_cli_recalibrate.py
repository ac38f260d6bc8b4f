"""`wearfit recalibrate` end to end on a small simulated fleet, and its interruption. One model is compiled for all of it."""

import contextlib
import io
import os
import select
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from pathlib import Path

import numpy as np
import own_server
import pytest
from rich.console import Console
from run_command import Said

from wearfit.calibration import Calibration, from_bytes
from wearfit.cli.main import main
from wearfit.cli.recalibrate import show_recalibration, status_of
from wearfit.demo.scenario import RESINS, SITES
from wearfit.demo.settings import Fleet
from wearfit.demo.simulate import simulate_fleet
from wearfit.demo.tables import write_tables
from wearfit.errors import Refusal
from wearfit.store.store import Store
from wearfit.workflow.progress import Progress
from wearfit.workflow.recalibrate import Order, Recalibration, recalibrate
from wearfit.workflow.worker import Worker

FLEET = Fleet(sites=SITES[:4], resins=RESINS[:4], n_tools=60, n_designs=20, n_makers=5, seed=11, years=8)


class Kept(Worker):
    """A worker that outlives the command, so that the next one finds the model compiled."""

    def stop(self) -> None:
        """Not yet."""

    def end(self) -> None:
        super().stop()


@dataclass(frozen=True)
class Session:
    """What the commands left, in their order."""

    store: str
    cold: Said
    warm: Said
    interrupted_store: str
    stopped: Refusal
    told: tuple[Progress, ...]
    process_id: int
    restored_store: str
    restored: Said


def command(*arguments: str) -> Said:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = main(arguments)
    return Said(status, out.getvalue(), err.getvalue())


@pytest.fixture(scope="session", params=["sqlite", pytest.param("postgresql", marks=[pytest.mark.server, pytest.mark.slow])])
def session(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Session]:
    """A cold and a warm recalibration, then one that is stopped while the chains are sampled; on stores of either kind."""
    place = tmp_path_factory.mktemp("recalibrate")
    write_tables(simulate_fleet(FLEET).tables, place / "history")
    with contextlib.ExitStack() as made:
        if request.param == "sqlite":
            stores = tuple(str(place / name) for name in ("wearfit.db", "other.db", "restored.db"))
        else:
            server = request.getfixturevalue("server")
            stores = tuple(made.enter_context(own_server.empty_database(server)) for _ in range(3))
        yield run_session(place, *stores)


def run_session(place: Path, store: str, other: str, restored_store: str) -> Session:
    """The commands, one after the other, in a folder that holds the history."""
    worker = Kept()
    told: list[Progress] = []

    def stop_in_the_middle(progress: Progress) -> None:
        told.append(progress)
        if progress.stage == "sample":
            worker.end()

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("wearfit.cli.recalibrate.WarmWorker", lambda minutes: worker)
        patch.delenv("WEARFIT_SEED", raising=False)
        try:
            cold = command("recalibrate", str(place / "history"), "--store", store, "--json")
            warm = command("recalibrate", "--store", store, "--json")
            exported = str(place / "exported")
            assert command("export", exported, "--store", store).status == 0
            restored = command("recalibrate", exported, "--store", restored_store, "--json")
            process_id = worker.process_id
            with pytest.raises(Refusal) as stopped:
                recalibrate(other, Order((place / "history",)), worker, stop_in_the_middle)
        finally:
            worker.end()
    return Session(store, cold, warm, other, stopped.value, tuple(told), process_id, restored_store, restored)


def test_the_command_answers_with_one_document(session: Session):
    document = session.cold.document
    assert document["lives"] > FLEET.n_tools / 2
    assert 0 < document["wear_outs"] < document["lives"]
    assert {"rhat_max", "ess_bulk_min", "ess_tail_min", "divergences", "ebfmi_min", "passed", "reasons"} <= document["diagnostics"].keys()
    assert {"read", "prepare", "compile", "sample", "total"} <= document["seconds"].keys()
    assert all(seconds >= 0.0 for seconds in document["seconds"].values())
    assert document["seconds"]["total"] >= document["seconds"]["compile"] + document["seconds"]["sample"]


def test_it_is_current_and_exits_0_where_it_passed_the_gate(session: Session):
    diagnostics = session.cold.document["diagnostics"]
    assert diagnostics["passed"] == (not diagnostics["reasons"])
    assert session.cold.document["current"] == diagnostics["passed"]
    assert session.cold.status == (0 if diagnostics["passed"] else 1)


def test_progress_goes_to_standard_error_and_names_what_is_left(session: Session):
    err = session.cold.err
    places = [err.index(words) for words in ("reading the records", "compiling the model", "sampling", "saving the calibration")]
    assert places == sorted(places)
    assert "% done" in err


def test_what_was_stored_can_be_read_and_is_what_was_answered(session: Session):
    document = session.cold.document
    with Store.open(session.store) as store:
        stored = store.calibration(document["calibration"])
    identity = from_bytes(stored.blob).identity
    assert identity.fingerprint == stored.summary.fingerprint == document["fingerprint"]
    assert str(stored.summary.as_of) == identity.as_of == document["as_of"]
    assert stored.summary.passed == document["diagnostics"]["passed"]


def test_a_warm_process_does_not_compile_and_draws_the_same(session: Session):
    cold, warm = session.cold.document, session.warm.document
    # Even where its machine code is kept on the disk, a process has to load it once.
    assert warm["seconds"]["compile"] < 0.2 * cold["seconds"]["compile"]
    assert warm["uploads"] == []
    assert warm["findings"] == cold["findings"]
    with Store.open(session.store) as store:
        first, second = (from_bytes(store.calibration(document["calibration"]).blob) for document in (cold, warm))
    assert first.identity == second.identity
    for field in fields(first.draws):
        assert np.array_equal(getattr(first.draws, field.name), getattr(second.draws, field.name), equal_nan=True), field.name


def test_an_exported_store_gives_the_same_answers_back(session: Session):
    assert session.restored.document["fingerprint"] == session.warm.document["fingerprint"]
    with Store.open(session.store) as store, Store.open(session.restored_store) as again:
        first, second = (
            from_bytes(held.calibration(made["calibration"]).blob)
            for held, made in ((store, session.warm.document), (again, session.restored.document))
        )
    assert first.identity == second.identity
    for field in fields(first.draws):
        assert np.array_equal(getattr(first.draws, field.name), getattr(second.draws, field.name), equal_nan=True), field.name
    answers = [command("forecast", "--store", url, "--json").document["tools"] for url in (session.store, session.restored_store)]
    assert answers[0] == answers[1]


def test_a_stop_in_the_middle_of_sampling_leaves_records_no_calibration_and_no_process(session: Session):
    assert "stopped before it was done" in str(session.stopped)
    assert session.told[-1].stage == "sample"
    with Store.open(session.interrupted_store) as store:
        assert len(store.rows()) > 0
        assert store.calibrations() == []
    with pytest.raises(ProcessLookupError):
        os.kill(session.process_id, 0)


@pytest.fixture
def history(tmp_path: Path) -> Path:
    folder = tmp_path / "history"
    write_tables(simulate_fleet(FLEET).tables, folder)
    return folder


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="the children of a process are listed on Linux alone")
def test_ctrl_c_ends_every_process_and_keeps_the_records(history: Path, tmp_path: Path):
    # A shell lets what it starts in the background ignore interrupts, and the tests may have been started so.
    heeding = "import signal\nsignal.signal(signal.SIGINT, signal.default_int_handler)\n"
    program = f"{heeding}import sys\nfrom wearfit.cli.main import main\nsys.exit(main())\n"
    store = str(tmp_path / "wearfit.db")
    arguments = [sys.executable, "-c", program, "recalibrate", str(history), "--store", store, "--json"]
    with subprocess.Popen(arguments, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True) as process:
        for line in process.stderr:
            if line.startswith("compiling"):
                break
        children = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text().split()
        handles = [os.pidfd_open(int(child)) for child in children]
        os.killpg(process.pid, signal.SIGINT)  # a terminal sends it to the whole group
        out, err = process.communicate(timeout=60)
    assert children
    for handle in handles:
        assert select.select([handle], [], [], 60.0)[0]
        os.close(handle)
    assert process.returncode == 1
    assert "records are stored" in Said(1, out, err).document["error"]
    assert "Traceback" not in err
    with Store.open(store) as opened:
        assert len(opened.rows()) > 0
        assert opened.calibrations() == []


def test_a_gate_that_was_not_passed_exits_1_and_says_why(demo_calibration: Calibration):
    reason = "plant: R-hat 1.300 is above 1.02"
    diagnostics = demo_calibration.identity.diagnostics | {"passed": False, "reasons": [reason]}
    seconds = {"read": 1.0, "prepare": 1.0, "compile": 1.0, "sample": 1.0, "total": 4.0}
    identity = replace(demo_calibration.identity, diagnostics=diagnostics)
    done = Recalibration(7, identity, False, f"It did not pass the gate: {reason}.", seconds, 0, ())
    assert status_of(done) == 1
    out = io.StringIO()
    show_recalibration(Console(file=out, width=80), done)
    assert "not current" in out.getvalue()
    assert reason in " ".join(out.getvalue().split())
    assert "against each other" not in out.getvalue()


def test_laws_stacked_say_what_their_comparison_took(demo_calibration: Calibration):
    seconds = {"read": 1.0, "prepare": 1.0, "compile": 1.0, "sample": 4.0, "score": 3.0, "total": 10.0}
    out = io.StringIO()
    show_recalibration(Console(file=out, width=80), Recalibration(7, demo_calibration.identity, True, "", seconds, 0, ()))
    assert " ".join(out.getvalue().split()).endswith("sample 4.0, hold the laws against each other 3.0.")
