"""A preview as it is told: its figures, and what to say before the list of changes."""

import datetime as dt
from dataclasses import asdict, dataclass
from typing import Any, Final

from wearfit.workflow.what_changed import Changes
from wearfit.workflow.wording import count

NO_CHANGES: Final = Changes((), ())
FIRST_NAMED: Final = 5  # tools, in a sentence
FEW_DRAWS: Final = 100.0  # effective ones, below which quantiles are rough; judgement


@dataclass(frozen=True)
class Preview:
    """What new records would change.

    Parameters
    ----------
    calibration : int
        Whose draws were weighed; it still answers.
    fingerprint : str
        Of the records that it was calibrated on.
    as_of : date
        Day for which both forecasts are.
    records_fingerprint : str
        Of the records now.
    new : bool
        Whether any of them differs; where not, the rest says nothing.
    reliable : bool
        Whether weights can tell; where not, there are no changes.
    khat, effective_draws : float
        Shape of the weights' tail, and how many even draws they are worth.
    unweighed : tuple of str
        Tools whose new records moved their own clocks and nothing else.
    changes : Changes
    seconds : float
        Of weighing, forecasting and comparing, records at hand.
    """

    calibration: int
    fingerprint: str
    as_of: dt.date
    records_fingerprint: str
    new: bool = True
    reliable: bool = True
    khat: float = 0.0
    effective_draws: float = 0.0
    unweighed: tuple[str, ...] = ()
    changes: Changes = NO_CHANGES
    seconds: float = 0.0

    @property
    def sentences(self) -> list[str]:
        """What to say before the list of changes."""
        if not self.new:
            return [f"No record is new or changed since calibration {self.calibration}."]
        if not self.reliable:
            left = count(round(self.effective_draws), "draw", "draws")
            return [
                f"The new records say too much for a preview: only {left} of calibration {self.calibration} would still count.",
                "A full recalibration is needed.",
            ]
        said = [
            f"PREVIEW: calibration {self.calibration} with the new records weighed in, not calibrated on. It still answers as before; "
            "recalibrate for exact figures."
        ]
        if self.effective_draws < FEW_DRAWS:
            said.append(f"Only {self.effective_draws:.0f} draws still count, so that all of it is rough.")
        chance = sum(change.by_chance for change in self.changes.changes)
        if chance:
            moves = count(chance, "tool without new records moves", "tools without new records move")
            said.append(f"{moves} no further than chance alone may move them: {self.effective_draws:.0f} draws count.")
        if self.unweighed:
            named = ", ".join(self.unweighed[:FIRST_NAMED]) + (" and others" if len(self.unweighed) > FIRST_NAMED else "")
            said.append(f"Of {named} the new records move the clock alone: what class, steel or age they are waits for a recalibration.")
        return said

    def as_json(self) -> dict[str, Any]:
        return {
            "as_of": str(self.as_of),
            "calibration": self.calibration,
            "fingerprint": self.fingerprint,
            "preview": True,
            "records_fingerprint": self.records_fingerprint,
            "new": self.new,
            "reliable": self.reliable,
            "khat": self.khat,
            "effective_draws": self.effective_draws,
            "unweighed": list(self.unweighed),
            "changes": [{name: value for name, value in asdict(change).items() if name != "records"} for change in self.changes.changes],
            "fleet": list(self.changes.fleet),
            "sentences": self.sentences,
            "seconds": self.seconds,
        }
