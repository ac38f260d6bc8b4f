"""Answer times under load: `uv run python tests/bench/load.py --out FILE.json`.

One browser with so many contexts (20 by default), each of which asks Next run again and again: it changes the quantity, waits for
the answer and thinks for 5 seconds. Meanwhile another one recalibrates the same store in the app, whose worker gives way to the pages.
The server's time of an answer is that between the frame with the question, as the browser sends it, and the frame that ends the last
run of the page's script for it, as the browser gets it; drawing is not counted. The bar: 95 % under 2 s, no error. Wants a Chromium
(`CHROMIUM`, else /usr/bin/chromium) and an idle machine; all traffic stays on it.
"""

import argparse
import asyncio
import json
import math
import os
import random
import socket
import subprocess
import sys
import tempfile
import time
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Final

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "screens"))

from playwright.async_api import Browser, Page, WebSocket, async_playwright
from stores import make_store
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg

from wearfit.demo.shipped import scenario_folder
from wearfit.workflow.answers import forecast

PROGRAM: Final = "import sys\nfrom wearfit.cli.main import main\nsys.exit(main(sys.argv[1:]))\n"
BAR_SECONDS: Final = 2.0
BAR_SHARE: Final = 0.95
LONGEST_SECONDS: Final = 60.0  # that an answer is waited for
RECALIBRATE: Final = "Recalibrate on the stored records"


@dataclass
class Wire:
    """What passes between a page and the server: when the last question went out, and when the script last ended."""

    sent: float = math.nan
    ended: float = math.nan
    changed: asyncio.Event = field(default_factory=asyncio.Event)

    def listen(self, page: Page) -> None:
        page.on("websocket", self._open)

    def ask(self) -> None:
        self.sent = self.ended = math.nan

    def _open(self, opened: WebSocket) -> None:
        opened.on("framesent", self._sent)
        opened.on("framereceived", self._received)

    def _sent(self, frame: bytes | str) -> None:
        if isinstance(frame, bytes) and BackMsg.FromString(frame).WhichOneof("type") == "rerun_script" and math.isnan(self.sent):
            self.sent = time.perf_counter()

    def _received(self, frame: bytes | str) -> None:
        if not isinstance(frame, bytes) or math.isnan(self.sent):
            return
        message = ForwardMsg.FromString(frame)
        if message.WhichOneof("type") == "script_finished" and message.script_finished == ForwardMsg.FINISHED_SUCCESSFULLY:
            self.ended = time.perf_counter()
            self.changed.set()


@dataclass(frozen=True)
class Asked:
    """One answer: who asked, how many seconds after the beginning, how long the server took, whether a calibration was under way."""

    context: int
    at_s: float
    server_s: float
    recalibrating: bool


@dataclass
class Load:
    """What goes on at once, and what came of it."""

    url: str
    think_s: float
    rounds: int
    began: float
    recalibrating: bool = False
    done: bool = False
    answers: list[Asked] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    recalibrations: int = 0


async def ask_again_and_again(load: Load, browser: Browser, context: int, tool: str) -> None:
    own, chance = await browser.new_context(), random.Random(context)
    page, wire = await own.new_page(), Wire()
    wire.listen(page)
    try:
        await page.goto(f"{load.url}/next-run?tool={tool}")
        shots = page.get_by_label("Shots", exact=True)
        await shots.wait_for(timeout=LONGEST_SECONDS * 1000)
        await page.locator(".wf-answer").wait_for(timeout=LONGEST_SECONDS * 1000)
        await asyncio.sleep(chance.uniform(0.0, load.think_s))  # not all at once
        for quantity in chance.sample(range(1, 1000), load.rounds):  # another one each time, or nothing would be asked
            wire.ask()
            await shots.fill(str(quantity * 1000 + 500))
            await shots.press("Enter")
            await asyncio.wait_for(_answered(page, wire), LONGEST_SECONDS)
            at = wire.sent - load.began
            load.answers.append(Asked(context, round(at, 3), round(wire.ended - wire.sent, 4), load.recalibrating))
            await asyncio.sleep(load.think_s)
    except Exception as error:
        load.errors.append(f"context {context}: {error!r}"[:500])
    finally:
        await own.close()


