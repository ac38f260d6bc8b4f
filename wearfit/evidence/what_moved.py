"""What each batch of records changed in the forecasts: the fleet forecast anew from the posterior without it."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any, Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.evidence.believed_draws import Believed
from wearfit.evidence.courses import Courses
from wearfit.evidence.hangs_on_priors import live_ahead
from wearfit.evidence.left_out import Batches, LeftOut, leave_out
from wearfit.evidence.looked_at import PARTINGS, seen_by
from wearfit.exposures.table import Exposures
from wearfit.model.reweigh import resampled

Array = np.ndarray

MOVED: Final = 0.15  # of a tool's median wear left, from which it is named; judgement
MOST_TOOLS: Final = 5
SURE: Final = 3.0  # times its Monte Carlo error that it must have moved, to be told
QUARTERS: Final = 8  # told apart, the newest
RECENT_MONTHS: Final = 12  # of a plant's records, as one batch

Forecast = Callable[[Calibration], Sequence[dict[str, Any]]]
"""Gives the tools of a fleet forecast."""


def batches_of(b: Believed, courses: Courses) -> tuple[Batches, ...]:
    """Batches by year, by quarter of late, and by plant of late: all that a plant ever told is too much to be left out by weights."""
    now = int(b.exposures.as_of.astype("datetime64[M]").astype(np.int64))
    years = PARTINGS["year"](seen_by(b, courses))
    first = now // 3 - QUARTERS + 1
    quarter = courses.month // 3 - first
    names = [f"{1970 + q // 4} Q{q % 4 + 1}" for q in range(first, first + QUARTERS)]
    late = courses.month > now - RECENT_MONTHS
    parted = (
        ("year", *years),
        ("quarter", names, np.where(quarter >= 0, quarter, -1)),
        ("plant", b.exposures.plant_ids, np.where(late, courses.plant, -1)),
    )
    return tuple(named_batches(by, names, piece, last_pieces(b.exposures, courses, piece)) for by, names, piece in parted)


def last_pieces(exposures: Exposures, courses: Courses, piece: Array) -> Array:
    """The batch of each episode's last piece, shape (episode,); -1 where it has none."""
    ending = np.full(len(exposures.episodes.tool), -1)
    ending[courses.episode] = piece  # in order of time: the last one stays
    return ending


def named_batches(by: str, names: Sequence[str], piece: Array, ending: Array) -> Batches:
    """Batches without those that nothing is of."""
    there = np.array([i for i in range(len(names)) if (piece == i).any() or (ending == i).any()], dtype=np.int64)
    place = np.full(len(names) + 1, -1)
    place[there] = np.arange(len(there))
    return Batches(by, tuple(names[i] for i in there), place[piece], place[ending])


def moved_report(
    b: Believed, courses: Courses, calibration: Calibration, schemes: Sequence[Batches], forecast: Forecast, seed: int
) -> dict[str, Any]:
    """What the forecasts would be without each batch.

    Parameters
    ----------
    b : Believed
        With every draw of the calibration.
    schemes : sequence of Batches
        One of a single batch says nothing, and is left out.
    """
    now, ahead = forecast(calibration), live_ahead(calibration)
    rows = []
    for left in leave_out(b, courses, calibration, [s for s in schemes if len(s.names) > 1], seed):
        khat = left.weights.khat if np.isfinite(left.weights.khat) else None
        row: dict[str, Any] = {
            "by": left.by, "name": left.name, "wear_outs": left.wear_outs, "khat": khat, "reliable": left.weights.reliable,
            "kept": left.kept, "wear_outs_ahead": None, "error": None, "tools": [],
        }  # fmt: skip
        if left.weights.reliable:
            without = with_effects(calibration, b.exposures, left)
            then = live_ahead(without)
            row |= {
                "wear_outs_ahead": float(left.weights.mean(then.within.sum(axis=1))),
                "error": float(left.weights.error(then.within.sum(axis=1))),
            }
            by = left.weights.mean(then.log_left) - ahead.log_left.mean(axis=0)
            told = np.abs(by) > np.maximum(np.log1p(MOVED), SURE * left.weights.error(then.log_left))
            if told.any():
                row["tools"] = _moved(now, forecast(resampled(without, left.weights.weights, seed)), set(ahead.tool_id[told]))
        rows.append(row)
    return {"wear_outs_ahead": float(ahead.within.sum(axis=1).mean()), "batches": rows}


def with_effects(calibration: Calibration, exposures: Exposures, left: LeftOut) -> Calibration:
    """A calibration whose tools have the effects that the rest of their history leaves them; its draws are still to be weighed."""
    drawn, live = calibration.draws, calibration.live
    tool, life = np.asarray(drawn.tool, dtype=float).copy(), np.asarray(drawn.characteristic_life, dtype=float).copy()
    names = {str(name): i for i, name in enumerate(calibration.levels.tool)}
    for index, effect in left.effects.items():
        at = names[exposures.tools.tool_id[index]]
        for row in np.flatnonzero(live.tool == at):
            life[:, row] *= np.exp(effect - tool[:, at])
        tool[:, at] = effect
    return replace(calibration, draws=replace(drawn, tool=tool, characteristic_life=life))


def _moved(now: Sequence[dict[str, Any]], without: Sequence[dict[str, Any]], named: set[str]) -> list[dict[str, Any]]:
    """Tools whose median remaining shots would be another, of those named, those that moved furthest first."""
    found = []
    for tool, other in zip(now, without, strict=True):
        before, after = other["remaining_shots"]["p50"], tool["remaining_shots"]["p50"]
        if tool["tool_id"] in named and before and after:
            found.append({"tool_id": tool["tool_id"], "without": before, "now": after})
    return sorted(found, key=lambda t: -abs(np.log(t["now"] / t["without"])))[:MOST_TOOLS]
