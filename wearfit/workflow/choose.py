"""Answers of the decision calculators from the current calibration of a store."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.decisions.choices import decision_named
from wearfit.decisions.decision import Decision, decide
from wearfit.forecasts.fleet import live_row
from wearfit.forecasts.news import NOTHING, Since
from wearfit.forecasts.outlook import read_outlook
from wearfit.forecasts.since import heed
from wearfit.store.store import Store
from wearfit.workflow.answers import Current, read_current, with_news
from wearfit.workflow.subjects import SUBJECTS, Asked, Heeded, in_known_names
from wearfit.workflow.tool_numbers import numbers_of_tools
from wearfit.workflow.wording import readings_since

LISTED: Final = {"cavities": "cavities", "cycle_seconds": "cycle_time_s"}  # inputs, and columns of the table of tools that give them


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
        current = with_news(store, current, choices)
        meant = in_known_names(asked, current.calibration, choices)
        listed = listed_of(store, current.calibration, decision, meant)
    return choose_of(current, decision, meant, draws_of(current, decision, meant, listed), given or {})


def known_asked(store_url: str, calibration: Calibration, asked: Asked) -> Asked:
    """What is asked about in the names that the calibration has, by what the user of the store decided about names."""
    with Store.open(store_url, must_exist=True) as store:
        return in_known_names(asked, calibration, store.choices())


def listed_of(store: Store, calibration: Calibration, decision: Decision[Any], meant: Asked) -> dict[str, float]:
    """Inputs of a decision that stand on the list of tools and in no calibration, of the tool that it is about."""
    wanted = [item.name for item in decision.inputs if item.name in LISTED]
    if not meant.tool or not wanted:
        return {}
    rows, choices = store.rows(("tools",)), store.choices()
    found = {name: numbers_of_tools(rows, LISTED[name], calibration, choices).get(meant.tool) for name in wanted}
    return {name: value for name, value in found.items() if value is not None}


@dataclass(frozen=True)
class About:
    """Draws of what a decision is about, and what its tool's readings since the calibration have to do with them."""

    ahead: Any
    since: Since

    @property
    def on_record(self) -> Mapping[str, float]:
        """Inputs that the records give."""
        on_record: Mapping[str, float] = self.ahead.on_record
        return on_record


def draws_of(current: Current, decision: Decision[Any], meant: Asked, listed: Mapping[str, float]) -> About:
    """Draws of what a decision is about, named as the calibration names it; refuses what is not known or not said in full."""
    calibration = current.calibration
    rows = np.array([live_row(calibration, meant.tool)] if meant.tool else [], dtype=np.int64)
    calibration, since = heed(calibration, read_outlook(calibration), rows, current.news, current.as_of)
    ahead = SUBJECTS[decision.subject].ahead(Heeded(calibration, current.as_of, since), meant)
    told = next(iter(since.values()), NOTHING)
    return About(replace(ahead, on_record={**ahead.on_record, **listed}) if listed else ahead, told)


def choose_of(current: Current, decision: Decision[Any], meant: Asked, draws: About, given: Mapping[str, float]) -> dict[str, Any]:
    """The answer from a calibration and draws at hand."""
    about = {name: getattr(meant, name) for name in SUBJECTS[decision.subject].takes if getattr(meant, name)}
    hold = bool(meant.tool) and str(current.calibration.live.status[live_row(current.calibration, meant.tool)]) == "held"
    answer, since = decide(decision, draws.ahead, given).as_json(), draws.since.as_json()
    return current.document({"about": about, "hold": hold, **since, **answer, "notes": [*readings_since(since), *answer["notes"]]})