async def _answered(page: Page, wire: Wire) -> None:
    """Wait until a run of the script has ended with the answer; a page that says that it is at work comes back by itself."""
    while True:
        await wire.changed.wait()
        wire.changed.clear()
        if math.isnan(wire.ended):
            continue
        if await page.get_by_text("One moment").count() == 0 and await page.locator(".wf-answer").count():
            return


async def recalibrate(load: Load, browser: Browser) -> None:
    """Recalibrate in the app, anew when it is done, until all have asked."""
    own = await browser.new_context()
    page = await own.new_page()
    try:
        await page.goto(f"{load.url}/records")
        button = page.get_by_role("button", name=RECALIBRATE)
        while not load.done:
            await button.click(timeout=LONGEST_SECONDS * 1000)
            load.recalibrating = True
            await page.get_by_role("button", name="Cancel").wait_for(timeout=LONGEST_SECONDS * 1000)
            while not load.done and await page.get_by_role("button", name="Cancel").count():
                await asyncio.sleep(0.5)
            load.recalibrating = False
            load.recalibrations += not load.done
    except Exception as error:
        load.errors.append(f"recalibration: {error!r}"[:500])
    finally:
        await own.close()


async def run(load: Load, contexts: int, tools: list[str]) -> None:
    async with async_playwright() as playwright:
        chromium = os.environ.get("CHROMIUM", "/usr/bin/chromium")
        browser = await playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        other = asyncio.create_task(recalibrate(load, browser))
        await asyncio.gather(*(ask_again_and_again(load, browser, i, tools[i % len(tools)]) for i in range(contexts)))
        load.done = True
        await other
        await browser.close()


def summary(load: Load) -> dict[str, object]:
    times = sorted(answer.server_s for answer in load.answers)
    under = sum(seconds < BAR_SECONDS for seconds in times) / len(times) if times else 0.0
    quantiles = {f"p{q}": times[min(len(times) - 1, len(times) * q // 100)] for q in (50, 90, 95, 99)} if times else {}
    return {
        "answers": len(times),
        "while_recalibrating": sum(answer.recalibrating for answer in load.answers),
        "recalibrations_done": load.recalibrations,
        "server_seconds": quantiles | ({"longest": times[-1]} if times else {}),
        "share_under_2_s": under,
        "passed": under >= BAR_SHARE and not load.errors,
        "errors": load.errors,
        "each": [asdict(answer) for answer in load.answers],
    }


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--contexts", type=int, default=20)
    parser.add_argument("--rounds", type=int, default=15, help="questions of each context")
    parser.add_argument("--think", type=float, default=5.0, help="seconds between an answer and the next question")
    parser.add_argument("--out", type=Path, required=True)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        store = make_store(Path(folder) / "load.db", records=scenario_folder(), calibrations=(True,))
        tools = [str(tool["tool_id"]) for tool in forecast(store)["tools"] if tool["status"] == "running"]
        with socket.create_server(("127.0.0.1", 0)) as free:
            port = free.getsockname()[1]
        command = [sys.executable, "-c", PROGRAM, "serve", "--port", str(port), "--store", store]
        with subprocess.Popen(command, cwd=folder, stdout=subprocess.PIPE, text=True) as app:
            try:
                assert app.stdout is not None
                app.stdout.readline()  # said once the app answers
                load = Load(f"http://127.0.0.1:{port}", given.think, given.rounds, time.perf_counter())
                asyncio.run(run(load, given.contexts, tools))
            finally:
                app.terminate()
    found = summary(load)
    given.out.write_text(json.dumps(found, indent=1) + "\n")
    print(json.dumps({key: value for key, value in found.items() if key != "each"}, indent=1))
    return 0 if found["passed"] else 1


if __name__ == "__main__":
    sys.exit(main())
