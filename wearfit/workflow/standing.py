"""Where a store stands: whether there is one, what it holds, and which calibration answers."""

import datetime as dt
from dataclasses import dataclass

from wearfit.records.choices import Choices
from wearfit.store.calibrations import CalibrationEntry
from wearfit.store.store import Store
from wearfit.workflow.answers import Accepted, accepted


@dataclass(frozen=True)
class Standing:
    """What a store held at one moment; read anew for every question, for another process may have written.

    Parameters
    ----------
    uploads : int or None
        How many were stored; None where there is no store.
    current : CalibrationEntry or None
        The one that answers.
    newest : CalibrationEntry or None
        The last one made, whether or not it passed.
    calibrations : tuple of CalibrationEntry
        All of them, oldest first.
    within : Accepted or None
        What the store's settings accept; None where there is no store.
    choices : Choices
        The user's decisions about names among them.
    newer_records : bool
        Whether records came, or are read otherwise, since the calibration that answers was kept.
    warning : str
        What is to be said with every answer, "" where nothing is.
    records_line : int
        The last line of the history that changed the records; 0 where it tells of none.
    """

    uploads: int | None = None
    current: CalibrationEntry | None = None
    newest: CalibrationEntry | None = None
    calibrations: tuple[CalibrationEntry, ...] = ()
    within: Accepted | None = None
    choices: Choices = Choices()  # noqa: RUF009  (frozen)
    newer_records: bool = False
    warning: str = ""
    records_line: int = 0

    @property
    def failed_since(self) -> CalibrationEntry | None:
        """The newest calibration where it did not pass the gate, so that an older one answers, or none does."""
        return None if self.newest is None or self.newest.summary.passed else self.newest

    @property
    def own_day(self) -> dt.date | None:
        """The as-of day of the calibration that answers."""
        return None if self.current is None else self.current.summary.as_of


def standing(store_url: str, horizon_years: float | None = None, tolerance: float | None = None) -> Standing:
    """Look at a store; no calibration is read and nothing is made.

    Parameters
    ----------
    horizon_years, tolerance : float, optional
        Go before the store's settings.

    Raises
    ------
    Refusal
        Where the address or the file cannot be used.
    """
    store = Store.open_if_there(store_url)
    if store is None:
        return Standing()
    with store:
        entries = store.calibrations()
        current = next((entry for entry in entries if entry.current), None)
        return Standing(
            len(store.uploads()),
            current,
            entries[-1] if entries else None,
            tuple(entries),
            accepted(store, horizon_years, tolerance),
            store.choices(),
            current is not None and store.records_since(current.id),
            store.instead_of(),
            store.records_line(),
        )
