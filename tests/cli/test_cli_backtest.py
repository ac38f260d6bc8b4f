"""What `wearfit backtest` prints, on a fleet where it is known who is right. The answer itself: tests/workflow."""

import io
from typing import Any

import pytest
from made_up_marks import marks_of_law
from rich.console import Console

from wearfit.cli.backtest import show_backtest
from wearfit.evidence.report import report
from wearfit.workflow.backtest_in_words import sentences


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    return {"horizon_months": 12, "as_of": "2024-06-30", **report(marks_of_law(1, (0.0, 1.5, 1.5, 1.5)))}


@pytest.mark.parametrize("width", [80, 160])
def test_scores_stand_beside_those_of_the_rivals(document: dict[str, Any], width: int) -> None:
    said = io.StringIO()
    show_backtest(Console(file=said, width=width), document)
    lines = said.getvalue().splitlines()
    assert max(len(line) for line in lines) <= width
    (row,) = (line for line in lines if line.strip().startswith("Log score of a run"))
    scores = [document["log_score"], *(rival["log_score"] for rival in document["baselines"].values())]
    assert row.split()[-4:] == [f"{score:.4f}" for score in scores]
    words = " ".join(said.getvalue().split())
    for sentence in sentences(document):
        assert " ".join(sentence.split()) in words
    table = words[words.index("Told chances against what happened") :]
    for group in document["calibration_curve"]:
        assert f" {group['n']} {group['n'] * group['forecast']:.1f} " in table


def test_a_group_outside_its_band_is_marked_by_more_than_colour(document: dict[str, Any]) -> None:
    group = {"forecast": 0.1, "observed": 0.5, "n": 100, "low": 0.05, "high": 0.15}
    said = io.StringIO()
    show_backtest(Console(file=said, width=120), {**document, "calibration_curve": [group]})
    assert "50 !" in said.getvalue()
