"""Who is let in, and what they may do: in a real browser, with a provider of OpenID Connect on loopback."""

import os
import re
import shutil
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import own_server
import pytest
from looked_at import LONGEST_MS, PROGRAM, choose, settle
from playwright.sync_api import Browser, Page, expect
from provider import TEAM, Provider, Served
from stores import make_store

from wearfit.demo.shipped import scenario_folder
from wearfit.store.store import Store

pytestmark = pytest.mark.browser

ROOT = Path(__file__).resolve().parents[2]
TOOLS = "tool_id,service_class,commissioned_on\n<img src=x onerror=alert(1)>,103,2020-01-01\n"
INES = "Ines <b>Keeper</b> <Ines@example.org>"  # as the provider names her
RUNS = "tool_id,plant_id,resin_id,started_on,ended_on,shots\n<img src=x onerror=alert(1)>,<b>north</b>,=abs,2020-02-01,2020-02-20,90000\n"


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as free:
        return int(free.getsockname()[1])


@pytest.fixture(scope="module", params=["sqlite", pytest.param("postgresql", marks=pytest.mark.server)])
def own_store(request: pytest.FixtureRequest, demo_store: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The demo's store, to be written to; once of each kind."""
    if request.param == "sqlite":
        yield str(shutil.copy(demo_store, tmp_path_factory.mktemp("own") / "team.db"))
        return
    with own_server.empty_database(request.getfixturevalue("server")) as store:
        yield make_store(store, records=scenario_folder(), calibrations=(True,))


@pytest.fixture(scope="module")
def team(own_store: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, str]]:
    """The app with sign-in, and its store."""
    store, folder = own_store, tmp_path_factory.mktemp("team")
    port, at = free_port(), free_port()
    provider = Provider(f"http://127.0.0.1:{at}")
    served = Served(provider, at)
    (folder / "secrets.toml").write_text(provider.secrets_file(f"http://127.0.0.1:{port}"), encoding="utf-8")
    (folder / "people.toml").write_text(TEAM, encoding="utf-8")
    options = ["--sign-in", "secrets.toml", "--team", "people.toml"]
    process = subprocess.Popen(
        [sys.executable, "-c", PROGRAM, "serve", "--port", str(port), "--store", store, *options],
        cwd=folder, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stdout is not None
    assert "Everybody signs in." in process.stdout.readline()
    yield f"http://127.0.0.1:{port}", store
    process.terminate()
    process.communicate(timeout=60)
    served.stop()
    assert process.returncode == 0


@pytest.fixture
def visitor(browser: Browser) -> Iterator[Callable[[], Page]]:
    """Somebody new, with no cookie."""
    contexts = []

    def come() -> Page:
        context = browser.new_context(viewport={"width": 1280, "height": 900})
        contexts.append(context)
        context.set_default_timeout(LONGEST_MS)
        return context.new_page()

    yield come
    for context in contexts:
        context.close()


def sign_in(page: Page, address: str, name: str) -> None:
    page.goto(address)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("link", name=name, exact=True).click()
    page.wait_for_url(f"{address}/**")
    settle(page)


def look_back(page: Page) -> None:
    """Choose the state that the store was made with."""
    choose(page, "Look at a past state", "After line 2,")
    expect(page.get_by_text("Calibration 1 answered then, of records")).to_be_visible()


def test_before_anybody_signs_in_nothing_is_shown_at_any_address(team: tuple[str, str], visitor: Callable[[], Page]) -> None:
    address, _ = team
    page = visitor()
    for place in ("", "/tool?id=T-049", "/records", "/plan", "/evidence"):
        page.goto(f"{address}{place}")
        expect(page.get_by_role("button", name="Sign in")).to_be_visible()
        assert "T-049" not in page.inner_text("body")
        assert page.get_by_role("link", name="Records").count() == 0


def test_who_is_not_on_the_list_or_not_vouched_for_is_told_and_sees_nothing(team: tuple[str, str], visitor: Callable[[], Page]) -> None:
    address, _ = team
    for name, why in (("Mallory", "mallory@example.org is not on the list of this team"), ("Pretender", "does not vouch for")):
        page = visitor()
        sign_in(page, address, name)
        expect(page.get_by_text(why)).to_be_visible()
        assert "T-049" not in page.inner_text("body")
        page.get_by_role("button", name="Sign out").click()
        expect(page.get_by_role("button", name="Sign in")).to_be_visible()


def test_a_reader_sees_all_and_changes_nothing(team: tuple[str, str], visitor: Callable[[], Page]) -> None:
    address, _ = team
    page = visitor()
    sign_in(page, address, "Otto")
    expect(page.get_by_text("Signed in as Otto <otto@example.org>; you may read.")).to_be_visible()
    expect(page.get_by_text("T-049").first).to_be_visible()
    page.goto(f"{address}/records")
    settle(page)
    expect(page.get_by_text("You may read everything here.")).to_be_visible()
    assert page.locator("input[type=file]").count() == 0
    look_back(page)
    for name in ("Recalibrate on the stored records", "Make it current …", "Look through the stored records", "Go back to this state …"):
        assert page.get_by_role("button", name=name).count() == 0
    page.goto(f"{address}/tool?id=T-049")
    settle(page)
    assert page.get_by_text("You know better?").count() == 0


def test_an_upload_in_progress_is_its_keepers_alone_and_what_is_kept_has_a_name(team: tuple[str, str], visitor: Callable[[], Page]) -> None:
    address, store = team
    ines, karl = visitor(), visitor()
    alerts: list[str] = []
    ines.on("dialog", lambda dialog: (alerts.append(dialog.message), dialog.dismiss()))
    for page, name in ((ines, "Ines"), (karl, "Karl")):
        sign_in(page, address, name)
        page.goto(f"{address}/records")
        settle(page)
    expect(ines.get_by_text("Signed in as Ines <b>Keeper</b> <Ines@example.org>; you may change records.")).to_be_visible()
    files = [{"name": f"{name}.csv", "mimeType": "text/csv", "buffer": text.encode()} for name, text in (("tools", TOOLS), ("runs", RUNS))]
    ines.locator("input[type=file]").set_input_files(files)
    expect(ines.get_by_role("heading", name="What was read")).to_be_visible()
    karl.reload()
    settle(karl)
    assert "What was read" not in karl.inner_text("body")
    assert "runs.csv" not in karl.inner_text("body")
    with Store.open(store) as held:
        before = len(held.uploads())
    ines.get_by_role("button", name=re.compile("recalibrate later")).click()
    expect(ines.get_by_text("Kept", exact=True)).to_be_visible()
    with Store.open(store) as held:
        assert len(held.uploads()) == before + 1
    ines.goto(f"{address}/tool?id=T-049")
    ines.get_by_text("You know better?").click()
    assert ines.get_by_label("Your name").count() == 0  # it is known
    ines.get_by_text("It has so many shots left").click()
    ines.get_by_label("The shots, if shots").fill("150000")
    ines.get_by_label("What do you know that the records do not?").fill("Its shut-off was welded.")
    ines.get_by_role("button", name="Keep it").click()
    expect(ines.get_by_text("The owner says")).to_be_visible()
    with Store.open(store) as held:
        assert held.overrides_of("T-049")[0].by == INES
        assert [(line.did, line.by) for line in held.history()[-2:]] == [("records", INES), ("judgement", INES)]
    karl.goto(f"{address}/records")
    expect(karl.get_by_text(INES).first).to_be_visible()  # in the history; the preview above it may take minutes on a busy machine
    look_back(karl)
    karl.get_by_role("button", name="Go back to this state …").click()
    karl.get_by_role("button", name="Yes, go back").click()
    expect(karl.get_by_text("That state is back")).to_be_visible()
    with Store.open(store) as held:
        last = held.history()[-1]
        assert (last.did, last.by, last.back_to) == ("restore", "Karl <karl@example.org>", 2)
    assert alerts == []


def refused_or_not(address: str, folder: Path, environment: dict[str, str], store: str) -> tuple[subprocess.Popen[str], str]:
    """The app itself, started without the command, bound to an address."""
    port = free_port()
    process = subprocess.Popen(
        [sys.executable, "-m", "streamlit", "run", str(ROOT / "app.py"), f"--server.address={address}", f"--server.port={port}",
         "--server.headless=true", f"--secrets.files={os.devnull}"],
        cwd=folder, env=os.environ | {"WEARFIT_STORE": store} | environment, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    while process.poll() is None:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1.0).close()
            break
        except OSError:
            continue
    return process, f"http://127.0.0.1:{port}"


def test_the_app_itself_shows_others_nothing_without_sign_in(writable_demo_store: str, tmp_path: Path, visitor: Callable[[], Page]) -> None:
    process, address = refused_or_not("0.0.0.0", tmp_path, {}, writable_demo_store)
    try:
        page = visitor()
        page.goto(address)
        expect(page.get_by_text("knows no sign-in, so that it shows nothing")).to_be_visible()
        assert "T-049" not in page.inner_text("body")
    finally:
        process.terminate()
        process.communicate(timeout=60)


def test_opened_to_all_it_is_logged_and_said_on_the_page(writable_demo_store: str, tmp_path: Path, visitor: Callable[[], Page]) -> None:
    told = {"WEARFIT_OPEN_TO_ALL": "without sign-in"}
    process, address = refused_or_not("0.0.0.0", tmp_path, told, writable_demo_store)
    try:
        page = visitor()
        page.goto(address)
        settle(page)
        expect(page.get_by_text("the app was opened without sign-in")).to_be_visible()
        expect(page.get_by_text("T-049").first).to_be_visible()
    finally:
        process.terminate()
        _, err = process.communicate(timeout=60)
    assert "open without sign-in at 0.0.0.0" in err
