"""What `wearfit forecast --tool` says of noted defects."""

import io
from typing import Any

import pytest
from rich.console import Console

from wearfit.cli.forecast import show_forecast
from wearfit.workflow.noted_words import noted_sentences
from wearfit.workflow.wording import FLASH, HELD

Q = ("p05", "p10", "p25", "p50", "p75", "p90", "p95")


def defect(**others: Any) -> dict[str, Any]:
    return {
        "date": "2026-03-02", "defect": "flash_in_one_place", "p_wear": 0.62, "p_wear_by_kind": 0.75,
        "life_used_then": dict(zip(Q, (0.3, 0.4, 0.5, 0.6, 0.65, 0.75, 0.8), strict=True)), "question": "Same spot as last run?",
        "look_before_running": False, "note": "flash at cavity 2", **others,
    }  # fmt: skip


def tool(*noted: dict[str, Any], status: str = "running") -> dict[str, Any]:
    unknown = dict.fromkeys(Q)
    return {
        "tool_id": "T-1", "status": status, "plant_id": "Heath", "overdue": False, "order_by": None, "wear_out_on": unknown,
        "remaining_shots": unknown, "p_within_12_months": 0.1, "problem": None, "replacement_due_on": None, "storage_share": unknown,
        "noted": list(noted), "readings_since": 0, "readings_note": None,
    }  # fmt: skip


def test_a_chance_in_words_with_its_question():
    assert noted_sentences(tool(defect())) == [
        "flash in one place noted on 2026-03-02 ('flash at cavity 2'): about 6 in 10 that it is wear, not settings, with some 40 to 75 % "
        "of its life used by then. Same spot as last run? A yes speaks for wear."
    ]


def test_the_latest_comes_first_and_long_notes_are_cut():
    first, second = noted_sentences(tool(defect(), defect(date="2026-04-01", note="x" * 500)))
    assert "2026-04-01" in first and "2026-03-02" in second
    assert len(first) < 350


@pytest.mark.parametrize(("status", "told"), [("running", True), ("stored", True), ("held", False)])
def test_a_hazard_is_to_be_looked_at_unless_the_tool_is_held(status: str, told: bool):
    loose = defect(defect="loose_part", p_wear=None, question=None, look_before_running=True, note="peg came off")
    (said,) = noted_sentences(tool(loose, status=status))
    assert said.startswith("a loose or broken-off part noted on 2026-03-02 ('peg came off').")
    assert said.endswith("have it looked at before it runs.") == told
    assert "None" not in said


def test_of_an_unknown_age_no_share_is_told():
    (said,) = noted_sentences(tool(defect(life_used_then=dict.fromkeys(Q))))
    assert "not settings. Same spot" in said


def shown(status: str, by_name: bool) -> str:
    console = Console(width=100, record=True, file=io.StringIO())
    document = {"as_of": "2026-06-30", "readings_later": None, "tools": [tool(defect(look_before_running=True), status=status)]}
    show_forecast(console, document, by_name)
    return " ".join(console.export_text().split())


def test_only_of_tools_asked_for_by_name():
    among_all = shown("running", by_name=False)
    assert "noted on" not in among_all
    assert "no hold came with it" in among_all and among_all.count(FLASH) == 1
    assert "no hold came with it" not in shown("held", by_name=False)
    named = shown("running", by_name=True)
    assert "noted on 2026-03-02" in named and named.count(FLASH) == 1
    assert shown("held", by_name=True).count(HELD) == 1 == shown("held", by_name=True).count(FLASH)
