"""What `wearfit law` prints, and what `recalibrate --law` refuses."""

import io

import pytest
from rich.console import Console
from run_command import Run

from wearfit.cli.law import show_law
from wearfit.workflow.laws_in_words import sentences

LAWS = [
    {"law": name, "elpd": elpd, "difference": elpd + 690.0, "error": 1.5, "weight": weight, "repaired": 0, "together": 0, "passed": True}
    for name, elpd, weight in (("weibull", -691.0, 0.4), ("log-logistic", -690.0, 0.4), ("lognormal", -692.0, 0.2))
]


@pytest.mark.parametrize("width", [80, 160])
def test_the_choice_and_a_row_for_each_law_are_printed(width: int) -> None:
    document = {"as_of": "2026-06-30", "calibration": 1, "lives": 195, "left_out": 0, "laws": LAWS, "best": "log-logistic"}
    document |= {"chosen": "stacked", "wear_law": "weibull", "forecasts": []}
    document["sentences"] = sentences(document)
    said = io.StringIO()
    show_law(Console(file=said, width=width), document)
    assert max(len(line) for line in said.getvalue().splitlines()) <= width
    words = " ".join(said.getvalue().split())
    assert "No law is clearly the best" in words
    assert "Weibull -691.0 -1.0 1.5 40 % all by weights" in words


def test_without_records_it_says_what_to_do(wearfit: Run, demo_store: str) -> None:
    said = wearfit("law", "--store", demo_store)
    assert said.status == 1 and "holds no records" in said.err


def test_a_law_that_there_is_not_is_wrong_use(wearfit: Run, demo_store: str) -> None:
    said = wearfit("recalibrate", "--law", "gamma", "--store", demo_store)
    assert said.status == 2 and "'gamma' is no law" in said.err
