"""Evidence: a backtest that is kept, beliefs before and after, and whether the draws are sound."""

import datetime as dt
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from made_up_marks import marks_of_law
from opened import Open
from small_work import Shipped
from stores import make_store

from wearfit.calibration import Calibration, from_bytes
from wearfit.demo.shipped import scenario_folder, shipped_calibration_bytes
from wearfit.evidence.hangs_on_priors import prior_report
from wearfit.evidence.report import report
from wearfit.store.backtests import BacktestEntry
from wearfit.store.evidence import EvidenceEntry
from wearfit.store.store import Store
from wearfit.workflow.backtest_in_words import sentences
from wearfit.workflow.fit import fit
from wearfit.workflow.laws import LAW
from wearfit.workflow.laws_in_words import sentences as said_of_laws
from wearfit.workflow.measure import measure
from wearfit.workflow.measure_in_words import by_urgency, shared_rows, summary
from wearfit.workflow.moved import MOVED
from wearfit.workflow.moved_in_words import sentences as said_of_moved
from wearfit.workflow.planned import count_planned
from wearfit.workflow.wording import capital


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
        assert capital(record) in page.words


def test_the_fit_is_told_and_drawn(open_app: Open, demo_records_store: str) -> None:
    document = fit(demo_records_store)
    page = open_app(demo_records_store, "Evidence")
    assert not page.app.exception
    for sentence in document["sentences"]:
        assert sentence in page.words
    months = page.app.dataframe[0].value
    assert list(months["Part"])[:2] == ["January", "February"]
    assert list(months["Expected"]) == pytest.approx([c["expected"] for c in document["checks"] if c["by"] == "month"], abs=0.051)
    assert len(page.app.dataframe[1].value) == document["looked_at"]
    assert "wearfit fit --planned" in page.words


def test_what_hangs_on_planned_renewals_is_told_once_it_was_asked(open_app: Open, tmp_path: Path) -> None:
    store = make_store(tmp_path / "planned.db", records=scenario_folder(), calibrations=(True,))
    document = count_planned(store, Shipped())
    page = open_app(store, "Evidence")
    assert not page.app.exception
    for sentence in document["sentences"]:
        assert sentence in page.words


def test_what_moved_is_told_once_it_was_asked(open_app: Open, own_demo_store: str) -> None:
    assert "wearfit moved" in open_app(own_demo_store, "Evidence").words
    told = {
        "by": "quarter",
        "name": "2026 Q1",
        "wear_outs": 8,
        "khat": 0.4,
        "reliable": True,
        "kept": 0,
        "wear_outs_ahead": 12.1,
        "error": 0.1,
    }
    large = {**told, "name": "2026 Q2", "khat": 0.93, "reliable": False, "wear_outs_ahead": None, "error": None, "tools": []}
    tools = [{"tool_id": "T-030", "without": 941_000.0, "now": 672_000.0}]
    beliefs = prior_report(from_bytes(shipped_calibration_bytes()))
    document = {"wear_outs_ahead": 13.5, "batches": [{**told, "tools": tools}, large], "beliefs": beliefs}
    with Store.open(own_demo_store) as store:
        store.add_evidence(EvidenceEntry(MOVED, 1, json.dumps(document)))
    page = open_app(own_demo_store, "Evidence")
    assert not page.app.exception
    for sentence in said_of_moved(document):
        assert sentence in page.words
    assert "Too large an effect to be drawn: 2026 Q2" in page.words
    batches, believed = (element.value for element in page.app.dataframe[:2])
    assert list(batches["Which"]) == ["2026 Q1", "2026 Q2"]
    assert len(believed) == len(beliefs["priors"])


def test_which_law_is_told_once_it_was_asked(open_app: Open, own_demo_store: str) -> None:
    assert "wearfit law" in open_app(own_demo_store, "Evidence").words
    laws = [
        {
            "law": name,
            "elpd": elpd,
            "difference": elpd + 690.0,
            "error": 1.5,
            "weight": weight,
            "repaired": n,
            "together": 1,
            "passed": True,
        }
        for name, elpd, weight, n in (("weibull", -691.04, 0.4, 0), ("log-logistic", -690.0, 0.41, 2), ("lognormal", -692.0, 0.19, 0))
    ]
    document = {"lives": 195, "left_out": 0, "laws": laws, "best": "log-logistic", "chosen": "stacked", "wear_law": "weibull"}
    document |= {"forecasts": [{"law": "lognormal", "likely": 0.9, "late": 1.2, "tools": []}]}
    document["sentences"] = said_of_laws(document)
    with Store.open(own_demo_store) as store:
        store.add_evidence(EvidenceEntry(LAW, 1, json.dumps(document)))
    page = open_app(own_demo_store, "Evidence")
    assert not page.app.exception
    for sentence in document["sentences"]:
        assert sentence.replace("`", "") in page.words
    assert "<code>wearfit recalibrate --law stacked</code>" in page.html
    shown = next(element.value for element in page.app.dataframe if "Lives left out" in element.value)
    assert list(shown["Law"]) == ["Weibull", "log-logistic", "lognormal"]
    assert list(shown["Weight (%)"]) == [40, 41, 19]
    assert list(shown["Lives left out"]) == ["all by weights", "2 sampled anew", "all by weights"]


def test_the_searches_lie_side_by_side_once_they_are_opened(open_app: Open, own_demo_store: str, calibration: Calibration) -> None:
    page = open_app(own_demo_store, "Evidence")
    assert "Searches that agree" not in page.words
    page.app.session_state["searches"] = True
    page.run()
    assert not page.app.exception
    assert "Searches that agree lie one above the other." in page.words
    searched = next(element.value for element in page.app.dataframe if "search 1, middle" in element.value)
    middles = searched.to_numpy()[:, 1:].astype(float)
    assert (np.diff(np.ptp(middles, axis=1)) <= 2e-3).all()  # those that differ most come first
    every = np.concatenate([calibration.draws.coefficient, calibration.draws.share, calibration.draws.scale], axis=1).astype(float)
    every = every[:, every.std(axis=0) > 1e-9]
    of_search = np.median(every.reshape(4, -1, every.shape[1]), axis=1)
    assert np.ptp(middles[0]) == pytest.approx((np.ptp(of_search, axis=0) / every.std(axis=0)).max(), abs=2e-3)
    # Ranges told by 2,000 draws, of which no search has the middle elsewhere by half a standard deviation.
    assert np.abs(middles).max() < 0.5
