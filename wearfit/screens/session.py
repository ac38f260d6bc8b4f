"""What one user has chosen, kept while the browser's page is open."""

import datetime as dt
from collections.abc import Iterator, Mapping
from concurrent.futures import Future
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, Final

import streamlit as st

from wearfit.records.choices import Choices
from wearfit.screens.cached import Answering
from wearfit.store.calibrations import CalibrationEntry
from wearfit.workflow.hand_over import Files, Look
from wearfit.workflow.past_states import Past
from wearfit.workflow.plan import PlanTerms
from wearfit.workflow.plan_file import FileRow

_KEY: Final = "wearfit_user"


@dataclass
class Handing:
    """Records that a user looks at and has not kept.

    Parameters
    ----------
    files : tuple of (str, bytes)
        Names and bytes; none where the stored records are looked through.
    choices : Choices or None
        What the user has decided so far; None is what the store keeps.
    job : Future of Look
        The reading, under way or done.
    """

    files: Files
    choices: Choices | None
    job: Future[Look]


@dataclass(frozen=True)
class PlanFile:
    """A plan in a file of the user's own: its bytes, and its rows."""

    content: bytes
    rows: tuple[FileRow, ...]


@dataclass(frozen=True)
class Planning:
    """A plan of the user's own file, under way or walked.

    Parameters
    ----------
    answering, terms, file
        What was asked.
    job : Future of mapping
        The answer.
    """

    answering: Answering
    terms: PlanTerms
    file: PlanFile
    job: Future[Mapping[str, Any]]


@dataclass(frozen=True)
class LookingBack:
    """A look at a past state of the store.

    Parameters
    ----------
    line : int
        Of the history, after which the store was so.
    last : int
        The last line there was: what going back does hangs on it.
    job : Future of Past
        The look, under way or done.
    """

    line: int
    last: int
    job: Future[Past]


@dataclass(frozen=True)
class Versions:
    """Every version of a tool's rows, looked up while the history had a last line; under way or there."""

    tool: str
    last: int
    job: Future[dict[str, Any]]


@dataclass(frozen=True)
class Basis:
    """The calibration that a page's answers rest on: its number, and the fingerprint of its records."""

    calibration: int
    fingerprint: str

    @classmethod
    def of(cls, entry: CalibrationEntry) -> "Basis":
        """A calibration that the store lists."""
        return cls(entry.id, entry.summary.fingerprint)


@dataclass
class User:
    """The choices of one user. A screen adds a field with its default here, never a key of its own.

    Parameters
    ----------
    as_of : date or None
        The day that is asked about; None is the calibration's own. Later, each clock is rolled forward by expected use.
    day_said : str or None
        How the address named it last, so that another address is told from another choice.
    name : str
        Under which judgements are kept; there is no sign-in.
    handing : Handing or None
        Records that are looked at.
    round : int
        Counts what was kept or put away, so that the field for files is empty again.
    kept : str
        What the last keeping did, in a sentence.
    asked_number : int or None
        The calibration that is to be current again, once confirmed.
    looking_back : LookingBack or None
        A past state of the store that is looked at.
    asked_line : int or None
        The line of the history whose state is to be back, once confirmed.
    back : str
        What the last going back did, in a sentence.
    turns_back : int
        Counts the times that the user went back, so that the field for a past state is empty again.
    versions : Versions or None
        Of a tool's rows, that are looked at.
    planning : Planning or None
        The plan of a file of the user's own.
    began : float
        When the script of the page began, by the monotonic clock, so that its patience has an end.
    basis : Basis or None
        What the page's answers rest on; None where they rest on no calibration.
    told_about : (str, str) or None
        The decision and the tool that the fields of Choices were last filled in for; another one begins anew.
    run_anew : bool
        Whether another tool was chosen for a next run, whose fields are yet to begin with its usual run.
    filled : set of str
        Fields that the server filled in since the user last did something (`filled.py`).
    comes_back, came_back : bool
        Whether the page itself asked for the run that is to come, and for the one that is under way.
    """

    as_of: dt.date | None = None
    day_said: str | None = None
    name: str = ""
    handing: Handing | None = None
    round: int = 0
    kept: str = ""
    asked_number: int | None = None
    looking_back: LookingBack | None = None
    asked_line: int | None = None
    back: str = ""
    turns_back: int = 0
    versions: Versions | None = None
    planning: Planning | None = None
    began: float = 0.0
    basis: Basis | None = None
    told_about: tuple[str, str] | None = None
    run_anew: bool = False
    filled: set[str] = field(default_factory=set)
    comes_back: bool = False
    came_back: bool = False


def of_user() -> User:
    """The object of this user, made at the first call."""
    if _KEY not in st.session_state:
        st.session_state[_KEY] = User()
    user = st.session_state[_KEY]
    assert isinstance(user, User)
    return user


@contextmanager
def resting_on(entry: CalibrationEntry) -> Iterator[None]:
    """Let what is drawn inside name a calibration that the page as a whole does not rest on."""
    user = of_user()
    before, user.basis = user.basis, Basis.of(entry)
    try:
        yield
    finally:
        user.basis = before
