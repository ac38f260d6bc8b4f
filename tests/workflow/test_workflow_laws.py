"""How laws compare, in words; and which law a recalibration has, and why."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from ready_worker import Ready

from wearfit.calibration import STACKED
from wearfit.errors import Refusal
from wearfit.store.evidence import EvidenceEntry
from wearfit.store.store import Store
from wearfit.workflow.laws import LAW, check_law, kept_laws, law_in_force
from wearfit.workflow.laws_in_words import law_rows, reason, sentences, why_stacked
from wearfit.workflow.recalibrate import Order, recalibrate

EVEN = {"weight": 0.7, "repaired": 0, "together": 0, "passed": True}
LOGNORMAL = {**EVEN, "law": "lognormal", "elpd": -690.0, "difference": 0.0, "error": 0.0}
WEIBULL = {**EVEN, "law": "weibull", "elpd": -700.1, "difference": -10.1, "error": 4.2, "weight": 0.2, "repaired": 3, "together": 1}
LOGISTIC = {**EVEN, "law": "log-logistic", "elpd": -699.0, "difference": -9.0, "error": 3.9, "weight": 0.1, "repaired": 20, "together": 3}
FORECASTS = [
    {"law": "weibull", "likely": 1.0, "late": 1.0, "tools": []},
    {"law": "log-logistic", "likely": 0.94, "late": 1.21, "tools": []},
    {"law": "lognormal", "likely": 1.004, "late": 0.9, "tools": []},
    {"law": STACKED, "likely": None, "late": None, "tools": []},
]
DOCUMENT: dict[str, Any] = {
    "lives": 195, "left_out": 2, "laws": [WEIBULL, LOGISTIC, LOGNORMAL], "best": "lognormal", "chosen": "lognormal",
    "wear_law": "weibull", "forecasts": FORECASTS,
}  # fmt: skip


def test_a_clear_choice_says_why_and_what_to_do() -> None:
    assert reason(DOCUMENT) == (
        "The lognormal law is clearly the best: the Weibull law is 10.1 nat behind (standard error 4.2) and the log-logistic law is "
        "9.0 nat behind (standard error 3.9), over 195 lives, each forecast from all others."
    )
    said = " ".join(sentences(DOCUMENT))
    assert "has the Weibull law; `wearfit recalibrate --law lognormal` makes one" in said
    assert "Under the Weibull law 3 lives weigh too much to be left out by weights: the model was sampled without each of them." in said
    assert "Under the log-logistic law 20 lives weigh too much" in said and "up to 3 at a time" in said
    assert "2 lives renewed on a known day for a cause that nobody stated are not compared" in said
    assert "the log-logistic law would move the likely number of shots left down by 6 % and the late end up by 21 %" in said
    assert "the lognormal law would move the likely number of shots left by less than 1 % and the late end down by 10 %" in said
    assert law_rows(DOCUMENT)[0] == ("Weibull", "-700.1", "-10.1", "4.2", "20 %", "3 sampled anew")


def test_where_no_law_is_clearly_better_the_weights_are_told() -> None:
    said = sentences({**DOCUMENT, "chosen": STACKED, "wear_law": STACKED})
    assert said[0].startswith("No law is clearly the best")
    assert said[0].endswith("they count Weibull 20 %, log-logistic 10 %, lognormal 70 %.")
    assert said[1] == "The calibration that answers has it so."


def test_laws_stacked_although_one_is_clearly_the_best_say_that_they_were_asked_for() -> None:
    assert why_stacked({**DOCUMENT, "chosen": STACKED}) == reason({**DOCUMENT, "chosen": STACKED})
    assert why_stacked(DOCUMENT) == (
        f"All laws were asked for, and count Weibull 20 %, log-logistic 10 %, lognormal 70 %; one alone would do. {reason(DOCUMENT)}"
    )


def test_a_law_that_there_is_not_is_refused() -> None:
    with pytest.raises(Refusal, match="'gamma' is no law") as refused:
        check_law("gamma")
    assert refused.value.status == 2


def test_a_recalibration_has_the_law_asked_for_and_records_why(tmp_path: Path, write_history: Callable[..., Path]) -> None:
    url, worker = str(tmp_path / "laws.db"), Ready()
    first = recalibrate(url, Order((write_history(),)), worker)
    assert (worker.asked[0].law, worker.asked[0].law_chosen) == ("weibull", "")
    recalibrate(url, Order(law="log-logistic"), worker)
    assert worker.asked[1].law == "log-logistic"
    assert worker.asked[1].law_chosen == "Chosen by hand: `--law log-logistic`."
    with Store.open(url) as store:
        current = store.current_id()
        assert current is not None and current > first.calibration
        store.add_evidence(EvidenceEntry(LAW, current, json.dumps(DOCUMENT)))
        assert law_in_force(store, "lognormal") == ("lognormal", reason(DOCUMENT))
        asked = law_in_force(store, STACKED)
        assert asked[0] == STACKED and "The comparison says otherwise: The lognormal law" in asked[1]
    kept = kept_laws(url, current)
    assert kept is not None and kept["chosen"] == "lognormal"
