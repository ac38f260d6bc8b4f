"""`wearfit plan` on the demo's saved calibration: the answer as the interface has it, and a plan in a file."""

import math
from pathlib import Path
from typing import Any

import pytest
from run_command import Run

from wearfit.calibration import Calibration

QUANTILES = ["p05", "p10", "p25", "p50", "p75", "p90", "p95"]


def numbers(value: Any) -> list[float]:
    if isinstance(value, dict):
        return [n for inner in value.values() for n in numbers(inner)]
    if isinstance(value, list):
        return [n for inner in value for n in numbers(inner)]
    return [value] if isinstance(value, int | float) else []


@pytest.fixture(scope="module")
def kept() -> dict[str, Any]:
    return {}


def answer(wearfit: Run, demo_store: str, kept: dict[str, Any]) -> dict[str, Any]:
    if not kept:
        said = wearfit("plan", "--store", demo_store, "--json")
        assert said.status == 0
        kept |= said.document
    return kept


def test_on_a_narrow_screen_it_says_what_the_tools_under_the_spend_are(wearfit: Run, demo_store: str, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("COLUMNS", "80")
    out = wearfit("plan", "--store", demo_store).out
    assert "Tools behind it, the costliest first:\n2026-Q3: T-" in out
    assert max(map(len, out.splitlines())) <= 80


def test_the_document_is_as_the_interface_has_it(wearfit: Run, demo_store: str, demo_calibration: Calibration, kept: dict[str, Any]):
    document = answer(wearfit, demo_store, kept)
    assert document["as_of"] == demo_calibration.identity.as_of
    assert document["fingerprint"] == demo_calibration.identity.fingerprint
    assert document["months"] == 12
    assert len(document["shortage"]) == 12
    assert document["shortage"][0]["month"] == document["first_month"] == "2026-07"
    assert [s["quarter"] for s in document["spend"]] == ["2026-Q3", "2026-Q4", "2027-Q1", "2027-Q2"]
    live = {str(demo_calibration.levels.tool[t]) for t in demo_calibration.live.tool}
    assert {t for d in document["designs"] for t in d["tools"]} == live
    for design in document["designs"]:
        assert list(design["renewals"]) == QUANTILES
        assert 0.0 <= design["p_shortage"] <= 1.0
        assert sum(design["p_renewals"]) == pytest.approx(1.0)
        assert design["shots_asked"] >= design["shots_short"] >= -1e-6
    for spend in document["spend"]:
        assert list(spend["cost"]) == QUANTILES
        q = list(spend["cost"].values())
        assert q == sorted(q)
        assert spend["range_95"][0] <= spend["range_80"][0] <= spend["cost"]["p50"] <= spend["range_80"][1] <= spend["range_95"][1]
        assert set(spend["tools"]) <= live
    for order in document["orders"]:
        assert "2026-06-30" <= order["order_by"] <= "2027-06-30"
        assert order["reason"]
    for advised in document["copies_advised"]:
        assert advised["copies"] > advised["copies_now"]
    assert all(math.isfinite(n) for n in numbers(document))


def test_no_held_tool_is_ordered_for(wearfit: Run, demo_store: str, demo_calibration: Calibration, kept: dict[str, Any]):
    live, levels = demo_calibration.live, demo_calibration.levels
    held = {str(levels.tool[live.tool[i]]) for i in range(len(live.tool)) if live.status[i] == "held"}
    assert held
    assert not held & {order["tool_id"] for order in answer(wearfit, demo_store, kept)["orders"]}


def test_a_plan_in_a_file_takes_the_place_of_the_one_on_record(wearfit: Run, demo_store: str, tmp_path: Path):
    (tmp_path / "plan.csv").write_text(
        "Month;Tool ID;shots\n".replace(";", ",") + "2026-08,T-049,90000\n2026-09,T-049,many\n2026-09,T-999,100\n2026-10,,100\n",
        encoding="utf-8",
    )
    said = wearfit("plan", "plan.csv", "--store", demo_store, "--json")
    assert said.status == 0
    assert said.document["months"] == 2
    assert [p["row"] for p in said.document["problems"]] == [3, 4, 5]
    assert all(p["problem"].endswith(".") for p in said.document["problems"])
    shown = wearfit("plan", "plan.csv", "--store", demo_store)
    assert "Row 4 of the plan is left out: Tool T-999 is not in the records." in shown.out


def test_a_file_without_one_good_row_gives_status_1(wearfit: Run, demo_store: str, tmp_path: Path):
    (tmp_path / "plan.csv").write_text("month,tool_id,shots\n2026-08,T-999,90000\n", encoding="utf-8")
    said = wearfit("plan", "plan.csv", "--months", "2", "--store", demo_store, "--json")
    assert said.status == 1
    assert len(said.document["problems"]) == 1


@pytest.mark.parametrize(
    "text", ["", "month,tool_id,shots\n", "tool_id,shots\nT-049,5\n", "month,tool_id\n2026-08,T-049\n", 'month,"tool_id\n']
)
def test_a_file_that_is_no_plan_is_wrong_use(wearfit: Run, demo_store: str, tmp_path: Path, text: str):
    (tmp_path / "plan.csv").write_text(text, encoding="utf-8")
    said = wearfit("plan", "plan.csv", "--store", demo_store, "--json")
    assert said.status == 2
    assert set(said.document) == {"error", "repair"}


@pytest.mark.parametrize("width", ["80", "120"])
def test_tables_fit_the_screen(wearfit: Run, demo_store: str, monkeypatch: pytest.MonkeyPatch, width: str):
    monkeypatch.setenv("COLUMNS", width)
    said = wearfit("plan", "--store", demo_store, "--months", "3")
    assert said.status == 0
    assert max(len(line) for line in said.out.splitlines()) <= int(width)
    for title in ("Spend on renewals", "Orders", "Months at risk of shortage", "Designs", "What it was told"):
        assert title in said.out
    assert "planning aid" in said.out
