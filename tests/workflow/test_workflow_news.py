"""Readings newer than the calibration: of the store, and of a file named with the question."""

import datetime as dt
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wearfit.calibration import Calibration, to_bytes
from wearfit.demo.shipped import scenario_folder
from wearfit.records.readers.read import read
from wearfit.store.calibrations import CalibrationSummary
from wearfit.store.store import Store
from wearfit.workflow import answers
from wearfit.workflow.choose import choose
from wearfit.workflow.plan import plan
from wearfit.workflow.questions import question_of
from wearfit.workflow.subjects import Asked

HEADER = "tool_id,date,feature,value,limit,new_value,resolution\n"
DAY = dt.timedelta(days=1)


@pytest.fixture
def store_url(demo_calibration: Calibration, tmp_path: Path) -> str:
    """The demo's records, and the calibration that was made of them."""
    url, i = str(tmp_path / "wearfit.db"), demo_calibration.identity
    summary = CalibrationSummary(
        dt.date.fromisoformat(i.as_of), i.fingerprint, True, (), i.lives, i.wear_outs, i.seed, i.model_version, i.format_version
    )
    with Store.open(url) as store:
        store.add_upload(read(scenario_folder()))
        store.add_calibration(to_bytes(demo_calibration), summary, make_current=True)
    return url


@pytest.fixture
def own_day(demo_calibration: Calibration) -> dt.date:
    return dt.date.fromisoformat(demo_calibration.identity.as_of)


@pytest.fixture
def read_tool(demo_calibration: Calibration) -> str:
    """A running tool with readings."""
    live = demo_calibration.live
    row = next(int(r) for r in demo_calibration.reads.live if live.status[r] == "running")
    return str(demo_calibration.levels.tool[live.tool[row]])


@pytest.fixture
def unread_tool(demo_calibration: Calibration) -> str:
    """A running tool without a reading that is half way through its life."""
    live, spent = demo_calibration.live, np.median(demo_calibration.draws.wear_spent, axis=0)
    running = np.setdiff1d(np.flatnonzero((live.status == "running") & (spent > 0)), demo_calibration.reads.live)
    share = spent[running] / np.median(demo_calibration.draws.characteristic_life, axis=0)[running]
    return str(demo_calibration.levels.tool[live.tool[running[np.argmin(np.abs(share - 0.5))]]])


def csv(folder: Path, name: str, text: str) -> Path:
    folder.mkdir(exist_ok=True)
    path = folder / f"{name}.csv"
    path.write_text(text, encoding="utf-8")
    return path


def upload(store_url: str, folder: Path, **tables: str) -> None:
    for name, text in tables.items():
        csv(folder, name, text)
    with Store.open(store_url) as store:
        store.add_upload(read(folder))


def of_tool(document: dict[str, Any], tool: str) -> dict[str, Any]:
    return next(answer for answer in document["tools"] if answer["tool_id"] == tool)


def likely(answer: dict[str, Any]) -> float:
    return float(answer["remaining_shots"]["p50"])


def latest_reading(tool: str) -> dict[str, str]:
    header, *rows = (scenario_folder() / "readings.csv").read_text(encoding="utf-8").splitlines()
    return max((dict(zip(header.split(","), row.split(","), strict=True)) for row in rows if row.startswith(tool)), key=lambda r: r["date"])


def test_what_the_calibration_was_made_of_counts_once(store_url: str):
    tools = answers.forecast(store_url)["tools"]
    assert all((tool["readings_since"], tool["readings_note"]) == (0, None) for tool in tools)


def test_a_stored_reading_counts_from_its_own_day_on(store_url: str, own_day: dt.date, unread_tool: str, tmp_path: Path):
    later, before = own_day + 10 * DAY, of_tool(answers.forecast(store_url, own_day + 10 * DAY), unread_tool)
    upload(store_url, tmp_path / "new", readings=f"{HEADER}{unread_tool},{later},flash_mm,0.125,0.13,0,0.01\n")
    early = answers.forecast(store_url, later - DAY)
    assert of_tool(early, unread_tool)["readings_since"] == 0
    assert early["readings_later"] == {"count": 1, "latest_on": str(later)}
    assert answers.forecast(store_url, later)["readings_later"] is None
    after = of_tool(answers.forecast(store_url, later), unread_tool)
    assert after["readings_since"] == 1
    assert likely(after) < 0.9 * likely(before)
    assert after["wear_out_on"]["p50"] < before["wear_out_on"]["p50"]
    assert after["life_used"]["p50"] > before["life_used"]["p50"]
    assert of_tool(answers.forecast(store_url, later, tools=[unread_tool]), unread_tool) == after


def test_the_next_run_follows(store_url: str, own_day: dt.date, unread_tool: str, demo_calibration: Calibration, tmp_path: Path):
    asked = {
        "tool_id": unread_tool, "plant_id": str(demo_calibration.levels.plant[0]), "resin_id": str(demo_calibration.levels.resin[0]),
        "month": f"{own_day:%Y-%m}", "shots": "20000",
    }  # fmt: skip
    given = csv(tmp_path, "given", f"{HEADER}{unread_tool},{own_day},flash_mm,0.125,0.13,0,0.01\n")
    (before,), (after,) = (answers.next_run(store_url, [question_of(asked)], readings=path)[0]["runs"] for path in (None, given))
    assert (before["readings_since"], after["readings_since"]) == (0, 1)
    assert after["p_wear_out"] > before["p_wear_out"]
    assert after["largest_run_at_risk"]["0.10"] < before["largest_run_at_risk"]["0.10"]


