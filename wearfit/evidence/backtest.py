"""Forecasts made at past days on what was then known, beside those of the rivals, for the runs and renewals that then came."""

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, fields, replace
from functools import partial
from typing import Any, Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.evidence.baselines import BASELINES, baselines
from wearfit.evidence.cutoffs import horizon_end
from wearfit.evidence.forecaster import Forecaster, RunChance
from wearfit.evidence.life_table import unstated_wear
from wearfit.evidence.outcomes import Outcome, outcomes
from wearfit.evidence.wear_clock import wear_clock
from wearfit.exposures.build import build_exposures
from wearfit.exposures.live import LiveTools, build_live
from wearfit.exposures.table import Exposures
from wearfit.model.bands import band_offsets, log_band
from wearfit.model.layout import Layout
from wearfit.model.prepare import layout_of
from wearfit.model.priors import Priors
from wearfit.records.records import Records

Array = np.ndarray

WEARFIT: Final = "wearfit"
FORECASTERS: Final = (WEARFIT, *BASELINES)
POINTS: Final = np.linspace(0.0, 3.0, 601)  # shots left at which forecasts are held against each other, in lives of the tool's band

Map = Callable[[Callable[["Known"], "Marks"], Iterable["Known"]], Iterable["Marks"]]


@dataclass(frozen=True)
class Known:
    """What was known at the end of a past day."""

    day: dt.date
    fingerprint: str
    exposures: Exposures
    live: LiveTools


Refit = Callable[[Known], Calibration]


@dataclass(frozen=True)
class Marks:
    """What was forecast and what came of it. Arrays of shape (run,) or (life,), forecasts with a leading axis of FORECASTERS."""

    run_day: Array  # cut-off day [day since 1970]
    run_tool: Array  # tool id
    run_chance: Array  # (forecaster, run) of wear-out before it was finished
    run_worn: Array  # 0..1
    shared: Array  # (cut-off,) variance of the number of wear-outs by what is not known of all tools together
    stop_chance: Array  # of wear-out or sudden stop, wearfit's
    run_stopped: Array  # 0..1
    life_day: Array
    life_tool: Array
    life_low: Array  # machine shots left, between which it wore out or that it came through, in lives of its band
    life_high: Array
    life_worn: Array  # 0..1
    life_by_low: Array  # (forecaster, life) chance of wear-out by `life_low`
    life_by_high: Array
    life_curve: Array  # (forecaster, life, POINTS) chance of wear-out by each of POINTS
    unplaced: Array  # (cut-off,) live tools whose count of shots is not on record: left out, as no rival can place them
    gate: Array  # (cut-off,) bool: the calibration passed the gate
    day: Array  # (cut-off,)
    wear_outs: Array  # (cut-off,) known by then


def know(cut: Records) -> Known:
    """What was known on the as-of day of records, without the plan, which tells of what was meant to come later.

    Raises
    ------
    ValueError
        Where the records are not cut.
    """
    if cut.as_of_day is None:
        raise ValueError("the records are not cut at a day")
    unplanned = replace(cut, tables={**cut.tables, "plan": cut.tables["plan"].iloc[:0]})
    exposures = build_exposures(unplanned)
    return Known(cut.as_of_day, unplanned.fingerprint, exposures, build_live(unplanned, exposures))


def common_layout(histories: Iterable[Exposures]) -> Layout:
    """The smallest layout that holds each of some histories, so that one compiled model serves them all."""
    layouts = [layout_of(exposures) for exposures in histories]
    return Layout(*(max(getattr(layout, f.name) for layout in layouts) for f in fields(Layout)))


def backtest(whole: Exposures, known: Sequence[Known], horizon_months: int, priors: Priors, refit: Refit, map_: Map = map) -> Marks:
    """Forecast at each past day and see what came of it.

    Parameters
    ----------
    whole : Exposures
        Of all the records, which say what happened.
    known : sequence of Known
        One a cut-off, of records that end there.
    horizon_months : int
        Runs begun within so many months are asked about; what is left of a life is followed to the end of the records.
    refit : callable
        Gives a calibration on what was known; it is called from wherever `map_` calls, and can be pickled where that is elsewhere.
    map_ : callable
        Goes over the cut-offs, one after another by default.
    """
    marks = list(map_(partial(_refitted, whole, horizon_months, priors, refit), known))
    return Marks(**{f.name: np.concatenate([getattr(m, f.name) for m in marks], axis=_axis(f.name)) for f in fields(Marks)})


def _refitted(whole: Exposures, horizon_months: int, priors: Priors, refit: Refit, known: Known) -> Marks:
    return marks_of(whole, known, horizon_months, priors, refit(known))


def _axis(name: str) -> int:
    return 1 if name in ("run_chance", "life_by_low", "life_by_high", "life_curve") else 0


