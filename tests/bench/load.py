"""Answer times under load: `uv run python tests/bench/load.py --out FILE.json`.

So many pages at once (20 by default), each of which asks Next run again and again: it changes the quantity, waits for the answer to that
quantity and thinks for 5 seconds. Meanwhile another one recalibrates the same store in the app, whose worker gives way to the pages. The
server's time of an answer is that between the frame with the question, as it is sent, and the frame that ends the last run of the page's
script for it, as it comes; drawing is not counted. The bar: 95 % under 2 s, no error. The pages are contexts of one browser (a Chromium:
`CHROMIUM`, else /usr/bin/chromium), which takes many times the processor time of the server, gives way to it (`--browser-nice`), and tells
of a frame only when it gets round to it: so a few pages without a browser ask at the same time (`--beside`), whose times are the server's
own. With `--alone` all pages are without one (`page_alone.py`), and the server has the machine for itself, as where users sit at their
own. Wants an idle machine; all traffic stays on it.
"""

import argparse
import asyncio
import itertools
import json
import os
import random
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Final

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "screens"))

from page_alone import PageAlone
from page_in_browser import PageInBrowser
from playwright.async_api import async_playwright
from processes import below, gives_way, most_memory, used_by
from stores import make_store

from wearfit.demo.shipped import scenario_folder
from wearfit.workflow.answers import forecast

PROGRAM: Final = "import sys\nfrom wearfit.cli.main import main\nsys.exit(main(sys.argv[1:]))\n"
BAR_SECONDS: Final = 2.0
BAR_SHARE: Final = 0.95
LONGEST_SECONDS: Final = 60.0  # that an answer is waited for
RECALIBRATE: Final = "Recalibrate on the stored records"
Opens = Callable[[str, str], PageAlone | PageInBrowser]
"""Opens a page by the end of its address and what that asks."""


@dataclass(frozen=True)
class Asked:
    """One answer: who asked, how many seconds after the beginning, how long the server took, how long it was until the page showed it, in
    how many runs of the page's script, and whether a calibration was under way."""

    context: int
    at_s: float
    server_s: float
    shown_s: float
    runs: int
    recalibrating: bool


@dataclass
class Load:
    """What goes on at once, and what came of it; `server` is the process of the command that serves."""

    url: str
    think_s: float
    rounds: int
    began: float
    server: int
    recalibrating: bool = False
    done: bool = False
    answers: list[Asked] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    recalibrations: int = 0
    together: asyncio.Barrier = field(default_factory=lambda: asyncio.Barrier(1))

    async def until_all_are_there(self) -> None:
        async with asyncio.timeout(2 * LONGEST_SECONDS):
            await self.together.wait()


async def ask_again_and_again(load: Load, opens: Opens, context: int, tool: str) -> None:
    chance = random.Random(context)
    try:
        async with opens("next-run", f"tool={tool}") as page:
            try:
                await page.until_begun(LONGEST_SECONDS)
                await load.until_all_are_there()
                await asyncio.sleep(chance.uniform(0.0, load.think_s))  # not all at once
                for quantity in chance.sample(range(1, 1000), load.rounds):  # another one each time, or nothing would be asked
                    shots = quantity * 1000 + 500
                    page.frames.ask(shots)
                    await page.type_in("Shots", shots, LONGEST_SECONDS)
                    await page.until_answered(LONGEST_SECONDS)
                    sent, took, shown = page.frames.sent, page.frames.took, time.perf_counter() - page.frames.sent
                    load.answers.append(
                        Asked(context, round(sent - load.began, 2), round(took, 3), round(shown, 3), page.frames.runs, load.recalibrating)
                    )
                    await asyncio.sleep(load.think_s)
            except Exception as error:
                load.errors.append(f"context {context}: {error!r}; {page.frames.stand}; {await page.says()}"[:1000])
    except Exception as error:
        load.errors.append(f"context {context}: {error!r}"[:500])


async def recalibrate(load: Load, opens: Opens) -> None:
    """Recalibrate in the app, anew when it is done, until all have asked."""
    try:
        async with opens("records", "") as page:
            await page.press(RECALIBRATE, LONGEST_SECONDS)
            await load.until_all_are_there()
            while not load.done:
                load.recalibrating = True
                while not load.done and not await page.has_button("Cancel"):
                    await asyncio.sleep(0.5)
                while not load.done and await page.has_button("Cancel"):
                    await asyncio.sleep(0.5)
                load.recalibrating = False
                load.recalibrations += not load.done
                if not load.done:
                    await page.press(RECALIBRATE, LONGEST_SECONDS)
    except Exception as error:
        load.errors.append(f"recalibration: {error!r}"[:500])


