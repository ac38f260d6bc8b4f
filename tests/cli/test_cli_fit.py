"""What `wearfit fit` prints. The answer itself: tests/evidence and tests/workflow."""

import io
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console
from run_command import Run
from stores import make_store

from wearfit.cli.fit import show_fit
from wearfit.demo.shipped import scenario_folder
from wearfit.workflow.fit import fit


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> str:
    return make_store(tmp_path_factory.mktemp("fit") / "fit.db", records=scenario_folder(), calibrations=(True,))


@pytest.fixture(scope="module")
def document(store: str) -> dict[str, Any]:
    return fit(store)


def shown(document: dict[str, Any], width: int, every: bool = False) -> str:
    said = io.StringIO()
    show_fit(Console(file=said, width=width), document, every)
    assert max(len(line) for line in said.getvalue().splitlines()) <= width
    return said.getvalue()


@pytest.mark.parametrize("width", [80, 160])
def test_sentences_and_parts_are_printed(document: dict[str, Any], width: int) -> None:
    words = " ".join(shown(document, width).split())
    for sentence in document["sentences"]:
        assert " ".join(sentence.split()) in words
    plants = [c for c in document["checks"] if c["by"] == "plant"]
    for c in plants:
        assert f"{c['name']} {f'{c["observed"]:.1f}'.removesuffix('.0')} {c['expected']:.1f}" in words
    assert "cavities" not in words.lower() and "wearfit fit --planned" in words
    assert "Cavities" in shown(document, width, every=True)


def test_what_stands_out_is_marked_by_more_than_colour(document: dict[str, Any]) -> None:
    odd = {**document["checks"][1], "by": "maker", "name": "maker-01", "observed": 9.0, "told": True}
    assert "9 !" in shown({**document, "checks": [document["checks"][0], odd]}, 80)


def test_json_is_one_document(wearfit: Run, store: str) -> None:
    said = wearfit("fit", "--json", "--store", store)
    assert said.status == 0
    assert {"as_of", "calibration", "fingerprint", "checks", "curves", "sentences", "planned"} <= set(said.document)


def test_without_records_it_says_what_to_do(wearfit: Run, demo_store: str, tmp_path: Path) -> None:
    said = wearfit("fit", "--store", demo_store)
    assert said.status == 1 and "holds no records" in said.err
