"""Stores in the states that a screen may meet."""

import datetime as dt
from pathlib import Path

from wearfit.calibration import from_bytes
from wearfit.demo.shipped import shipped_calibration_bytes
from wearfit.records.readers.read import read
from wearfit.store.calibrations import CalibrationSummary
from wearfit.store.store import Store


def summary(passed: bool, reasons: tuple[str, ...] = ()) -> CalibrationSummary:
    """What the store lists of the demo's calibration."""
    identity = from_bytes(shipped_calibration_bytes()).identity
    return CalibrationSummary(
        dt.date.fromisoformat(identity.as_of), identity.fingerprint, passed, reasons, identity.lives, identity.wear_outs, identity.seed,
        identity.model_version, identity.format_version, identity.wear_law,
    )  # fmt: skip


def make_store(place: Path | str, *, records: Path | None = None, calibrations: tuple[bool, ...] = ()) -> str:
    """A store at a path or an address; returns its address.

    Parameters
    ----------
    records
        Folder to store first.
    calibrations
        The demo's calibration once for each, as one that passed or failed the gate.
    """
    blob = shipped_calibration_bytes()
    with Store.open(str(place)) as store:
        if records is not None:
            store.add_upload(read(records))
        for passed in calibrations:
            store.add_calibration(blob, summary(passed, () if passed else ("two chains disagree",)), make_current=True)
    return str(place)
