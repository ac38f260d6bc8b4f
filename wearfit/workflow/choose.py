"""Answers of the decision calculators from the current calibration of a store."""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from wearfit.calibration import Calibration
from wearfit.decisions.choices import decision_named
from wearfit.decisions.decision import Decision, decide
from wearfit.forecasts.fleet import live_row
from wearfit.store.store import Store
from wearfit.workflow.answers import Current, read_current
from wearfit.workflow.subjects import SUBJECTS, Asked, in_known_names


def choose(
    store_url: str, what: str, asked: Asked, given: Mapping[str, float] | None = None, as_of: dt.date | None = None
) -> dict[str, Any]:
    """Ask a decision.

    Parameters
    ----------
    what : str
        Name of a decision.
    asked : Asked
        What it is about.
    given : mapping of str to float, optional
        Inputs that the user sets; the rest are on record or defaults.

    Raises
    ------
    Refusal
        As `read_current`; where the subject is not known or not said in full, and where an input is missing or impossible.
    """
    decision = decision_named(what)
    with Store.open(store_url, must_exist=True) as store:
        current, choices = read_current(store, as_of), store.choices()
    meant = in_known_names(asked, current.calibration, choices)
    return choose_of(current, decision, meant, draws_of(current, decision, meant), given or {})


def known_asked(store_url: str, calibration: Calibration, asked: Asked) -> Asked:
    """What is asked about in the names that the calibration has, by what the user of the store decided about names."""
    with Store.open(store_url, must_exist=True) as store:
        return in_known_names(asked, calibration, store.choices())


def draws_of(current: Current, decision: Decision[Any], meant: Asked) -> Any:
    """Draws of what a decision is about, named as the calibration names it; refuses what is not known or not said in full."""
    return SUBJECTS[decision.subject].ahead(current.calibration, meant, current.as_of)


def choose_of(current: Current, decision: Decision[Any], meant: Asked, ahead: Any, given: Mapping[str, float]) -> dict[str, Any]:
    """The answer from a calibration and draws at hand."""
    about = {name: getattr(meant, name) for name in SUBJECTS[decision.subject].takes if getattr(meant, name)}
    hold = bool(meant.tool) and str(current.calibration.live.status[live_row(current.calibration, meant.tool)]) == "held"
    return current.document({"about": about, "hold": hold, **decide(decision, ahead, given).as_json()})
