"""The scores of a backtest: wearfit beside each rival, with how sure the differences are."""

import datetime as dt
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np

from wearfit.errors import Refusal
from wearfit.evidence.backtest import FORECASTERS, POINTS, WEARFIT, Marks
from wearfit.evidence.scores import (
    LEVELS,
    Average,
    average,
    brier_scores,
    calibration_curve,
    count_range,
    covered,
    log_scores,
    restricted_crps,
    seen_share,
)

Array = np.ndarray

STILL_SEEN: Final = 0.2  # of the lives, up to where what is left is scored: beyond, a few would stand for all
ENOUGH_WEAR_OUTS: Final = 5  # among the runs asked about, to say anything; judgement

Verdict = Literal["earned", "not yet", "no", "too few"]


@dataclass(frozen=True)
class Scored:
    """One forecaster. Scores are penalties, the lower the better.

    Parameters
    ----------
    log_score, brier : float
        Mean over the runs of whether the tool wore out before the run was finished.
    crps : float
        Of the shots left, in lives of the tool's band; see `restricted_crps`.
    coverage : dict of str to Average
        By per cent: share of the lives that the central interval of the shots left held.
    behind : Average or None
        By how much its log score exceeds wearfit's; None for wearfit.
    """

    log_score: float
    brier: float
    crps: float
    coverage: dict[str, Average]
    behind: Average | None

    def as_json(self) -> dict[str, Any]:
        document: dict[str, Any] = {
            "log_score": self.log_score,
            "brier": self.brier,
            "crps": self.crps,
            "coverage": {level: held.mean for level, held in self.coverage.items()},
            "coverage_range": {level: held.as_list() for level, held in self.coverage.items()},
        }
        if self.behind is not None:
            document["behind"] = {"mean": self.behind.mean, "range": self.behind.as_list()}
        return document


def report(marks: Marks) -> dict[str, Any]:
    """The scores of a backtest, ready for JSON.

    Raises
    ------
    Refusal
        Where no run was begun after any of the days by a tool whose count of shots is on record.
    """
    if not len(marks.run_worn):
        raise Refusal(
            "No tool whose count of shots is on record began a run after any of these days, so nothing was forecast.",
            "Name earlier days, ask for a longer --horizon, or fill in opening_life_shots.",
        )
    furthest = scored_up_to(marks)
    scored = {name: _scored(marks, i, furthest) for i, name in enumerate(FORECASTERS)}
    ours = scored.pop(WEARFIT)
    return {
        "cutoffs": [_iso(day) for day in marks.day],
        "n": len(marks.run_worn),
        "wear_outs": float(marks.run_worn.sum()),
        "tools": len(np.unique(marks.run_tool)),
        **ours.as_json(),
        "calibration_curve": calibration_curve(marks.run_chance[0], marks.run_worn),
        "baselines": {name: rival.as_json() for name, rival in scored.items()},
        "any_stop": {
            "stops": float(marks.run_stopped.sum()),
            "expected": float(marks.stop_chance.sum()),
            "log_score": float(log_scores(marks.stop_chance, marks.run_stopped).mean()),
            "brier": float(brier_scores(marks.stop_chance, marks.run_stopped).mean()),
        },
        "expected_wear_outs": float(marks.run_chance[0].sum()),
        "wear_outs_range": list(count_range(marks.run_chance[0], float(marks.shared.sum()))),
        "lives": len(marks.life_worn),
        "lives_worn": float(marks.life_worn.sum()),
        "crps_up_to": furthest,
        "left_out": int(marks.unplaced.sum()),
        "by_cutoff": [_of_day(marks, i) for i in range(len(marks.day))],
        "verdict": verdict({name: rival.behind for name, rival in scored.items()}, float(marks.run_worn.sum())),
        "lower_is_better": True,
    }


def verdict(behind: dict[str, Average | None], wear_outs: float) -> Verdict:
    """Whether the forecasts earned their keep: better than every rival by more than chance, than every one, or not."""
    if wear_outs < ENOUGH_WEAR_OUTS:
        return "too few"
    gaps = [gap for gap in behind.values() if gap is not None]
    if all(gap.low > 0.0 for gap in gaps):
        return "earned"
    return "not yet" if all(gap.mean > 0.0 for gap in gaps) else "no"


def scored_up_to(marks: Marks) -> float:
    """Shots left, in lives of the band, up to which what is left is scored."""
    seen = seen_share(_middle(marks), marks.life_worn, POINTS)
    return float(POINTS[max(int((seen >= STILL_SEEN).sum()) - 1, 1)])


def _middle(marks: Marks) -> Array:
    """When each life ended or was last seen: the middle where a wear-out lies in between."""
    return 0.5 * (marks.life_low + marks.life_high)


def _scored(marks: Marks, place: int, furthest: float) -> Scored:
    chance, points = marks.run_chance[place], furthest >= POINTS
    losses, ours = log_scores(chance, marks.run_worn), log_scores(marks.run_chance[0], marks.run_worn)
    held = {
        str(level): average(covered(marks.life_by_low[place], marks.life_by_high[place], marks.life_worn, level / 100.0), marks.life_tool)
        for level in LEVELS
    }
    return Scored(
        log_score=float(losses.mean()),
        brier=float(brier_scores(chance, marks.run_worn).mean()),
        crps=restricted_crps(marks.life_curve[place][:, points].T, POINTS[points], _middle(marks), marks.life_worn),
        coverage=held,
        behind=average(losses - ours, marks.run_tool) if place else None,
    )


def _of_day(marks: Marks, place: int) -> dict[str, Any]:
    runs, lives = marks.run_day == marks.day[place], marks.life_day == marks.day[place]
    losses = [float(log_scores(of_one[runs], marks.run_worn[runs]).mean()) if runs.any() else None for of_one in marks.run_chance]
    return {
        "cutoff": _iso(marks.day[place]),
        "wear_outs_known": int(marks.wear_outs[place]),
        "n": int(runs.sum()),
        "wear_outs": float(marks.run_worn[runs].sum()),
        "lives": int(lives.sum()),
        "left_out": int(marks.unplaced[place]),
        "passed_the_gate": bool(marks.gate[place]),
        "log_score": losses[0],
        "baselines": {name: {"log_score": loss} for name, loss in zip(FORECASTERS[1:], losses[1:], strict=True)},
    }


def _iso(day: float) -> str:
    return str(dt.date(1970, 1, 1) + dt.timedelta(days=int(day)))
