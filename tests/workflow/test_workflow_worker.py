"""The worker process can be ended at any moment, and says in a sentence what became of it."""

import os
import select
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from wearfit.errors import Refusal
from wearfit.model.priors_file import own_priors_text
from wearfit.workflow.progress import Progress
from wearfit.workflow.worker import Worker
from wearfit.workflow.worker_process import LOW_PRIORITY, Request

# No history at all: enough for what comes before the model looks at it.
NOTHING = Request(exposures=None, live=None, fingerprint="", priors="", seed=1)  # type: ignore[arg-type]


def is_running(process_id: int) -> bool:
    try:
        os.kill(process_id, 0)
    except ProcessLookupError:
        return False
    return True


def test_it_starts_at_once_and_ends_with_its_block():
    with Worker() as worker:
        process_id = worker.process_id
        assert process_id is not None
        assert is_running(process_id)
        worker.start()
        assert worker.process_id == process_id
    assert worker.process_id is None
    assert not is_running(process_id)


def test_one_that_was_never_started_can_be_stopped():
    Worker().stop()


def test_a_stop_ends_the_process_and_is_said():
    worker = Worker()
    worker.start()
    process_id = worker.process_id

    def stop(progress: Progress) -> None:
        worker.stop()

    with pytest.raises(Refusal, match="stopped before it was done") as refused:
        worker.calibrate(NOTHING, stop)
    assert refused.value.status == 1
    assert not is_running(process_id)


@pytest.mark.skipif(sys.platform == "win32", reason="signals are numbered on POSIX alone")
def test_a_process_that_dies_is_said_with_its_signal():
    with Worker() as worker:

        def kill(progress: Progress) -> None:
            os.kill(worker.process_id, signal.SIGKILL)

        with pytest.raises(Refusal, match="signal 9") as refused:
            worker.calibrate(NOTHING, kill)
        assert refused.value.status == 1
        assert worker.process_id is None


def test_an_interrupt_while_it_waits_ends_the_process():
    def interrupt(progress: Progress) -> None:
        raise KeyboardInterrupt

    worker = Worker()
    worker.start()
    process_id = worker.process_id
    with pytest.raises(KeyboardInterrupt):
        worker.calibrate(NOTHING, interrupt)
    assert not is_running(process_id)


@pytest.mark.skipif(not hasattr(os, "pidfd_open"), reason="waiting for another's child needs Linux")
def test_the_process_ends_when_its_parent_is_killed():
    program = (
        "from wearfit.workflow.worker import Worker\nworker = Worker()\nworker.start()\nprint(worker.process_id, flush=True)\ninput()\n"
    )
    with subprocess.Popen([sys.executable, "-c", program], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as parent:
        process_id = int(parent.stdout.readline())
        handle = os.pidfd_open(process_id)
        parent.kill()
        ended, _, _ = select.select([handle], [], [], 60.0)
        os.close(handle)
    assert ended


@pytest.fixture(scope="module")
def ready() -> Iterator[Worker]:
    """A worker that has loaded the model."""
    with Worker() as worker:
        yield worker


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="the priority of another process is told on Linux alone")
def test_one_that_gives_way_gets_the_processor_after_others():
    def priority(process_id: int) -> int:
        # proc(5): the 19th field; the second is in brackets and may hold blanks.
        return int(Path(f"/proc/{process_id}/stat").read_text().rpartition(")")[2].split()[16])

    with Worker(gives_way=True) as polite:
        with pytest.raises(Refusal, match="priors file"):
            polite.calibrate(NOTHING)
        assert priority(polite.process_id) == min(priority(os.getpid()) + LOW_PRIORITY, 19)


def test_what_the_model_refuses_comes_back_and_the_process_goes_on(ready: Worker):
    for _ in range(2):
        with pytest.raises(Refusal, match="priors file") as refused:
            ready.calibrate(NOTHING)
        assert refused.value.status == 2
    assert ready.process_id is not None


def test_a_fault_of_the_program_is_said_and_its_place_is_logged(ready: Worker, caplog: pytest.LogCaptureFixture):
    with pytest.raises(Refusal, match="fault of the program: AttributeError") as refused:
        ready.calibrate(Request(exposures=None, live=None, fingerprint="", priors=own_priors_text(), seed=1))  # type: ignore[arg-type]
    assert refused.value.status == 1
    assert "Traceback" in caplog.text
    assert ready.process_id is not None
