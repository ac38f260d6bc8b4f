"""Calibrations of all laws, stacked: what the worker says on the way, and the comparison that is kept with what came of it."""

import pickle
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import wearfit.evidence.laws
from wearfit.calibration import STACKED, Calibration, from_bytes
from wearfit.evidence.law_scores import Scores, choose
from wearfit.evidence.laws import Comparison, LawFit
from wearfit.law import LAWS
from wearfit.model.priors_file import own_priors_text
from wearfit.store.store import Store
from wearfit.workflow.laws import kept_laws
from wearfit.workflow.laws_in_words import reason
from wearfit.workflow.progress import Report, silent
from wearfit.workflow.recalibrate import Order, recalibrate
from wearfit.workflow.worker import Worker
from wearfit.workflow.worker_process import Fitted, Request, calibrated


class _Enough(Exception):
    pass


def test_each_stage_says_of_which_law_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    def compare(*history: Any) -> None:
        told: Callable[[str, str, float], None] = history[5]
        for law in LAWS:
            told(law, "sample", 0.5)
        raise _Enough

    monkeypatch.setattr(wearfit.evidence.laws, "compare_laws", compare)
    request = Request(None, None, "", own_priors_text(), 1, law=STACKED)  # type: ignore[arg-type]
    said: list[tuple[str, float, str]] = []
    with pytest.raises(_Enough):
        calibrated(request, {}, lambda stage, share, part: said.append((stage, share, part)))
    assert said == [("sample", 0.5, f"the {name} law") for name in ("Weibull", "log-logistic", "lognormal")]


@pytest.fixture
def compared(demo_calibration: Calibration, monkeypatch: pytest.MonkeyPatch) -> Comparison:
    """What a comparison of laws may come to, without one: the log-logistic law's draws last twice as long, and no law is clearly better."""
    draws = demo_calibration.draws
    longer = replace(demo_calibration, draws=replace(draws, characteristic_life=2.0 * draws.characteristic_life))
    luck = np.random.default_rng(1)
    elpd = luck.normal(-3.0, 1.0, (60, 1)) + luck.normal(0.0, 0.3, (60, 3))
    scores = [Scores(column, np.zeros(60), np.zeros(60, dtype=bool), 0) for column in elpd.T]
    fits = zip(LAWS, (demo_calibration, longer, demo_calibration), scores, strict=True)
    seconds = {"prepare": 0.0, "compile": 0.0, "sample": 0.0}
    found = Comparison(tuple(LawFit(*fit, {}) for fit in fits), choose(LAWS, elpd), 60, 2, {}, seconds)
    monkeypatch.setattr(wearfit.evidence.laws, "compare_laws", lambda *history: found)
    return found


class _InThisProcess(Worker):
    """Calibrates here, and hands over what it found as a process would."""

    def calibrate(self, request: Request, report: Report = silent) -> Fitted:
        fitted = calibrated(request, {}, lambda stage, share, part: None)
        return pickle.loads(pickle.dumps(fitted))


def test_a_stacked_recalibration_keeps_its_comparison_as_its_own_evidence(
    tmp_path: Path, write_history: Callable[..., Path], compared: Comparison
) -> None:
    url = str(tmp_path / "stacked.db")
    done = recalibrate(url, Order((write_history(),), law=STACKED), _InThisProcess())
    assert done.identity.wear_law == STACKED
    kept = kept_laws(url, done.calibration)
    assert kept is not None
    assert (kept["calibration"], kept["fingerprint"], kept["as_of"]) == (done.calibration, done.identity.fingerprint, done.identity.as_of)
    assert [law["law"] for law in kept["laws"]] == list(LAWS)
    assert [law["weight"] for law in kept["laws"]] == pytest.approx(list(compared.choice.weights))
    assert kept["sentences"][0] == reason(kept) == done.identity.law_chosen
    assert kept["sentences"][1] == "The calibration that answers has it so."
    likely = {forecast["law"]: forecast["likely"] for forecast in kept["forecasts"]}
    assert likely[STACKED] == 1.0
    assert likely["log-logistic"] > 1.1
    assert likely["weibull"] == likely["lognormal"] < 1.0
    with Store.open(url) as store:
        assert [line.did for line in store.history()] == ["records", "calibration", "evidence"]
        assert from_bytes(store.calibration().blob).identity.wear_law == STACKED


def test_where_nobody_keeps_it_nothing_is_forecast(compared: Comparison) -> None:
    request = Request(None, None, "", own_priors_text(), 1, law=STACKED)  # type: ignore[arg-type]
    fitted = calibrated(request, {}, lambda stage, share, part: None)
    assert (fitted.compared, fitted.identity.wear_law) == (None, STACKED)