def test_a_file_says_what_the_store_would(store_url: str, own_day: dt.date, unread_tool: str, tmp_path: Path):
    rows = f"{HEADER}{unread_tool},{own_day - 40 * DAY},flash_mm,0.1,0.13,0,0.01\n{unread_tool},{own_day},flash_mm,<0.02,0.13,,\n"
    given = answers.forecast(store_url, readings=csv(tmp_path, "given", rows))
    assert given.pop("readings_given") == {"rows": 2, "problems": []}
    assert of_tool(given, unread_tool)["readings_since"] == 2
    upload(store_url, tmp_path / "new", readings=rows)
    assert answers.forecast(store_url) == given


def test_a_reading_put_right_takes_the_place_of_the_old_one(store_url: str, read_tool: str, tmp_path: Path):
    row = latest_reading(read_tool)
    before = of_tool(answers.forecast(store_url), read_tool)
    limit, new = float(row["limit"]), float(row["new_value"])
    row["value"] = f"{new + 0.97 * (limit - new):.4f}"
    upload(store_url, tmp_path / "new", readings=HEADER + ",".join(row[name] for name in HEADER.strip().split(",")) + "\n")
    after = of_tool(answers.forecast(store_url), read_tool)
    assert after["readings_since"] == 1
    assert likely(after) != pytest.approx(likely(before), rel=0.01)
    # Put back it says what the calibration saw.
    upload(store_url, tmp_path / "old", readings=(scenario_folder() / "readings.csv").read_text(encoding="utf-8"))
    assert of_tool(answers.forecast(store_url), read_tool) == before


@pytest.mark.parametrize("days_after", [-20, 5])
def test_after_a_retool_that_the_calibration_does_not_know_its_readings_wait(
    days_after: int, store_url: str, own_day: dt.date, read_tool: str, tmp_path: Path
):
    later = own_day + 10 * DAY
    before = of_tool(answers.forecast(store_url, later), read_tool)
    upload(
        store_url, tmp_path / "new", readings=f"{HEADER}{read_tool},{later},flash_mm,0.01,0.13,0,0.01\n",
        events=f"tool_id,date,event,cause\n{read_tool},{own_day + days_after * DAY},retool,planned\n",
    )  # fmt: skip
    after = of_tool(answers.forecast(store_url, later), read_tool)
    assert "recalibrate first" in after["readings_note"]
    assert after["readings_since"] == 0
    assert after["remaining_shots"] == before["remaining_shots"]


def test_rows_that_cannot_be_counted_say_why(store_url: str, own_day: dt.date, unread_tool: str, tmp_path: Path):
    rows = (
        f"{unread_tool},{own_day},flash_mm,much,0.13,0,\n"
        f"{unread_tool},{own_day},flash_mm,0.1,,0,\n"
        f"nowhere-1,{own_day},flash_mm,0.1,0.13,0,\n"
        f"{unread_tool},{own_day + DAY},flash_mm,0.1,0.13,0,\n"
        f"{unread_tool},1999-01-01,flash_mm,0.1,0.13,0,\n"
        f"{unread_tool},{own_day},flash_mm,0.1,0.13,0.13,\n"
        f" {unread_tool.lower()} ,{own_day},flash_mm,0.1,0.13,0,\n"
    )
    document = answers.forecast(store_url, readings=csv(tmp_path, "given", HEADER + "\n" + rows))
    problems = document["readings_given"]["problems"]
    assert [problem["row"] for problem in problems] == [3, 4, 5, 6, 7, 8]
    for problem, words in zip(problems, ("much", "limit is blank", "nowhere-1", "--as-of", "begin on", "new_value"), strict=True):
        assert words in problem["problem"]
    assert of_tool(document, unread_tool)["readings_since"] == 1


def test_nothing_of_a_file_is_stored(store_url: str, own_day: dt.date, unread_tool: str, tmp_path: Path):
    before = answers.forecast(store_url)
    answers.forecast(store_url, readings=csv(tmp_path, "given", f"{HEADER}{unread_tool},{own_day},flash_mm,0.1,0.13,0,0.01\n"))
    assert answers.forecast(store_url) == before


def test_choices_and_the_plan_follow(store_url: str, own_day: dt.date, unread_tool: str, tmp_path: Path):
    """A tool found all but worn is replaced at more of a cost than before, and its design is renewed sooner."""
    given = {"replacement_cost": 40_000.0}

    def asked() -> tuple[dict[str, Any], dict[str, Any]]:
        return choose(store_url, "replace", Asked(tool=unread_tool), given), plan(store_url, months=6)[0]

    choice, planned = asked()
    assert (choice["readings_since"], planned["readings_since"]) == (0, 0)
    upload(store_url, tmp_path / "new", readings=f"{HEADER}{unread_tool},{own_day},flash_mm,0.125,0.13,0,0.01\n")
    after, planned_after = asked()
    assert (after["readings_since"], planned_after["readings_since"]) == (1, 1)
    assert any("since the calibration" in note for note in after["notes"])
    assert min(a["expected_cost"] for a in after["actions"]) > min(a["expected_cost"] for a in choice["actions"])
    renewals = [{d["design_id"]: d["expected_renewals"] for d in document["designs"]} for document in (planned, planned_after)]
    moved = {design: renewals[1][design] - renewals[0][design] for design in renewals[0]}
    (most,) = [design for design, more in moved.items() if more == max(moved.values())]
    assert moved.pop(most) > 0.1
    assert all(more == pytest.approx(0.0, abs=1e-9) for more in moved.values())
