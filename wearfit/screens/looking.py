"""Records read for one user, beside the page."""

import datetime as dt

from wearfit.records.choices import Choices
from wearfit.screens import cached, session
from wearfit.screens.session import Handing
from wearfit.workflow.hand_over import Files, look


def begin_reading(store: str, files: Files, choices: Choices | None) -> None:
    """Read files, or the stored records where there are none, with other choices; the page goes on meanwhile.

    Notes
    -----
    What is read is held by the user's session alone, and gone with it.
    """
    job = cached.readers().submit(look, store, files, choices, dt.date.today())
    session.of_user().handing = Handing(files, choices, job)
