"""The calibrations of a store: which there are, and going back to one."""

from collections.abc import Sequence
from typing import Any, Final

from wearfit.store.store import Store

# What each reason of `model.gate.judge` comes down to for a reader who wants to know whether to trust the answer.
_PLAIN: Final = (
    ("R-hat", "its separate chains did not agree"),
    ("effective draws", "it has too few independent draws to be sure"),
    ("diverged", "some of its draws went astray"),
    ("E-BFMI", "it did not explore all that the records allow"),
    ("not finite", "some of its draws are no numbers"),
)


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
                "law": entry.summary.law,
                "seed": entry.summary.seed,
                "model_version": entry.summary.model_version,
                "format_version": entry.summary.format_version,
                "fingerprint": entry.summary.fingerprint,
            }
            for entry in entries
        ],
    }


def why_not_passed(reasons: Sequence[str]) -> str:
    """Why a calibration is kept but not used, in plain words; "" where no reason was recorded.

    Parameters
    ----------
    reasons : sequence of str
        As the gate gives them.
    """
    found = [plain for sign, plain in _PLAIN if any(sign in reason for reason in reasons)]
    if reasons and not found:
        found = ["its draws did not stand a check"]
    return " and ".join((", ".join(found[:-1]), found[-1]) if len(found) > 1 else found)
