"""The records of a store as they stood at a day, ready to be looked up tool by tool."""

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

from wearfit.errors import Refusal
from wearfit.store.store import Store
from wearfit.store.uploads import empty_tables

if TYPE_CHECKING:
    from wearfit.exposures.table import Exposures
    from wearfit.records.records import Records


@dataclass(frozen=True)
class Recorded:
    """Records up to a day, and what the tools went through by them.

    Parameters
    ----------
    records : Records
        Cut at the day.
    exposures : Exposures
        Of the same records.
    fingerprint : str
        Of the same records; a calibration's own differs where records came or changed since.
    """

    records: "Records"
    exposures: "Exposures"
    fingerprint: str


def read_recorded(store_url: str, day: dt.date) -> Recorded:
    """Put the records of a store together.

    Raises
    ------
    Refusal
        Where the store holds none, or none by that day.
    """
    from wearfit.exposures.build import build_exposures
    from wearfit.records.assemble import assemble

    with Store.open(store_url, must_exist=True) as store:
        rows, choices = store.rows(), store.choices()
        empty = empty_tables(store.uploads())
    if not rows:
        raise Refusal("The store holds no records, so that no tool's history can be shown.", "Hand over the records again.")
    cut = assemble(rows, empty, choices).as_of(day)
    return Recorded(cut, build_exposures(cut), cut.fingerprint)
