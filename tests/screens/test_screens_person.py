"""Who is let in: on this machine everybody, at another address nobody without sign-in, unless the owner says so."""

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from opened import Open
from stores import make_store
from streamlit import config

from wearfit.screens.person import NOBODY
from wearfit.screens.register import SCREENS
from wearfit.store.actor import actor
from wearfit.store.store import Store
from wearfit.workflow.team import OPEN, OPEN_WORDS

OTHERS = ("0.0.0.0", "::", "192.168.1.2", "wear.example.org", None, "127.0.0.1.example.org", "unix:///tmp/wear.sock")


@pytest.fixture
def bound(request: pytest.FixtureRequest) -> Iterator[str | None]:
    """The address that the server is said to be bound to."""
    before = config.get_option("server.address")
    config.set_option("server.address", request.param)
    yield request.param
    config.set_option("server.address", before)


@pytest.mark.parametrize("bound", ["127.0.0.1", "localhost", "::1"], indirect=True)
def test_this_machine_needs_no_sign_in(open_app: Open, demo_records_store: str, bound: str) -> None:
    assert "live tools" in open_app(demo_records_store, "Fleet").words


@pytest.mark.parametrize("bound", OTHERS, indirect=True)
def test_at_another_address_the_app_shows_nothing(open_app: Open, demo_records_store: str, bound: str | None) -> None:
    page = open_app(demo_records_store, "Fleet")
    assert "knows no sign-in, so that it shows nothing" in page.words
    assert "T-0" not in page.words
    assert not page.app.get("download_button")


@pytest.mark.parametrize("bound", ["0.0.0.0"], indirect=True)
@pytest.mark.parametrize("screen", [screen.title for screen in SCREENS])
def test_no_screen_has_a_way_round(open_app: Open, demo_records_store: str, bound: str, screen: str) -> None:
    page = open_app(demo_records_store, screen, id="T-049", tool="T-049")
    assert "knows no sign-in" in page.words
    assert "T-049" not in page.words


@pytest.mark.parametrize("words", ["", "yes", "1", "true"])
@pytest.mark.parametrize("bound", ["0.0.0.0"], indirect=True)
def test_a_word_that_came_by_chance_opens_nothing(
    open_app: Open, demo_records_store: str, bound: str, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(OPEN, words)
    assert "knows no sign-in" in open_app(demo_records_store, "Fleet").words


@pytest.mark.parametrize("bound", ["0.0.0.0"], indirect=True)
def test_opened_to_all_it_says_so_and_what_is_done_is_done_in_nobodys_name(
    open_app: Open, tmp_path: Path, bound: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(OPEN, OPEN_WORDS)
    done: list[tuple[int, str]] = []
    use = Store.use

    def noted(self: Store, calibration_id: int) -> None:
        done.append((calibration_id, actor()))
        use(self, calibration_id)

    monkeypatch.setattr(Store, "use", noted)
    page = open_app(make_store(tmp_path / "two.db", calibrations=(True, True)), "Records")
    assert "the app was opened without sign-in" in page.words
    page.widget("selectbox", "use").select_index(0)
    page.run()
    for key in ("use_ask", "use_yes"):
        page.widget("button", key).click()
        page.run()
    assert done == [(1, NOBODY)]
    assert actor() != NOBODY


def test_what_signs_in_loads_without_a_word_of_what_is_to_go() -> None:
    """Streamlit loads it only where a provider is named, out of sight of these tests."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", "import authlib.integrations.starlette_client"], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")  # its own warnings are printed, whatever the interpreter was told to make of them
