"""The verdict and its words, on fleets where it is known who is right."""

import json
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from made_up_marks import marks_of_law

from wearfit.errors import Refusal
from wearfit.evidence.report import report, verdict
from wearfit.evidence.scores import Average
from wearfit.workflow.backtest_in_words import sentences

RIGHT = (0.0, 1.5, 1.5, 1.5)


def told(marks: Any) -> tuple[dict[str, Any], list[str]]:
    document = {"horizon_months": 12, "as_of": "2024-06-30", **report(marks)}
    json.dumps(document, allow_nan=False)
    return document, sentences(document)


@pytest.mark.parametrize("seed", range(3))
def test_right_among_wrong_has_earned_its_keep(seed: int) -> None:
    document, said = told(marks_of_law(seed, RIGHT))
    assert document["verdict"] == "earned"
    assert "so it has earned its keep" in said[0]
    assert "beat all" in said[0]
    for rival in document["baselines"].values():
        assert rival["log_score"] > document["log_score"]
        assert rival["brier"] > document["brier"]
        assert rival["crps"] > document["crps"]
    for level, held in document["coverage"].items():
        assert held == pytest.approx(int(level) / 100, abs=0.1)  # 150 lives, half of them seen to their end
    low, high = document["wear_outs_range"]
    assert low <= document["expected_wear_outs"] <= high


def test_wrong_among_right_has_not() -> None:
    document, said = told(marks_of_law(4, (1.5, 0.0, 1.5, 1.5)))
    assert document["verdict"] == "no"
    assert "were no better than those of the class band, so it has not earned its keep" in said[0]
    assert "less of a chance than the class band" in said[0]
    assert "Its chances were too high." in said[1]


def test_as_good_as_another_is_not_yet_enough() -> None:
    document, said = told(marks_of_law(5, (0.0, 1.5, 0.4, 1.5)))
    assert document["verdict"] == "not yet"
    assert "beat one pooled Weibull law by no more than luck with tools explains, so it has not yet earned its keep" in said[0]


@pytest.mark.parametrize(
    ("gaps", "expected"),
    [(((0.1, 0.05), (0.2, 0.01)), "earned"), (((0.1, 0.05), (0.2, -0.01)), "not yet"), (((0.1, 0.05), (-0.01, -0.1)), "no")],
)
def test_verdict(gaps: tuple[tuple[float, float], ...], expected: str) -> None:
    behind: dict[str, Average | None] = {str(i): Average(mean, low, 1.0) for i, (mean, low) in enumerate(gaps)}
    assert verdict(behind, 20.0) == expected
    assert verdict(behind, 4.0) == "too few"


def test_too_few_wear_outs_are_said_to_be_too_few() -> None:
    marks = marks_of_law(6, RIGHT)
    none = np.zeros_like(marks.run_worn)
    _, said = told(replace(marks, run_worn=none, run_stopped=none))
    assert said[0].endswith("met 0 wear-outs, too few to tell whether it has earned its keep.")


def test_a_day_on_which_the_gate_was_not_passed_is_named() -> None:
    marks = marks_of_law(7, RIGHT)
    _, said = told(replace(marks, gate=np.array([True, False])))
    assert any("On 2023-02-12 the calibration did not pass its gate" in sentence for sentence in said)


def test_nothing_asked_is_refused() -> None:
    marks = marks_of_law(8, RIGHT)
    nothing = {name: getattr(marks, name)[..., :0] for name in ("run_day", "run_tool", "run_chance", "run_worn")}
    with pytest.raises(Refusal, match="began a run"):
        report(replace(marks, **nothing))
