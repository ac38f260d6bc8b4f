"""Records: hand them over, see what was made of them, recalibrate, and see what that changed."""

from wearfit.screens import session, shell
from wearfit.screens.handing_over import hand_over_section
from wearfit.screens.past_calibrations import past_section
from wearfit.screens.person import person, readers_note
from wearfit.screens.previewed import preview_section
from wearfit.screens.recalibrating import recalibration_section
from wearfit.screens.started import Started
from wearfit.screens.store_history import history_section
from wearfit.screens.what_moved import moved_section
from wearfit.workflow.standing import Standing


def show() -> None:
    """Draw the page."""
    shell.plain_screen("Records", _draw)


def _draw(begun: Started, stands: Standing) -> None:
    recalibration_section(begun.store, stands)
    if person().keeps:
        hand_over_section(begun.store, stands)
    else:
        readers_note("Handing over records, recalibrating and going back")
    if session.of_user().handing is not None:
        return  # one thing at a time: what is looked at is to be kept or put away first
    if person().keeps:  # it may begin a recalibration
        preview_section(begun.store, stands)
    moved_section(begun.store, stands)
    past_section(begun.store, stands)
    history_section(begun.store, stands)


if __name__ == "__main__":
    show()
