"""A worker kept warm serves one command after another, and nobody whom it does not know."""

import contextlib
import os
import select
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from wearfit.errors import Refusal
from wearfit.workflow import resident_place
from wearfit.workflow.resident import WarmWorker
from wearfit.workflow.resident_door import Ask, Claim, Claimed, Stop, ask, call
from wearfit.workflow.resident_place import Place, own_place
from wearfit.workflow.resident_workers import end_all, seen
from wearfit.workflow.worker_process import Request

pytestmark = pytest.mark.skipif(
    not (resident_place.SUPPORTED and hasattr(os, "pidfd_open")), reason="waiting for another's child needs Linux"
)

# No history at all: enough for what comes before the model looks at it.
NOTHING = Request(exposures=None, live=None, fingerprint="", priors="", seed=1)  # type: ignore[arg-type]
MINUTES = 10.0


@contextlib.contextmanager
def watched(process_id: int | None) -> Iterator[int]:
    handle = os.pidfd_open(process_id or 0)
    try:
        yield handle
    finally:
        os.close(handle)


def has_ended(handle: int, within_seconds: float = 60.0) -> bool:
    return bool(select.select([handle], [], [], within_seconds)[0])


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    with pytest.MonkeyPatch.context() as patch:
        runtime = tmp_path_factory.mktemp("run")
        patch.setenv("XDG_RUNTIME_DIR", str(runtime))
        yield runtime
        end_all()


@pytest.fixture(scope="module")
def place(folder: Path) -> Place:
    """Where a worker lives that an earlier command left behind, its model loaded."""
    worker = WarmWorker(MINUTES)
    worker.start()
    with pytest.raises(Refusal, match="priors file"):
        worker.calibrate(NOTHING)
    worker.stop()
    found = own_place()
    assert found is not None
    return found


def standing(place: Place) -> Any:
    stands = ask(place, Ask())
    assert stands is not None
    return stands


def test_the_next_command_finds_it_and_leaves_it_as_it_was(place: Place):
    process_id = standing(place).process_id
    for _ in range(2):
        with WarmWorker() as worker:
            assert worker.process_id == process_id
            assert standing(place).state == "calibrating"
            with pytest.raises(Refusal, match="priors file") as refused:
                worker.calibrate(NOTHING)
            assert refused.value.status == 2
    with watched(process_id) as handle:
        assert not has_ended(handle, 0.0)


def test_its_session_is_not_the_commands(place: Place):
    # The kernel sends Ctrl-C to the processes in the foreground of one session (termios(3)).
    assert os.getsid(standing(place).process_id) != os.getsid(0)


def test_where_it_is_busy_a_command_has_a_process_of_its_own(place: Place):
    with WarmWorker() as first, WarmWorker() as second:
        assert first.process_id == standing(place).process_id
        assert second.process_id not in (None, first.process_id)
        with watched(second.process_id) as handle:
            second.stop()
            assert has_ended(handle)


def test_a_command_that_dies_frees_it(place: Place):
    program = "from wearfit.workflow.resident import WarmWorker\nw = WarmWorker()\nw.start()\nprint(w.process_id, flush=True)\ninput()\n"
    with subprocess.Popen([sys.executable, "-c", program], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as command:
        assert command.stdout is not None
        assert int(command.stdout.readline()) == standing(place).process_id
        command.kill()
    connection = claimed_when_free(place)
    connection.close()


def claimed_when_free(place: Place) -> Any:
    """A connection that holds the worker: it tells a stranger that it is busy until it has seen the last one's end."""
    while True:
        connection = call(place)
        assert connection is not None
        connection.send(Claim(None))
        if isinstance(connection.recv(), Claimed):
            return connection
        connection.close()


def test_one_without_the_key_is_not_let_in(place: Place):
    card = place.card.read_text(encoding="ascii")
    place.card.write_text('{"key": "00"}', encoding="ascii")
    assert call(place) is None
    with WarmWorker() as worker:
        process_id = worker.process_id
    place.card.write_text(card, encoding="ascii")
    assert process_id not in (None, standing(place).process_id)


def test_files_are_their_owners_alone(place: Place):
    assert place.folder.stat().st_mode & 0o077 == 0
    for path in (place.card, Path(place.address), place.lock):
        assert path.stat().st_mode & 0o077 == 0


def test_another_version_is_not_used_but_can_be_seen(place: Place, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("NUMBA_OPT", "1")  # another flag of the compiler is another program
    other = own_place()
    assert other is not None
    assert other.digest != place.digest
    assert call(other) is None
    assert [w["of_this_version"] for w in seen()] == [False]


@pytest.mark.parametrize("mode", [0o770, 0o702])
def test_a_folder_in_which_others_may_write_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture, mode: int
):
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    (tmp_path / "wearfit").mkdir()
    (tmp_path / "wearfit").chmod(mode)
    assert own_place(make=True) is None
    assert "others may write" in caplog.text


def test_a_folder_that_is_a_link_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture):
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    (tmp_path / "elsewhere").mkdir(mode=0o700)
    (tmp_path / "wearfit").symlink_to(tmp_path / "elsewhere")
    assert own_place(make=True) is None
    assert "is no folder" in caplog.text


def test_a_place_that_is_taken_is_left_to_who_lives_there(place: Place):
    process_id = standing(place).process_id
    program = "import sys; from wearfit.workflow.resident_process import main; main(*sys.argv[1:])"
    subprocess.run([sys.executable, "-c", program, str(place.folder), place.digest, "1"], check=True)
    assert standing(place).process_id == process_id


def settle(folder: Path, name: str, minutes: str) -> Place:
    """A process at a place of its own."""
    place = Place(folder / "wearfit", name)
    program = "import sys; from wearfit.workflow.resident_process import main; main(*sys.argv[1:])"
    subprocess.run([sys.executable, "-c", program, str(place.folder), place.digest, minutes], check=True, start_new_session=True)
    return place


def test_one_that_nobody_needs_ends_and_takes_its_files_along(place: Place):
    brief = settle(place.folder.parent, "brief", "0.0001")
    with contextlib.suppress(AttributeError, ProcessLookupError), watched(ask(brief, Ask()).process_id) as handle:  # type: ignore[union-attr]
        assert has_ended(handle)
    assert ask(brief, Ask()) is None
    assert not brief.card.exists()
    assert not Path(brief.address).exists()


@pytest.mark.parametrize("sweeps", [False, True])
def test_one_that_was_killed_is_gone_and_another_may_settle(place: Place, sweeps: bool):
    killed = settle(place.folder.parent, f"killed{sweeps}", "10")
    stands = ask(killed, Ask())
    assert stands is not None
    with watched(stands.process_id) as handle:
        os.kill(stands.process_id, signal.SIGKILL)
        assert has_ended(handle)
    assert ask(killed, Ask()) is None
    if sweeps:
        again = settle(place.folder.parent, killed.digest, "10")
        assert ask(again, Stop()) is not None


def test_stop_ends_it_whatever_it_does(place: Place):
    other = settle(place.folder.parent, "stopped", "10")
    stands = ask(other, Ask())
    assert stands is not None
    assert stands.state == "loading"
    connection = claimed_when_free(other)
    with watched(stands.process_id) as handle:
        ask(other, Stop())
        assert has_ended(handle)
    connection.close()
    assert not other.card.exists()


def test_a_worker_that_ends_midway_is_said(place: Place):
    with WarmWorker() as worker:
        with pytest.raises(Refusal, match="kept warm was ended") as refused:
            worker.calibrate(replace(NOTHING), lambda progress: os.kill(worker.process_id or 0, signal.SIGKILL))
        assert refused.value.status == 1