async def run(load: Load, pages: list[Opens], tools: list[str]) -> None:
    """All pages ask once all are there, and one like the first recalibrates."""
    load.together = asyncio.Barrier(len(pages) + 1)
    other = asyncio.create_task(recalibrate(load, pages[0]))
    await asyncio.gather(*(ask_again_and_again(load, page, i, tool) for i, (page, tool) in enumerate(zip(pages, itertools.cycle(tools)))))
    load.done = True
    await other


def alone(load: Load, pages: int) -> list[Opens]:
    return [lambda name, query: PageAlone(load.url, name, query)] * pages


async def run_in_browser(load: Load, contexts: int, beside: int, chromium: Path, tools: list[str]) -> float:
    """Gives the processor time of the browser. [s]"""
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        opens: Opens = lambda name, query: PageInBrowser(browser, f"{load.url}/{name}?{query}")  # noqa: E731
        await run(load, [opens] * contexts + alone(load, beside), tools)
        used = sum(map(used_by, {*below(os.getpid())} - {load.server, *below(load.server)}))
        await browser.close()
    return used


def times_of(answers: list[Asked]) -> dict[str, object]:
    times, shown = (sorted(getattr(answer, name) for answer in answers) for name in ("server_s", "shown_s"))
    if not times:
        return {"answers": 0, "share_under_2_s": 0.0}
    quantiles = {f"p{q}": times[min(len(times) - 1, len(times) * q // 100)] for q in (50, 90, 95, 99)}
    return {
        "answers": len(times),
        "share_under_2_s": round(sum(seconds < BAR_SECONDS for seconds in times) / len(times), 4),
        "server_seconds": quantiles | {"longest": times[-1]},
        "shown_seconds": {"p50": shown[len(shown) // 2], "p95": shown[len(shown) * 95 // 100]},
    }


def summary(load: Load, contexts: int) -> dict[str, object]:
    found = times_of([answer for answer in load.answers if answer.context < contexts])
    return {
        **found,
        "passed": found["share_under_2_s"] >= BAR_SHARE and not load.errors,
        "errors": load.errors,
        "beside_without_a_browser": times_of([answer for answer in load.answers if answer.context >= contexts]),
        "while_recalibrating": sum(answer.recalibrating for answer in load.answers),
        "recalibrations_done": load.recalibrations,
        "each": {column.name: [getattr(answer, column.name) for answer in load.answers] for column in fields(Asked)},
    }


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--contexts", type=int, default=20)
    parser.add_argument("--rounds", type=int, default=15, help="questions of each context")
    parser.add_argument("--think", type=float, default=5.0, help="seconds between an answer and the next question")
    parser.add_argument("--beside", type=int, default=4, help="pages without a browser that ask beside those of the browser")
    parser.add_argument("--browser-nice", type=int, default=10, help="how far the browser gives way to the server")
    parser.add_argument("--alone", action="store_true", help="pages without a browser")
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
                served, *_ = below(app.pid)
                load = Load(f"http://127.0.0.1:{port}", given.think, given.rounds, time.perf_counter(), app.pid)
                busy_before, used_before = os.getloadavg(), used_by(served, ended=False)
                if given.alone:
                    asyncio.run(run(load, alone(load, given.contexts), tools))
                    browser_s = 0.0
                else:
                    chromium = gives_way(Path(folder) / "chromium", given.browser_nice)
                    browser_s = asyncio.run(run_in_browser(load, given.contexts, given.beside, chromium, tools))
                app_s, memory = used_by(served, ended=False) - used_before, most_memory(served)
                worker_s = sum(map(used_by, below(served)))
            finally:
                app.terminate()
    machine = {
        "pages": "alone" if given.alone else "in a browser",
        "contexts": given.contexts,
        "processors": len(os.sched_getaffinity(0)),
        "nice": {"server": os.nice(0), "browser": os.nice(0) + given.browser_nice},
        "load_average_before": busy_before,
        "load_average_after": os.getloadavg(),
        "processor_s": {"app": round(app_s, 1), "worker": round(worker_s, 1), "browser": round(browser_s, 1)},
        "app_most_mb": round(memory),
        "seconds": round(time.perf_counter() - load.began, 1),
    }
    found = machine | summary(load, given.contexts)
    lines = {key: f" {json.dumps(key)}: {json.dumps(value)}" for key, value in found.items()}
    given.out.write_text("{\n" + ",\n".join(lines.values()) + "\n}\n")
    print("\n".join(line for key, line in lines.items() if key != "each"))
    return 0 if found["passed"] else 1


if __name__ == "__main__":
    sys.exit(main())
