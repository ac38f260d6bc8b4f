"""What a test looks at in the browser."""

import os
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

SHOTS: Final = Path(os.environ.get("WEARFIT_SHOTS", Path(__file__).resolve().parents[2] / "build" / "shots"))
LONGEST_MS: Final = 120_000
PROGRAM: Final = "import sys\nfrom wearfit.cli.main import main\nsys.exit(main(sys.argv[1:]))\n"  # the command, in a process of its own
TALLEST: Final = 12_000  # pixels of a screenshot

# Rules that Streamlit's own elements break, whatever stands in them; each is named with the element it is broken by.
FRAMEWORK: Final[dict[str, str]] = {
    "presentation-role-conflict": "stFileUploaderDropzone",  # the field for files is named, and said to be mere presentation
}


@dataclass
class Look:
    """A page in the browser and what it asked for."""

    page: Page
    asked: list[str]

    @property
    def outside(self) -> list[str]:
        """Requests that left this machine."""
        return [url for url in self.asked if not url.startswith(("http://127.0.0.1:", "ws://127.0.0.1:", "data:", "blob:"))]

    @property
    def overhang(self) -> float:
        """By how many pixels the page is wider than its window."""
        return float(self.page.evaluate("document.querySelector('[data-testid=stMain]').scrollWidth - window.innerWidth"))

    def shoot(self, name: str) -> Path:
        """A screenshot of the whole page."""
        SHOTS.mkdir(parents=True, exist_ok=True)
        size = self.page.viewport_size
        assert size is not None
        tall = self.page.evaluate("document.querySelector('[data-testid=stMain]').scrollHeight")
        self.page.set_viewport_size({"width": size["width"], "height": min(int(tall) + 20, TALLEST)})
        settle(self.page)
        path = SHOTS / f"{name}.png"
        self.page.screenshot(path=path)
        self.page.set_viewport_size(size)
        return path

    def violations(self) -> list[dict[str, Any]]:
        """What axe finds, the rules of FRAMEWORK left out where their element alone breaks them."""
        found = []
        for violation in Axe().run(self.page).response["violations"]:
            nodes = [node for node in violation["nodes"] if FRAMEWORK.get(violation["id"], "\0") not in node["html"]]
            if nodes:
                found.append({"id": violation["id"], "impact": violation["impact"], "nodes": [node["html"][:300] for node in nodes]})
        return found


def choose(page: Page, field: str, begins: str) -> None:
    """Choose from a field what begins with these words; what comes of it may take a while."""
    page.get_by_role("combobox", name=field).focus()
    page.keyboard.type(begins)  # letter by letter: a page that is scrolled meanwhile closes the list, and the next letter opens it
    expect(page.get_by_role("option", name=re.compile(f"^{re.escape(begins)}")).first).to_be_visible()
    page.keyboard.press("Enter")


def settle(page: Page) -> None:
    """Wait until the script has run, answers under way have come, and charts are drawn."""
    page.wait_for_selector("[data-testid=stMain] h1", timeout=LONGEST_MS)
    page.wait_for_function(
        """() => {
            const app = document.querySelector('[data-testid=stApp]');
            const notes = [...document.querySelectorAll('.wf-note')].some(note => note.innerText.includes('One moment'));
            const charts = [...document.querySelectorAll('[data-testid=stVegaLiteChart]')];
            const drawn = charts.every(chart => chart.querySelector('svg, canvas')) && !document.querySelector('[data-testid=stSkeleton]');
            return app.dataset.testScriptState === 'notRunning' && !notes && drawn;
        }""",
        timeout=LONGEST_MS,
    )
    page.evaluate("() => document.fonts.ready")
