"""A page of the app as a test sees it."""

import re
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from html import unescape
from pathlib import Path
from typing import Any, Final

import pytest
from streamlit.testing.v1 import AppTest

from wearfit.screens import shell
from wearfit.screens.register import FOLDER, SCREENS, screen_of

APP: Final = Path(__file__).resolve().parents[2] / "app.py"
LONGEST_SECONDS: Final = 120.0  # that a run of a page may take on a busy machine before the test gives up
UNDER_WAY: Final = "One moment"


@dataclass
class Page:
    """One page.

    Parameters
    ----------
    app : AppTest
        Streamlit's own view of it.
    took : list of float
        How long each run of its script took. [s]
    waits : bool
        Whether the runs after one that says that an answer is under way wait for it, rather than draw the page over and over.
    """

    app: AppTest
    took: list[float] = field(default_factory=list)
    waits: bool = True

    def run_once(self) -> None:
        """Run the script of the page once, as a rerun does."""
        began = time.perf_counter()
        self.app.run()
        self.took.append(time.perf_counter() - began)

    def run(self) -> "Page":
        """Run the page, until no answer is under way any more."""
        self.run_once()
        while UNDER_WAY in self.words:
            for box in self.app.selectbox:  # a name that the user typed is among the options in a browser, and not in AppTest
                if box.value is not None and box.format_func(box.value) not in box.options:
                    box.options.append(box.value)
            with pytest.MonkeyPatch.context() as patch:
                if self.waits:
                    patch.setattr(shell, "PATIENCE_SECONDS", LONGEST_SECONDS)
                self.run_once()
        return self

    @property
    def html(self) -> str:
        """What the page writes in HTML, its style sheet left out."""
        return "\n".join(body for element in self.app.get("html") if "<style>" not in (body := str(element.proto.body)))

    @property
    def words(self) -> str:
        """Everything that is written on the page, without marks."""
        kinds = ("title", "header", "subheader", "markdown", "caption")
        texts = [self.html, *(str(element.value) for kind in kinds for element in self.app.get(kind))]
        return " ".join(unescape(re.sub(r"<[^>]+>", " ", " ".join(texts))).split())

    @property
    def rows(self) -> list[str]:
        """The rows of the interval tables, in words."""
        found = re.findall(r'<tr role="row" class="wf-row.*?</tr>', self.html, flags=re.S)
        return [" ".join(unescape(re.sub(r"<[^>]+>", " ", row)).split()) for row in found]

    def widget(self, kind: str, key: str) -> Any:
        return next(element for element in self.app.get(kind) if element.key == key)


def open_page(screen: str, query: dict[str, str]) -> Page:
    """Open a screen through app.py, as a browser would."""
    app = AppTest.from_file(str(APP), default_timeout=LONGEST_SECONDS)
    for name, value in query.items():
        app.query_params[name] = value
    app.run()
    if screen_of(screen) is not SCREENS[0]:
        app.switch_page(str((FOLDER / screen_of(screen).file).relative_to(APP.parent)))
        for name, value in query.items():
            app.query_params[name] = value
    return Page(app).run()


Open = Callable[..., Page]
"""The type of the fixture that opens a screen of the app on a store."""
