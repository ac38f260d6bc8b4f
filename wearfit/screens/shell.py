"""The shell of every page: its title and question, what its answers rest on, and what is said where there are none."""

import datetime as dt
import logging
import re
import time
from collections.abc import Callable
from concurrent.futures import Future, wait
from typing import Any, Final

import streamlit as st

from wearfit.errors import Refusal
from wearfit.screens import cached, filled, session, states, ways
from wearfit.screens.asked_day import ask_day
from wearfit.screens.cached import Answering, Version
from wearfit.screens.register import FOLDER, screen_of
from wearfit.screens.session import Basis
from wearfit.screens.started import Started, started
from wearfit.screens.unbroken import escape
from wearfit.store.calibrations import CalibrationEntry
from wearfit.workflow.standing import Standing, standing
from wearfit.workflow.wording import CAUTION, day_in_words

_log: Final = logging.getLogger(__name__)
FLEET_PAGE: Final = FOLDER / "fleet.py"
PATIENCE_SECONDS: Final = 0.3  # that a page waits for its answers, all told, before it says that one is under way
LEAST_PATIENCE_SECONDS: Final = 0.1  # for each of them
LOOK_EVERY_SECONDS: Final = 0.5
# Signs that are Markdown where they stand; within a word an underscore is none, before a blank a colon, but in front a hash.
_MEANS_SOMETHING: Final = re.compile(r"[\\`*\[\]<>~|$^]|(?<![^\W_])_|_(?![^\W_])|:(?=\S)|(?<=^)[#+=-]|(?<=^\d)[.)]|(?<=^\d\d)[.)]")


def answering_screen(title: str, body: Callable[[Answering], None], head: str | None = None) -> None:
    """Draw a screen that needs a calibration; where none answers, what to do about it is all that the page shows.

    Parameters
    ----------
    title : str
        Of `register.SCREENS`.
    body : callable
        Draws the page from what answers. A `Refusal` that it raises is shown as its sentence.
    head : str, optional
        Stands above the page instead of the title.
    """

    def draw(begun: Started, stands: Standing) -> None:
        answering = _answering(begun, stands)
        if answering is None:
            _say_why(begun, stands)
            return
        if not ready(cached.current_job(answering), "Loading the calibration", "It is loaded once, and again when another one answers."):
            return
        body(answering)
        caution()

    _guarded(title, draw, head)


def plain_screen(title: str, body: Callable[[Started, Standing], None]) -> None:
    """Draw a screen that can do without a calibration, such as the one that brings records in.

    Parameters
    ----------
    body : callable
        Draws the page from how the app was started and where the store stands.
    """
    _guarded(title, body)


def caution(text: str = CAUTION) -> None:
    """A caution where it applies, once on a page and without shouting; by default the one that belongs under every answer."""
    st.html(f'<p class="wf-caution">{escape(text)}</p>')


def ready(job: Future[Any], sentence: str, why: str = "A large fleet takes some seconds, once for each calibration.") -> bool:
    """Whether an answer under way is there. Where it is not, the page says so and comes back by itself when it is.

    Parameters
    ----------
    sentence : str
        What is under way, such as "Working out when each tool will wear out".
    why : str
        Why it takes a while.

    Raises
    ------
    Refusal
        Where the answer was refused.
    """
    waited = time.monotonic() - session.of_user().began
    wait([job], max(PATIENCE_SECONDS - waited, LEAST_PATIENCE_SECONDS))
    if job.done():
        job.result()
        return True
    states.working(sentence, why)
    _come_back(job)
    return False


@st.fragment(run_every=LOOK_EVERY_SECONDS)
def _come_back(job: Future[Any]) -> None:
    if job.done():
        filled.come_back()


def tool_address(tool_id: str, answering: Answering) -> str:
    """The address of a tool's own page, for the day that is asked about.

    Notes
    -----
    Its word is not that of pages with a field for a tool: Streamlit takes a field's word out of the address when its page is left.
    """
    return ways.address("Tool", id=tool_id, **_day(answering))


def address_for(title: str, tool_id: str, answering: Answering) -> str:
    """The address of a screen that asks about a tool, for the day that is asked about."""
    return ways.address(title, tool=tool_id, **_day(answering))


def _day(answering: Answering) -> dict[str, str]:
    return {} if session.of_user().as_of is None else {"as_of": answering.as_of.isoformat()}


def _guarded(title: str, draw: Callable[[Started, Standing], None], head: str | None = None) -> None:
    session.of_user().began = time.monotonic()
    session.of_user().basis = None
    filled.run_begins()
    st.set_page_config(page_title=f"{head or title} · wearfit")
    ways.followed()
    st.title(escape_markdown(head or title), anchor=False)
    st.html(f'<p class="wf-question">{escape(screen_of(title).answers)}</p>')
    try:
        begun = started()
        draw(begun, standing(begun.store, begun.horizon_years, begun.tolerance))
    except Refusal as refusal:
        states.refused(refusal)
    except Exception as error:
        _log.exception("A fault of the program, on the screen %s:", title)
        states.fault(error)


def _answering(begun: Started, stands: Standing) -> Answering | None:
    entry, within = stands.current, stands.within
    if entry is None or within is None:
        return None
    session.of_user().basis = Basis.of(entry)
    return Answering(Version.of(begun.store, entry), _standing_line(stands, entry), within, stands.records_line)


def _say_why(begun: Started, stands: Standing) -> None:
    if stands.uploads is None:
        states.no_store(begun.shown)
    elif stands.newest is not None:
        states.none_answers(stands.failed_since)
    elif stands.uploads == 0:
        states.no_records(begun.shown)
    else:
        states.no_calibration()


def _standing_line(stands: Standing, entry: CalibrationEntry) -> dt.date:
    """What the answers rest on, and a way to ask about another day; returns the day that is asked about."""
    own_day = entry.summary.as_of
    with st.container(horizontal=True, vertical_alignment="center", gap="small"):
        line = st.empty()
        with st.popover("Another day", type="tertiary"):
            day = ask_day(own_day)
    said = f"As of {day_in_words(day)}, calibration {entry.id}"
    if day != own_day:
        said += f" on the records up to {day_in_words(own_day)}, clocks moved on by expected use"
    line.html(f'<p class="wf-standing">{escape(said)}.</p>', width="content")
    if stands.failed_since is not None:
        states.older_answers(stands.failed_since, entry.id)
    if stands.warning:
        caution(stands.warning)
    return day


def escape_markdown(text: str) -> str:
    """Text as it is written, where Streamlit would read it as Markdown.

    Signs that mean nothing where they stand are left alone: of a field's label the marks before them would be read out.
    """
    return _MEANS_SOMETHING.sub(r"\\\g<0>", text)
