"""The shell of every page: its title and question, what its answers rest on, and what is said where there are none."""

import datetime as dt
import logging
from collections.abc import Callable
from html import escape
from typing import Final

import streamlit as st

from wearfit.errors import Refusal
from wearfit.screens import session, states
from wearfit.screens.cached import Answering, Version
from wearfit.screens.register import screen_of
from wearfit.screens.started import Started, started
from wearfit.workflow.standing import Standing, standing
from wearfit.workflow.wording import CAUTION, day_in_words

_log: Final = logging.getLogger(__name__)
FURTHEST_DAYS: Final = 3653  # that clocks may be rolled forward from the calibration's day


def answering_screen(title: str, body: Callable[[Answering], None]) -> None:
    """Draw a screen that needs a calibration; where none answers, what to do about it is all that the page shows.

    Parameters
    ----------
    title : str
        Of `register.SCREENS`.
    body : callable
        Draws the page from what answers. A `Refusal` that it raises is shown as its sentence.
    """

    def draw(begun: Started, stands: Standing) -> None:
        answering = _answering(begun, stands)
        if answering is None:
            _say_why(begun, stands)
            return
        _say_standing(stands, answering)
        body(answering)
        caution()

    _guarded(title, draw)


def plain_screen(title: str, body: Callable[[Started, Standing], None]) -> None:
    """Draw a screen that can do without a calibration, such as the one that brings records in.

    Parameters
    ----------
    body : callable
        Draws the page from how the app was started and where the store stands.
    """
    _guarded(title, body)


def caution() -> None:
    """The line that belongs under every answer, once on a page."""
    st.html(f'<p class="wf-caution">{escape(CAUTION)}</p>')


def _guarded(title: str, draw: Callable[[Started, Standing], None]) -> None:
    st.title(title, anchor=False)
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
    user, own_day = session.of_user(), entry.summary.as_of
    if user.as_of is not None and user.as_of <= own_day:
        user.as_of = None
    version = Version(begun.store, entry.id, entry.summary.fingerprint, entry.made_at.isoformat())
    return Answering(version, user.as_of or own_day, within)


def _say_why(begun: Started, stands: Standing) -> None:
    if stands.uploads is None:
        states.no_store(begun.store)
    elif stands.newest is not None:
        states.none_answers(stands.failed_since)
    elif stands.uploads == 0:
        states.no_records(begun.store)
    else:
        states.no_calibration()


def _say_standing(stands: Standing, answering: Answering) -> None:
    """What the answers rest on: the day, the calibration, and whether a newer one failed."""
    assert stands.current is not None
    own_day = stands.current.summary.as_of
    said = f"As of {day_in_words(answering.as_of)}, calibration {answering.version.number}"
    if answering.as_of != own_day:
        said += f" on the records up to {day_in_words(own_day)}, clocks moved on by expected use"
    with st.container(horizontal=True, vertical_alignment="center", gap="small"):
        st.html(f'<p class="wf-standing">{escape(said)}.</p>', width="content")
        with st.popover("Another day", type="tertiary"):
            _ask_day(own_day)
    if stands.failed_since is not None:
        states.older_answers(stands.failed_since, answering.version.number)


def _ask_day(own_day: dt.date) -> None:
    user = session.of_user()
    furthest = own_day + dt.timedelta(days=FURTHEST_DAYS)

    def keep() -> None:
        chosen = st.session_state["wearfit_as_of"]
        user.as_of = None if chosen is None or chosen <= own_day else chosen

    st.date_input(
        "Answer as of",
        value=user.as_of or own_day,
        min_value=own_day,
        max_value=furthest,
        key="wearfit_as_of",
        on_change=keep,
        help="Later than the records, each clock is moved on by expected use; nothing is known of what happened since.",
    )
