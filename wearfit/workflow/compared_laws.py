"""Laws held against one another, as the document that a store keeps: their scores, and what each would change of the forecasts."""

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from wearfit.calibration import STACKED, Calibration
from wearfit.workflow.answers import Accepted, current_for, forecast_of

if TYPE_CHECKING:
    from wearfit.evidence.laws import Comparison

MOST_TOOLS: Final = 5


def as_document(compared: "Comparison", answers: Calibration, stacked: Calibration, within: Accepted) -> dict[str, Any]:
    """The comparison beside a calibration of the same records.

    Parameters
    ----------
    compared : Comparison
    answers : Calibration
        That forecasts are compared with.
    stacked : Calibration
        All laws as one, by their weights.
    within : Accepted

    Returns
    -------
    dict
        As `evidence.laws.scores_report` has it; `wear_law` of `answers`; `forecasts`, what each law, and all of them, would change.
    """
    from wearfit.evidence.laws import scores_report  # with the model's own arrays, which take a while to load

    under = {fit.name: fit.calibration for fit in compared.fits} | {STACKED: stacked}
    now = _shots_left(answers, within)
    forecasts = [_against(now, name, _shots_left(calibration, within)) for name, calibration in under.items()]
    return {**scores_report(compared), "wear_law": answers.identity.wear_law, "forecasts": forecasts}


def _against(now: dict[str, tuple[float, float]], name: str, then: dict[str, tuple[float, float]]) -> dict[str, Any]:
    """How far the forecasts under a law lie from those of the calibration that answers."""
    both = [tool for tool in now if tool in then]
    ratio = np.array([np.divide(then[tool], now[tool]) for tool in both]).reshape(-1, 2)
    furthest = np.argsort(-np.abs(np.log(ratio[:, 1])), kind="stable")[:MOST_TOOLS]
    likely, late = np.median(ratio, axis=0) if both else (None, None)
    tools = [{"tool_id": both[i], "late": then[both[i]][1], "now": now[both[i]][1]} for i in furthest]
    return {"law": name, "likely": likely, "late": late, "tools": tools}


def _shots_left(calibration: Calibration, within: Accepted) -> dict[str, tuple[float, float]]:
    """Likely and late number of shots left by tool, of those that have any."""
    tools = forecast_of(current_for(0, calibration, None), within)["tools"]
    left = {tool["tool_id"]: (tool["remaining_shots"]["p50"], tool["remaining_shots"]["p90"]) for tool in tools}
    return {tool: (float(p50), float(p90)) for tool, (p50, p90) in left.items() if p50 and p90}
