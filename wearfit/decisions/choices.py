"""The decisions that there are, in the order in which they are offered."""

from typing import Any, Final

from wearfit.decisions.copies import COPIES
from wearfit.decisions.decision import Decision
from wearfit.decisions.guarantee import GUARANTEE
from wearfit.decisions.keep import KEEP
from wearfit.decisions.modify import MODIFY
from wearfit.decisions.plant import PLANT
from wearfit.decisions.refurbish import REFURBISH
from wearfit.decisions.replace import REPLACE
from wearfit.decisions.replacement_age import REPLACEMENT_AGE
from wearfit.decisions.service_class import SERVICE_CLASS
from wearfit.errors import Refusal

DECISIONS: Final[tuple[Decision[Any], ...]] = (REPLACE, REPLACEMENT_AGE, REFURBISH, COPIES, SERVICE_CLASS, MODIFY, KEEP, PLANT, GUARANTEE)


def decision_named(name: str) -> Decision[Any]:
    """A decision by its name.

    Raises
    ------
    Refusal
        Where there is none.
    """
    for decision in DECISIONS:
        if decision.name == name:
            return decision
    raise Refusal(f"There is no choice '{name}'.", f"The choices are {', '.join(d.name for d in DECISIONS)}.", 2)
