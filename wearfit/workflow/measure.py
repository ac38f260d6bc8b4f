"""What to measure next, from the current calibration of a store."""

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from wearfit.forecasts.measure import what_to_measure
from wearfit.store.store import Store
from wearfit.workflow.answers import Accepted, Current, accepted, read_current, with_news
from wearfit.workflow.known_names import known_tool
from wearfit.workflow.settings import UNNOTICED


def measure(
    store_url: str,
    as_of: dt.date | None = None,
    tools: Sequence[str] = (),
    horizon_years: float | None = None,
    tolerance: float | None = None,
    unnoticed: float | None = None,
    readings: Path | None = None,
) -> dict[str, Any]:
    """Which missing record would narrow each tool's wear-out date most, and by when to look at it.

    Parameters
    ----------
    unnoticed : float, optional
        Accepted chance that a tool wears out before anybody looks at it; as the store's settings, else the default.

    Others, and what is refused, as for `answers.forecast`.
    """
    with Store.open(store_url, must_exist=True) as store:
        current, choices = read_current(store, as_of), store.choices()
        within, risk = accepted(store, horizon_years, tolerance), UNNOTICED.chosen(unnoticed, store)
        current = with_news(store, current, choices, readings)
    return measure_of(current, within, risk, [known_tool(tool, current.calibration, choices) for tool in tools])


def measure_in(store_url: str, current: Current, within: Accepted) -> dict[str, Any]:
    """The same of every live tool, from a calibration at hand, with the risk that its store accepts."""
    with Store.open(store_url, must_exist=True) as store:
        risk = UNNOTICED.chosen(None, store)
    return measure_of(current, within, risk)


def measure_of(current: Current, within: Accepted, unnoticed: float, tools: Sequence[str] = ()) -> dict[str, Any]:
    """The same from a calibration at hand, tools named as it names them."""
    found = what_to_measure(
        current.calibration, current.as_of, within.horizon_years, within.tolerance, unnoticed, tools or None, current.news
    )
    asked = {"unnoticed": unnoticed, "tolerance": within.tolerance, "horizon_years": within.horizon_years}
    return current.document({**asked, **found.as_json(), **current.uncounted.as_json()})
