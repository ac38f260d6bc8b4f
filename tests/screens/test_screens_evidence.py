"""Evidence: a backtest that is kept, beliefs before and after, and whether the draws are sound."""

import datetime as dt
import json
from typing import Any

import pytest
from made_up_marks import marks_of_law
from opened import Open

from wearfit.calibration import Calibration, from_bytes
from wearfit.demo.shipped import shipped_calibration_bytes
from wearfit.evidence.report import report
from wearfit.store.backtests import BacktestEntry
from wearfit.store.store import Store
from wearfit.workflow.backtest_in_words import sentences
from wearfit.workflow.measure import measure
from wearfit.workflow.measure_in_words import by_urgency, shared_rows, summary


@pytest.fixture(scope="module")
def calibration() -> Calibration:
    return from_bytes(shipped_calibration_bytes())


def keep(store_url: str, fingerprint: str) -> dict[str, Any]:
    document = {"horizon_months": 12, "as_of": "2026-06-30", "fingerprint": fingerprint, **report(marks_of_law(1, (0.0, 1.5, 1.5, 1.5)))}
    with Store.open(store_url) as store:
        store.add_backtest(BacktestEntry(dt.date(2026, 6, 30), fingerprint, "1", json.dumps(document)))
    return document


def test_without_a_backtest_it_says_how_to_make_one(open_app: Open, own_demo_store: str) -> None:
    page = open_app(own_demo_store, "Evidence")
    assert not page.app.exception
    assert "Nobody has looked yet" in page.words
    assert "wearfit backtest" in page.words
    assert "Is the calibration sound?" in page.words


def test_the_kept_backtest_is_told_with_its_numbers(open_app: Open, own_demo_store: str, calibration: Calibration) -> None:
    document = keep(own_demo_store, calibration.identity.fingerprint)
    page = open_app(own_demo_store, "Evidence")
    assert not page.app.exception
    for sentence in sentences(document):
        assert sentence in page.words
    assert "The records have changed since" not in page.words
    curve, scores = (element.value for element in page.app.dataframe[:2])
    assert list(curve["Runs"]) == [group["n"] for group in document["calibration_curve"]]
    assert list(curve["Share that wore out"]) == pytest.approx([group["observed"] for group in document["calibration_curve"]])
    assert list(scores["Log score of a run"]) == pytest.approx(
        [document["log_score"], *(rival["log_score"] for rival in document["baselines"].values())]
    )


def test_a_backtest_of_other_records_says_so(open_app: Open, own_demo_store: str) -> None:
    keep(own_demo_store, "of other records")
    assert "The records have changed since" in open_app(own_demo_store, "Evidence").words


def test_beliefs_before_and_after_are_those_of_the_calibration(open_app: Open, own_demo_store: str, calibration: Calibration) -> None:
    page = open_app(own_demo_store, "Evidence")
    lives, factors, diagnostics = (element.value for element in page.app.dataframe[:3])
    assert list(lives["Class"]) == ["101", "102", "103", "104", "105"]
    assert (lives["after, low (5 %)"] < lives["after, likely"]).all()
    # The trade's bands: a cap of 500,000 for class 103, whose median the priors put at .8 of it.
    assert lives["before, likely"][2] == pytest.approx(400_000, rel=0.15)  # 500 draws of a spread near 1
    index = calibration.coefficient_index("slope.filler_soft")
    likely = float(sorted(calibration.draws.coefficient[:, index])[calibration.samples // 2])
    row = factors[factors["Measure"] == "filler against soft or pre-hardened steel"].iloc[0]
    assert row["after, likely"] == pytest.approx(2.718281828**likely, rel=0.01)
    assert diagnostics["Value"].iloc[0] == pytest.approx(calibration.identity.diagnostics["rhat_max"])
    assert "No draw went astray." in page.words


def test_what_to_measure_next_is_the_commands_answer(open_app: Open, own_demo_store: str) -> None:
    page = open_app(own_demo_store, "Evidence")
    document = measure(own_demo_store)
    assert not page.app.exception
    for sentence in summary(document):
        assert sentence in page.words
    (first,) = [element.value for element in page.app.dataframe if "Find out" in element.value]
    assert list(first["Tool"]) == [tool["tool_id"] for tool in by_urgency(document["tools"])[: len(first)]]
    (every,) = [element.value for element in page.app.dataframe if "Goes to" in element.value]
    assert len(every) == sum(len(tool["records"]) for tool in document["tools"])
    for record, _, _ in shared_rows(document):
        assert record in page.words
