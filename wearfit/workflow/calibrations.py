"""The calibrations of a store: which there are, and going back to one."""

from typing import Any

from wearfit.store.store import Store


def calibrations(store_url: str, use: int | None = None) -> dict[str, Any]:
    """Every calibration of a store, oldest first, the current one marked.

    Parameters
    ----------
    use : int, optional
        Number of the calibration to make current first.

    Raises
    ------
    Refusal
        Where there is no store, or the one to use did not pass, is damaged or is not there.
    """
    with Store.open(store_url, must_exist=True) as store:
        if use is not None:
            store.use(use)
        entries = store.calibrations()
    current = next((entry for entry in entries if entry.current), None)
    return {
        "as_of": str(current.summary.as_of) if current else None,
        "calibration": current.id if current else None,
        "fingerprint": current.summary.fingerprint if current else None,
        "calibrations": [
            {
                "id": entry.id,
                "current": entry.current,
                "as_of": str(entry.summary.as_of),
                "made_at": entry.made_at.isoformat(timespec="seconds"),
                "passed": entry.summary.passed,
                "reasons": list(entry.summary.reasons),
                "lives": entry.summary.lives,
                "wear_outs": entry.summary.wear_outs,
                "seed": entry.summary.seed,
                "model_version": entry.summary.model_version,
                "format_version": entry.summary.format_version,
                "fingerprint": entry.summary.fingerprint,
            }
            for entry in entries
        ],
    }
