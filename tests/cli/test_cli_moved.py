"""What `wearfit moved` prints. The answer itself: tests/evidence and tests/workflow."""

import io
from typing import Any

import pytest
from rich.console import Console
from run_command import Run

from wearfit.calibration import from_bytes
from wearfit.cli.moved import show_moved
from wearfit.demo.shipped import shipped_calibration_bytes
from wearfit.evidence.hangs_on_priors import prior_report
from wearfit.workflow.moved_in_words import sentences


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    told = {"by": "year", "name": "2024", "wear_outs": 8, "khat": 0.4, "reliable": True, "kept": 0, "wear_outs_ahead": 12.1, "error": 0.1}
    large = {**told, "name": "2025", "khat": 0.93, "reliable": False, "wear_outs_ahead": None, "error": None}
    batches = [
        {**told, "tools": []},
        {**large, "tools": []},
        {**large, "by": "upload", "name": "1 Mar 2026 (moulds 2026.xlsx)", "tools": []},
    ]
    beliefs = prior_report(from_bytes(shipped_calibration_bytes()))
    answer = {"as_of": "2026-06-30", "calibration": 1, "wear_outs_ahead": 13.5, "batches": batches, "beliefs": beliefs}
    return {**answer, "sentences": sentences(answer)}


@pytest.mark.parametrize("width", [80, 160])
def test_sentences_batches_and_beliefs_are_printed(document: dict[str, Any], width: int) -> None:
    said = io.StringIO()
    show_moved(Console(file=said, width=width), document)
    assert max(len(line) for line in said.getvalue().splitlines()) <= width
    words = " ".join(said.getvalue().split())
    for sentence in document["sentences"]:
        assert " ".join(sentence.split()) in words
    assert "Year 2024 8 12.1 0.40 2025 8 too large 0.93" in words
    assert f"{len(document['beliefs']['priors']) - 10} more beliefs" in words


def test_without_records_it_says_what_to_do(wearfit: Run, demo_store: str) -> None:
    said = wearfit("moved", "--store", demo_store)
    assert said.status == 1 and "holds no records" in said.err
