"""Which calibration answers, and for which day."""

import datetime as dt
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from wearfit.calibration import Calibration, to_bytes
from wearfit.errors import Refusal
from wearfit.store.calibrations import CalibrationSummary
from wearfit.store.store import Store
from wearfit.workflow import answers
from wearfit.workflow.questions import question_of


@pytest.fixture(scope="module")
def own_day(demo_calibration: Calibration) -> dt.date:
    return dt.date.fromisoformat(demo_calibration.identity.as_of)


def summary_of(calibration: Calibration) -> CalibrationSummary:
    i = calibration.identity
    day = dt.date.fromisoformat(i.as_of)
    return CalibrationSummary(day, i.fingerprint, True, (), i.lives, i.wear_outs, i.seed, i.model_version, i.format_version)


@pytest.fixture(scope="module")
def store_url(demo_calibration: Calibration, tmp_path_factory: pytest.TempPathFactory) -> str:
    """A store with two calibrations, of which the newer one, of another seed's name, is current."""
    url = str(tmp_path_factory.mktemp("answers") / "wearfit.db")
    newer = replace(demo_calibration, identity=replace(demo_calibration.identity, fingerprint="f" * 64))
    with Store.open(url) as store:
        for calibration in (demo_calibration, newer):
            store.add_calibration(to_bytes(calibration), summary_of(calibration), make_current=True)
    return url


def test_the_current_calibration_answers_for_its_own_day(store_url: str, own_day: dt.date):
    with Store.open(store_url) as store:
        current = answers.read_current(store, None)
    document = current.document({"tools": []})
    assert document == {"as_of": str(own_day), "calibration": 2, "fingerprint": "f" * 64, "tools": []}


def test_one_that_was_gone_back_to_answers_again(store_url: str, demo_calibration: Calibration):
    with Store.open(store_url) as store:
        store.use(1)
        assert answers.read_current(store, None).calibration.identity.fingerprint == demo_calibration.identity.fingerprint
        store.use(2)


def test_an_earlier_day_would_know_the_future(store_url: str, own_day: dt.date):
    for ask in (answers.forecast, answers.plants):
        with pytest.raises(Refusal, match="would know the future") as refused:
            ask(store_url, own_day - dt.timedelta(days=1))
        assert refused.value.status == 1
    with pytest.raises(Refusal, match="would know the future"):
        answers.next_run(store_url, [], own_day - dt.timedelta(days=1))


def shots_made(tool: dict[str, Any]) -> float:
    """Of the life under way; the median where the shots before the records are reckoned."""
    shots = tool["shots_this_life"]
    return float(shots["p50"] if isinstance(shots, dict) else shots)


def test_a_later_day_is_carried_into_every_answer(store_url: str, own_day: dt.date):
    later = own_day + dt.timedelta(days=200)
    with_later = answers.forecast(store_url, later)
    assert with_later["as_of"] == str(later)
    assert answers.plants(store_url, later)["as_of"] == str(later)
    now = {tool["tool_id"]: tool for tool in answers.forecast(store_url)["tools"]}
    moved = [tool for tool in with_later["tools"] if tool["status"] == "running" and tool["remaining_shots"]["p50"] is not None]
    assert moved
    # What is left at a later day, had none worn out meanwhile, is not more at the far end.
    assert all(shots_made(tool) > shots_made(now[tool["tool_id"]]) for tool in moved)
    assert all(day is None or day >= str(later) for tool in moved for day in tool["wear_out_on"].values())


def test_every_answer_can_be_written_as_json(store_url: str):
    for document in (answers.forecast(store_url), answers.plants(store_url)):
        assert {"as_of", "calibration", "fingerprint"} <= document.keys()
        json.dumps(document, allow_nan=False)


def test_the_tools_asked_for_and_no_others(store_url: str):
    fleet = [tool["tool_id"] for tool in answers.forecast(store_url)["tools"]]
    assert [tool["tool_id"] for tool in answers.forecast(store_url, tools=fleet[3:5])["tools"]] == fleet[3:5]
    with pytest.raises(Refusal, match="nowhere-1") as refused:
        answers.forecast(store_url, tools=["nowhere-1"])
    assert refused.value.status == 1


def test_rows_that_ask_nothing_are_answered_in_their_place(store_url: str, demo_calibration: Calibration):
    levels, live = demo_calibration.levels, demo_calibration.live
    good = {
        "tool_id": str(levels.tool[live.tool[0]]), "plant_id": str(levels.plant[0]), "resin_id": str(levels.resin[0]),
        "month": demo_calibration.identity.as_of[:7], "shots": "1000",
    }  # fmt: skip
    questions = [question_of(good), question_of(good | {"shots": "many"}), question_of(good | {"tool_id": "nowhere-1"}), question_of(good)]
    document, answered = answers.next_run(store_url, questions)
    runs = document["runs"]
    assert answered
    assert [bool(run["problem"]) for run in runs] == [False, True, True, False]
    assert runs[0] == runs[3]
    assert 0.0 <= runs[0]["p_wear_out"] <= runs[0]["p_any_stop"] <= 1.0
    assert set(runs[1]) <= set(runs[0])
    assert "many" in runs[1]["problem"]
    json.dumps(document, allow_nan=False)


def test_where_no_row_can_be_answered_that_is_said(store_url: str):
    document, answered = answers.next_run(store_url, [question_of({"tool_id": "T1"})])
    assert not answered
    assert document["runs"][0]["problem"]


def test_a_store_without_a_calibration_says_what_to_do(tmp_path: Path):
    url = str(tmp_path / "empty.db")
    Store.open(url).close()
    with pytest.raises(Refusal, match="wearfit recalibrate") as refused:
        answers.forecast(url)
    assert refused.value.status == 1