def marks_of(whole: Exposures, known: Known, horizon_months: int, priors: Priors, calibration: Calibration) -> Marks:
    """Forecasts of one cut-off beside what came of them."""
    exposures, live = known.exposures, known.live
    forecasters = {WEARFIT: wear_clock(calibration), **baselines(exposures, live, priors)}
    row = {exposures.tools.tool_id[tool]: i for i, tool in enumerate(live.tool)}
    until = np.datetime64(horizon_end(known.day, horizon_months), "D")
    found = outcomes(whole, np.datetime64(known.day, "D"), until, usual_runs(exposures), unstated_wear(whole, priors))
    # An event may be placed by its count of shots on a day before its date, when nobody knew of it yet.
    found = {tool: o for tool, o in found.items() if tool in row and live.renewals[row[tool]] == o.renewals}
    placed = [o for tool, o in found.items() if all(tool in f.within for f in forecasters.values())]
    scale = _band_lives(exposures, live, priors)
    day = float(np.datetime64(known.day, "D").astype(np.int64))
    chances = {name: [forecasters[name].runs(o) for o in placed] for name in FORECASTERS}
    return Marks(
        **_runs(chances, placed, day),
        shared=np.array([shared_variance([[c.by_draw for c in of_tool] for of_tool in chances[WEARFIT]])]),
        **_lives(forecasters, placed, day, {o.tool_id: float(scale[row[o.tool_id]]) for o in placed}),
        unplaced=np.array([len(found) - len(placed)]),
        gate=np.array([bool(calibration.identity.diagnostics["passed"])]),
        day=np.array([day]),
        wear_outs=np.array([exposures.wear_outs]),
    )


def usual_runs(exposures: Exposures) -> dict[str, float]:
    """Median shots of the production runs of each tool that has made one."""
    runs = exposures.runs
    size = np.bincount(runs.production, weights=runs.shots, minlength=len(runs.tool))
    first = np.unique(runs.production)
    usual = {}
    for tool in np.unique(runs.tool):
        usual[exposures.tools.tool_id[tool]] = float(np.median(size[first[runs.tool[first] == tool]]))
    return usual


def _band_lives(exposures: Exposures, live: LiveTools, priors: Priors) -> Array:
    """Characteristic life by the band of each live tool, shape (live,). [shots]"""
    first = np.searchsorted(exposures.candidates.tool, live.tool, side="left")
    return np.asarray(np.exp(log_band(exposures, priors, band_offsets(priors))[first]))


def shared_variance(by_draw: Sequence[Sequence[Array]]) -> float:
    """Variance that the number of wear-outs has because what all tools share is not known.

    Parameters
    ----------
    by_draw : sequence of sequences of arrays, shape (sample,)
        Of each tool and each of its runs, `RunChance.by_draw`.

    Notes
    -----
    Of the sum over the draws, without what each tool has of its own: that one comes to pass or does not is luck, whatever its chance
    hangs on. Runs of one tool are told in turn, each on its having come through the one before, and so do not vary together.
    """
    tools = [np.sum(of_tool, axis=0) for of_tool in by_draw if len(of_tool)]
    if not tools:
        return 0.0
    return max(float(np.sum(tools, axis=0).var() - np.sum([tool.var() for tool in tools])), 0.0)


def _runs(of: dict[str, list[tuple[RunChance, ...]]], placed: list[Outcome], day: float) -> dict[str, Any]:
    asked = [(o.tool_id, run) for o in placed for run in o.runs]
    chances = [[chance for of_tool in of[name] for chance in of_tool] for name in FORECASTERS]
    return {
        "run_day": np.full(len(asked), day),
        "run_tool": np.array([tool for tool, _ in asked], dtype=object),
        "run_chance": np.array([[chance.worn for chance in of_one] for of_one in chances]),
        "run_worn": np.array([run.worn for _, run in asked]),
        "stop_chance": np.array([chance.stopped for chance in chances[0]]),
        "run_stopped": np.array([run.stopped for _, run in asked]),
    }


def _lives(forecasters: dict[str, Forecaster], placed: list[Outcome], day: float, scale: dict[str, float]) -> dict[str, Any]:
    by = {
        name: [forecasters[name].within[o.tool_id](np.concatenate([[o.low, o.high], POINTS * scale[o.tool_id]])) for o in placed]
        for name in FORECASTERS
    }
    table = np.array([by[name] for name in FORECASTERS]).reshape(len(FORECASTERS), len(placed), len(POINTS) + 2)
    unit = np.array([scale[o.tool_id] for o in placed])
    return {
        "life_day": np.full(len(placed), day),
        "life_tool": np.array([o.tool_id for o in placed], dtype=object),
        "life_low": np.array([o.low for o in placed]) / unit,
        "life_high": np.array([o.high for o in placed]) / unit,
        "life_worn": np.array([o.worn for o in placed]),
        "life_by_low": table[:, :, 0],
        "life_by_high": table[:, :, 1],
        "life_curve": table[:, :, 2:],
    }
