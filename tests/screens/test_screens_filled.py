"""Fields that the server fills in: a browser that draws only the last run of the script has them too."""

from collections.abc import Iterator
from concurrent.futures import Future, wait
from typing import Any

import pytest
from opened import Open, Page

from wearfit.screens import session, shell, states

NEXT_RUN = ("at_plant", "in_resin", "shots")


def widgets(page: Page) -> dict[str, Any]:
    return {element.key: element for kind in ("selectbox", "number_input", "text_input") for element in page.app.get(kind)}


@pytest.fixture
def came_back() -> Iterator[list[Future[Any]]]:
    """Each answer is waited for by a page that comes back for it, as in a browser; they are counted."""
    jobs: list[Future[Any]] = []

    def ready(job: Future[Any], sentence: str, why: str = "") -> bool:
        if job in jobs:
            return True
        jobs.append(job)
        wait([job])
        session.of_user().comes_back = True  # AppTest runs no part of a page by itself
        states.working(sentence, why)
        return False

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(shell, "ready", ready)
        yield jobs


def test_a_next_run_says_again_what_it_begins_with(open_app: Open, demo_records_store: str, came_back: list[Future[Any]]) -> None:
    page = open_app(demo_records_store, "Next run", tool="T-104")
    before = len(came_back)
    assert all(widgets(page)[key].proto.set_value for key in NEXT_RUN)
    usual = {key: widgets(page)[key].value for key in NEXT_RUN}
    page.widget("selectbox", "tool").select("T-020")
    page.run()
    assert len(came_back) == before + 1
    assert all(widgets(page)[key].proto.set_value for key in NEXT_RUN)
    assert {key: widgets(page)[key].value for key in NEXT_RUN} != usual


def test_what_the_user_has_since_said_is_left_alone(open_app: Open, demo_records_store: str, came_back: list[Future[Any]]) -> None:
    page = open_app(demo_records_store, "Next run", tool="T-104")
    page.widget("number_input", "shots").set_value(41500)
    page.run()
    assert not any(widgets(page)[key].proto.set_value for key in NEXT_RUN)
    assert "the run of 41,500 shots" in page.words


def test_parts_in_the_address_are_not_those_of_another_tool(open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Next run", tool="T-020", counted="parts", parts="160001")
    page.widget("selectbox", "tool").select("T-104")
    page.run()
    assert widgets(page)["parts"].value != 160001
    assert "wears out before the run of 10,001 shots" not in page.words


def test_fields_of_a_choice_are_emptied_in_a_late_browser_too(
    open_app: Open, demo_records_store: str, came_back: list[Future[Any]]
) -> None:
    page = open_app(demo_records_store, "Choices", tool="T-049", stop_cost="20,000")
    assert widgets(page)["stop_cost"].value == "20,000"
    before = len(came_back)
    page.widget("selectbox", "tool").select("T-050")
    page.run()
    assert len(came_back) == before + 2  # for what is on record, and once the fields were emptied for the answer
    assert (widgets(page)["stop_cost"].value, widgets(page)["stop_cost"].proto.set_value) == ("", True)
