"""A backtest end to end on a small simulated fleet; one model is compiled for all of it."""

import json
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wearfit.demo.scenario import RESINS, SITES
from wearfit.demo.settings import Fleet
from wearfit.demo.simulate import simulate_fleet
from wearfit.demo.tables import write_tables
from wearfit.errors import Refusal
from wearfit.evidence import report as of_scores
from wearfit.evidence.backtest import FORECASTERS, Marks
from wearfit.evidence.baselines import BASELINES
from wearfit.evidence.report import report
from wearfit.records.choices import Choices
from wearfit.records.readers.read import read
from wearfit.store.store import Store
from wearfit.workflow.backtest import BacktestOrder, backtest, kept_backtest
from wearfit.workflow.progress import Progress
from wearfit.workflow.ways import Processes

FLEET = Fleet(sites=SITES[:4], resins=RESINS[:4], n_tools=60, n_designs=20, n_makers=5, seed=11, years=8, unknown_entry_share=0.1)


@dataclass(frozen=True)
class Ran:
    """A backtest with what it was scored from and what it said on the way."""

    store_url: str
    document: dict[str, Any]
    marks: Marks
    told: list[Progress]


@pytest.fixture(scope="module")
def store_url(tmp_path_factory: pytest.TempPathFactory) -> str:
    folder: Path = tmp_path_factory.mktemp("fleet")
    write_tables(simulate_fleet(FLEET).tables, folder)
    url = str(folder / "store.db")
    with Store.open(url) as store:
        store.add_uploads([read(folder)], Choices())
    return url


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("backtest") / "results"


@pytest.fixture(scope="module")
def ran(store_url: str, results: Path) -> Ran:
    scored: list[Marks] = []
    told: list[Progress] = []

    def listen(marks: Marks) -> dict[str, Any]:
        scored.append(marks)
        return report(marks)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(of_scores, "report", listen)
        document = backtest(store_url, BacktestOrder(number=2), Processes(1), results, told.append)
    return Ran(store_url, document, scored[0], told)


def test_the_answer_has_the_keys_that_are_fixed(ran: Ran) -> None:
    document = ran.document
    json.dumps(document, allow_nan=False)
    assert {"as_of", "calibration", "fingerprint", "cutoffs", "n", "log_score", "brier", "crps", "coverage"} <= document.keys()
    assert document["calibration"] is None
    assert document["coverage"].keys() == {"50", "80", "90"}
    assert 0.0 <= document["coverage"]["50"] <= document["coverage"]["80"] <= document["coverage"]["90"] <= 1.0
    assert tuple(document["baselines"]) == BASELINES
    assert all({"log_score", "brier"} <= rival.keys() for rival in document["baselines"].values())
    assert all({"forecast", "observed", "n"} <= group.keys() for group in document["calibration_curve"])
    assert sum(group["n"] for group in document["calibration_curve"]) == document["n"]
    assert sum(day["n"] for day in document["by_cutoff"]) == document["n"] == len(ran.marks.run_worn)


def test_days_lie_in_the_history_in_order(ran: Ran) -> None:
    first, last = ran.document["cutoffs"]
    assert first < last < ran.document["as_of"]
    known = [day["wear_outs_known"] for day in ran.document["by_cutoff"]]
    assert 10 <= known[0] < known[1]


def test_progress_says_which_day_it_is_at(ran: Ran) -> None:
    parts = list(dict.fromkeys(progress.part for progress in ran.told if progress.stage != "jobs"))
    assert [progress.part for progress in ran.told if progress.stage == "jobs"] == ["0 of 2", "1 of 2", "2 of 2"]
    assert parts == ["", *(f"past day {i + 1} of 2 ({day})" for i, day in enumerate(ran.document["cutoffs"]))]
    assert sum(progress.stage == "compile" for progress in ran.told) == 1


def test_a_second_time_nothing_is_refitted_and_the_answer_is_the_same(ran: Ran, results: Path) -> None:
    files = {path: path.stat().st_mtime_ns for path in results.iterdir()}
    told: list[Progress] = []
    again = backtest(ran.store_url, BacktestOrder(number=2), Processes(2), results, told.append)
    assert again == ran.document
    assert [progress.part for progress in told if progress.stage == "jobs"] == ["2 of 2"]
    assert {path: path.stat().st_mtime_ns for path in results.iterdir()} == files
    assert len(files) == 2


def test_every_forecast_is_a_chance_and_grows_with_the_shots(ran: Ran) -> None:
    marks = ran.marks
    assert marks.run_chance.shape == (len(FORECASTERS), len(marks.run_worn))
    assert ((marks.run_chance > 0.0) & (marks.run_chance < 1.0)).all()
    assert (marks.stop_chance >= marks.run_chance[0]).all()
    assert (marks.run_stopped >= marks.run_worn).all()
    assert marks.life_curve.min() == 0.0
    assert marks.life_curve.max() <= 1.0
    assert (np.diff(marks.life_curve, axis=2) >= -1e-12).all()
    assert (marks.life_by_low <= marks.life_by_high).all()


def test_outcomes_dealt_out_anew_score_worse(ran: Ran) -> None:
    """With forecasts that tell runs apart no deal of the same wear-outs over them does as well as the true one."""
    rng = np.random.default_rng(1)
    dealt = [report(replace(ran.marks, run_worn=rng.permutation(ran.marks.run_worn)))["log_score"] for _ in range(20)]
    assert min(dealt) > ran.document["log_score"]
    order = rng.permutation(len(ran.marks.life_worn))
    lives = {name: getattr(ran.marks, name)[order] for name in ("life_low", "life_high", "life_worn")}
    assert report(replace(ran.marks, **lives))["crps"] > ran.document["crps"]


def test_the_answer_is_kept(ran: Ran) -> None:
    kept = kept_backtest(ran.store_url)
    assert kept is not None
    assert kept.pop("made_at")
    assert kept == json.loads(json.dumps(ran.document))


def test_a_store_without_one_has_none(tmp_path: Path) -> None:
    url = str(tmp_path / "empty.db")
    Store.open(url).close()
    assert kept_backtest(url) is None


@pytest.mark.parametrize(
    ("order", "said"),
    [
        (BacktestOrder(days=(FLEET.as_of,)), "nothing is known of what came after"),
        (BacktestOrder(number=1000), "were asked for"),
        (BacktestOrder(horizon_months=120), "No past day"),
    ],
    ids=["at the end", "too many", "too far"],
)
def test_days_without_a_past_or_a_future_are_refused(store_url: str, order: BacktestOrder, said: str) -> None:
    with pytest.raises(Refusal, match=said):
        backtest(store_url, order, Processes(1))


def test_an_empty_store_is_refused(tmp_path: Path) -> None:
    url = str(tmp_path / "empty.db")
    Store.open(url).close()
    with pytest.raises(Refusal, match="no records yet"):
        backtest(url, BacktestOrder(), Processes(1))
