"""Pages without a browser, as the load benchmark opens them: each is answered what it asked, also as another calibration comes."""

import asyncio
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from frames import Frames
from page_alone import PageAlone
from stores import make_store, summary
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from streamlit.proto.WidgetStates_pb2 import WidgetState

from wearfit.demo.shipped import shipped_calibration_bytes
from wearfit.store.store import Store

PROGRAM = "import sys\nfrom wearfit.cli.main import main\nsys.exit(main(sys.argv[1:]))\n"
LONGEST = 120.0  # seconds, on a busy machine


@pytest.fixture
def served(tmp_path: Path) -> Iterator[tuple[str, str]]:
    """A store, and the address of the app that serves it."""
    store = make_store(tmp_path / "own.db", calibrations=(True,))
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    command = [sys.executable, "-c", PROGRAM, "serve", "--port", str(port), "--store", store]
    with subprocess.Popen(command, cwd=tmp_path, stdout=subprocess.PIPE, text=True) as app:
        assert app.stdout is not None
        app.stdout.readline()  # said once the app answers
        yield store, f"http://127.0.0.1:{port}"
        app.terminate()


def question(shots: int) -> bytes:
    asked = BackMsg()
    asked.rerun_script.widget_states.widgets.append(WidgetState(id="shots", int_value=shots))
    return asked.SerializeToString()


def drawn(html: str) -> ForwardMsg:
    message = ForwardMsg()
    message.delta.new_element.html.body = html
    return message


def began(parts: tuple[str, ...] = ()) -> ForwardMsg:
    message = ForwardMsg()
    message.new_session.name = "page"
    message.metadata.run.fragment_ids.extend(parts)
    return message


def ended(how: "ForwardMsg.ScriptFinishedStatus.ValueType" = ForwardMsg.FINISHED_SUCCESSFULLY) -> ForwardMsg:
    return ForwardMsg(script_finished=how)


def test_an_answer_is_that_of_the_last_run_which_drew_the_quantity_asked():
    frames = Frames()
    old, new = (drawn(f'<p class="wf-answer">... before the run of {n} shots at ...</p>') for n in ("1,500", "2,500"))
    for message in (began(), old, ended()):
        frames.heard(message)
    assert frames.shows_an_answer() and not frames.answered.is_set()
    frames.ask(2500)
    frames.went(question(1500))  # a part of the page that came back by itself
    frames.heard(ended())
    assert "never went out" in frames.stand
    frames.went(question(2500))
    at_work = (began(), drawn("One moment"), ended(), began(("part",)), ended(ForwardMsg.FINISHED_FRAGMENT_RUN_SUCCESSFULLY))
    stopped = (began(), new, ended(ForwardMsg.FINISHED_EARLY_FOR_RERUN))
    stale = (began(), old, ended())
    for message in (*at_work, *stopped, *stale):
        frames.heard(message)
        assert not frames.answered.is_set()
    for message in (began(), new, ended()):
        frames.heard(message)
    assert frames.answered.is_set() and frames.took >= 0.0 and frames.runs == 4
    came = frames.ended
    frames.heard(ended())
    assert frames.ended == came


def test_a_question_asked_as_another_calibration_comes_is_the_one_that_is_answered(served: tuple[str, str]):
    store, url = served

    async def ask() -> list[str]:
        said = []
        async with PageAlone(url, "next-run", "tool=T-003") as page:
            await page.until_begun(LONGEST)
            for shots in (41_500, 52_500):
                with Store.open(store) as opened:
                    opened.add_calibration(shipped_calibration_bytes(), summary(True), make_current=True)
                page.frames.ask(shots)
                await page.type_in("Shots", shots, LONGEST)
                await page.until_answered(LONGEST)
                said.append(await page.says())
        return said

    first, second = asyncio.run(ask())
    assert "calibration 2" in first and "the run of 41,500 shots" in first
    assert "calibration 3" in second and "the run of 52,500 shots" in second
