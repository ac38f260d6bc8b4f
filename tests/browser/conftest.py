"""The app in a real browser: served as an owner would serve it, driven by Playwright.

Run by its own command, see DEVELOPERS.md; wants a Chromium, Debian's by default.
"""

import csv
import datetime as dt
import os
import shutil
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from looked_at import LONGEST_MS, PROGRAM, Look, settle
from playwright.sync_api import Browser, expect, sync_playwright
from stores import make_store

from wearfit.demo.shipped import scenario_folder
from wearfit.workflow.answers import forecast

CHROMIUM = os.environ.get("CHROMIUM", "/usr/bin/chromium")


@pytest.fixture(scope="session")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Callable[[str], str]]:
    """Serves a store, and gives the address of the app."""
    running: dict[str, tuple[subprocess.Popen[str], str]] = {}
    folder = tmp_path_factory.mktemp("served")

    def serve(store: str) -> str:
        if store not in running:
            with socket.create_server(("127.0.0.1", 0)) as free:
                port = free.getsockname()[1]
            command = [sys.executable, "-c", PROGRAM, "serve", "--port", str(port), "--store", store]
            process = subprocess.Popen(command, cwd=folder, stdout=subprocess.PIPE, text=True)
            assert process.stdout is not None
            assert f":{port}" in process.stdout.readline()  # said once the app answers
            running[store] = process, f"http://127.0.0.1:{port}"
        return running[store][1]

    yield serve
    for process, _ in running.values():
        process.terminate()
    for process, _ in running.values():
        process.communicate(timeout=60)
        assert process.returncode == 0


@pytest.fixture(scope="session")
def demo_store(tmp_path_factory: pytest.TempPathFactory) -> str:
    return make_store(tmp_path_factory.mktemp("demo") / "demo.db", records=scenario_folder(), calibrations=(True,))


@pytest.fixture(scope="session")
def own_day(demo_store: str) -> dt.date:
    """The day up to which the calibration knows the records."""
    return dt.date.fromisoformat(forecast(demo_store)["as_of"])


@pytest.fixture(scope="session")
def held_tool(demo_store: str) -> str:
    """The first tool that is held."""
    return next(tool["tool_id"] for tool in forecast(demo_store)["tools"] if tool["status"] == "held")


@pytest.fixture(scope="session")
def read_tool(demo_store: str) -> str:
    """A tool with readings."""
    with (scenario_folder() / "readings.csv").open(encoding="utf-8") as file:
        live = {tool["tool_id"] for tool in forecast(demo_store)["tools"]}
        return next(row["tool_id"] for row in csv.DictReader(file) if row["tool_id"] in live)


@pytest.fixture
def writable_demo_store(demo_store: str, tmp_path: Path) -> str:
    """A copy that a test may write to; nobody writes to the first one."""
    own = str(tmp_path / "own.db")
    shutil.copy(demo_store, own)
    return own


expect.set_options(timeout=LONGEST_MS)  # a busy machine is slow, and what never comes is still told


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture
def look(browser: Browser) -> Iterator[Callable[..., Look]]:
    """Opens an address at a width and waits until the page is drawn."""
    contexts = []

    def at(address: str, width: int = 1280, scale: float = 1.0) -> Look:
        context = browser.new_context(viewport={"width": width, "height": 900}, device_scale_factor=scale)
        contexts.append(context)
        context.set_default_timeout(LONGEST_MS)
        page = context.new_page()
        asked: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        page.goto(address)
        settle(page)
        return Look(page, asked)

    yield at
    for context in contexts:
        context.close()
