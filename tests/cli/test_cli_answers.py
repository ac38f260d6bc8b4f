"""`forecast`, `next-run` and `plants` as JSON and in tables, on the demo's saved calibration."""

import datetime as dt
import io
import re
import shutil
import sqlite3
from pathlib import Path

import pytest
from rich.console import Console
from run_command import Run

from wearfit.calibration import Calibration
from wearfit.cli.calibrations import show_calibrations
from wearfit.records.choices import read_choices
from wearfit.store.store import Store
from wearfit.workflow.noted_words import LOOK
from wearfit.workflow.wording import CAUTION, HELD

Q = {"p05", "p10", "p25", "p50", "p75", "p90", "p95"}
FORECAST_KEYS = {
    "tool_id", "service_class", "plant_id", "status", "shots_this_life", "life_used", "remaining_shots", "conditions", "wear_out_on",
    "order_by", "overdue", "gap_risk_if_ordered_today", "p_within_12_months",
}  # fmt: skip
NEXT_RUN_KEYS = {
    "tool_id", "plant_id", "resin_id", "month", "shots", "p_wear_out", "p_wear_out_interval", "p_any_stop", "hold",
    "largest_run_at_risk", "new", "problem",
}  # fmt: skip
PLANT_KEYS = {
    "plant_id", "lives", "wear_outs", "shots", "rh_mean_pct", "sweating_share", "wet_hours_per_year", "corrosivity_um_per_year",
    "corrosivity_category", "life_factor", "life_factor_climate", "life_factor_unexplained",
}  # fmt: skip


def unfolded(text: str) -> str:
    """Text without the line breaks of a narrow screen."""
    return " ".join(text.split())


@pytest.fixture
def one_run(demo_calibration: Calibration) -> dict[str, str]:
    levels, live = demo_calibration.levels, demo_calibration.live
    running = int((live.status == "running").argmax())
    return {
        "--tool": str(levels.tool[live.tool[running]]), "--plant": str(levels.plant[0]), "--resin": str(levels.resin[0]),
        "--month": demo_calibration.identity.as_of[:7], "--shots": "50000",
    }  # fmt: skip


def words(options: dict[str, str]) -> list[str]:
    return [word for option in options.items() for word in option]


def test_forecast_has_the_keys_that_are_fixed(wearfit: Run, demo_store: str, demo_calibration: Calibration):
    said = wearfit("forecast", "--store", demo_store, "--json")
    assert said.status == 0
    assert said.err == ""
    document = said.document
    assert document["as_of"] == demo_calibration.identity.as_of
    assert document["fingerprint"] == demo_calibration.identity.fingerprint
    assert len(document["tools"]) == len(demo_calibration.live.tool)
    for tool in document["tools"]:
        assert tool.keys() >= FORECAST_KEYS
        assert set(tool["wear_out_on"]) == Q
        assert set(tool["life_used"]) == Q
        for day in [*tool["wear_out_on"].values(), tool["order_by"]]:
            assert day is None or dt.date.fromisoformat(day)


def test_forecast_table_leads_with_dates_and_shows_its_cautions_once(wearfit: Run, demo_store: str):
    tools = wearfit("forecast", "--store", demo_store, "--json").document["tools"]
    out = wearfit("forecast", "--store", demo_store).out
    for tool in tools:
        assert tool["tool_id"] in out
    assert unfolded(out).count(CAUTION) == 1
    assert out.count("idle times") == 1  # of all tools in one sentence, the most first
    most = max(tools, key=lambda tool: tool["storage_share"]["p50"] or 0.0)
    assert f"idle times: {most['tool_id']} {100 * most['storage_share']['p50']:.0f} %" in unfolded(out)
    held = [tool["tool_id"] for tool in tools if tool["status"] == "held"]
    assert unfolded(out).count(HELD) == bool(held)
    assert out.count("STOP: held") == len(held)
    rows = [line.split()[0] for line in out.splitlines() if line.strip().startswith(tuple(tool["tool_id"] for tool in tools))]
    assert rows[: len(held)] == held
    assert "R-hat" not in out


def test_forecast_says_of_a_replacement_on_order_when_it_comes_and_which_tools_are_to_be_looked_at(wearfit: Run, demo_store: str):
    """T-041 is worn; T-036 and T-106 have a note of sharp flash, and no hold."""
    out = wearfit("forecast", "--store", demo_store).out
    assert [line.split()[1:3] for line in out.splitlines() if line.strip().startswith("T-041 ")] == [["on", "order"]]
    assert "T-041: A replacement is due on 2026-07-08." in unfolded(out)
    assert "T-036, T-106: a note tells of sharp flash or loose parts, and no hold came with it. Have each looked at" in unfolded(out)
    late = wearfit("forecast", "--store", demo_store, "--tool", "T-041", "--as-of", "2026-07-09").out
    assert "T-041: A replacement is overdue since 2026-07-08." in unfolded(late)
    assert "looked at" not in late


def test_forecast_fits_a_narrow_screen(wearfit: Run, demo_store: str, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("COLUMNS", "80")
    out = wearfit("forecast", "--store", demo_store).out
    assert max(map(len, out.splitlines())) <= 80
    assert "wider screen" in unfolded(out)


def test_forecast_of_some_tools(wearfit: Run, demo_store: str, demo_calibration: Calibration):
    fleet = [str(demo_calibration.levels.tool[tool]) for tool in demo_calibration.live.tool]
    for arguments in (("--tool", fleet[1], "--tool", fleet[4]), ("--tool", fleet[1], fleet[4])):
        said = wearfit("forecast", *arguments, "--store", demo_store, "--json")
        assert [tool["tool_id"] for tool in said.document["tools"]] == [fleet[1], fleet[4]]
    unknown = wearfit("forecast", "--tool", "nowhere-1", "--store", demo_store, "--json")
    assert unknown.status == 1
    assert "nowhere-1" in unknown.document["error"]


def test_an_earlier_day_exits_1_and_a_later_one_answers(wearfit: Run, demo_store: str, demo_calibration: Calibration):
    own = dt.date.fromisoformat(demo_calibration.identity.as_of)
    early = wearfit("forecast", "--as-of", str(own - dt.timedelta(1)), "--store", demo_store, "--json")
    assert early.status == 1
    assert "know the future" in early.document["error"]
    later = wearfit("forecast", "--as-of", str(own + dt.timedelta(100)), "--store", demo_store, "--json")
    assert later.status == 0
    assert later.document["as_of"] == str(own + dt.timedelta(100))


def test_next_run_by_options_and_by_file_say_the_same(wearfit: Run, demo_store: str, one_run: dict[str, str], tmp_path: Path):
    by_options = wearfit("next-run", *words(one_run), "--store", demo_store, "--json")
    assert by_options.status == 0
    (run,) = by_options.document["runs"]
    assert run.keys() >= NEXT_RUN_KEYS
    assert 0.0 < run["p_wear_out"] <= run["p_any_stop"] <= 1.0
    low, high = run["p_wear_out_interval"]
    assert 0.0 <= low <= high <= 1.0
    file = tmp_path / "runs.csv"
    file.write_text("tool_id,plant_id,resin_id,month,shots\n" + ",".join(one_run.values()) + "\n", encoding="utf-8")
    assert wearfit("next-run", "--runs", file, "--store", demo_store, "--json").document == by_options.document


def test_next_run_exits_1_only_where_no_row_could_be_answered(wearfit: Run, demo_store: str, one_run: dict[str, str], tmp_path: Path):
    unknown = one_run | {"--tool": "nowhere-1"}
    said = wearfit("next-run", *words(unknown), "--store", demo_store, "--json")
    assert said.status == 1
    assert said.document["runs"][0]["problem"]
    file = tmp_path / "runs.csv"
    rows = [",".join(row.values()) for row in (unknown, one_run, one_run | {"--shots": "many"})]
    file.write_text("\n".join(["tool_id,plant_id,resin_id,month,shots", *rows]) + "\n", encoding="utf-8")
    mixed = wearfit("next-run", "--runs", file, "--store", demo_store, "--json")
    assert mixed.status == 0
    assert [bool(run["problem"]) for run in mixed.document["runs"]] == [True, False, True]
    out = unfolded(wearfit("next-run", "--runs", file, "--store", demo_store).out)
    assert "many" in out
    assert out.count(CAUTION) == 1


def test_next_run_at_a_plant_never_seen_says_so(wearfit: Run, demo_store: str, one_run: dict[str, str]):
    said = wearfit("next-run", *words(one_run | {"--plant": "the moon"}), "--store", demo_store, "--json")
    assert said.status == 0
    assert "the moon" in " ".join(said.document["runs"][0]["new"]) or "plant" in " ".join(said.document["runs"][0]["new"])


def test_names_in_other_letters_are_known_and_answered_under_their_own(wearfit: Run, demo_store: str, one_run: dict[str, str]):
    written = wearfit("next-run", *words(one_run), "--store", demo_store, "--json").document
    loosely = one_run | {name: one_run[name].upper().replace("-", " ") for name in ("--tool", "--plant", "--resin")}
    assert loosely != one_run
    assert wearfit("next-run", *words(loosely), "--store", demo_store, "--json").document == written
    (tool,) = wearfit("forecast", "--tool", loosely["--tool"].lower(), "--store", demo_store, "--json").document["tools"]
    assert tool["tool_id"] == one_run["--tool"]


def test_a_name_that_the_choices_give_to_a_plant_is_that_plant(wearfit: Run, demo_store: str, one_run: dict[str, str], tmp_path: Path):
    store = tmp_path / "own.db"
    shutil.copy(demo_store, store)
    with Store.open(str(store)) as held:
        held.keep_choices(read_choices(f'[names.plant_id]\n"the old works" = "{one_run["--plant"]}"\n'))
    asked = one_run | {"--plant": "The Old Works"}
    (new,) = wearfit("next-run", *words(asked), "--store", demo_store, "--json").document["runs"]
    (run,) = wearfit("next-run", *words(asked), "--store", store, "--json").document["runs"]
    assert new["new"] == ["The Old Works"]
    assert run["new"] == [] and run["plant_id"] == one_run["--plant"]


def test_next_run_of_a_held_tool_says_stop(wearfit: Run, demo_store: str, demo_calibration: Calibration, one_run: dict[str, str]):
    live = demo_calibration.live
    held = [str(demo_calibration.levels.tool[t]) for t, status in zip(live.tool, live.status, strict=True) if status == "held"]
    assert held, "the demo has a held tool"
    arguments = words(one_run | {"--tool": held[0]})
    assert wearfit("next-run", *arguments, "--store", demo_store, "--json").document["runs"][0]["hold"] is True
    out = unfolded(wearfit("next-run", *arguments, "--store", demo_store).out)
    assert "STOP" in out
    assert out.count(HELD) == 1


def test_plants_as_json_and_in_tables(wearfit: Run, demo_store: str):
    said = wearfit("plants", "--store", demo_store, "--json")
    assert said.status == 0
    document = said.document
    plants = document["plants"]
    assert all(plant.keys() >= PLANT_KEYS for plant in plants)
    assert {frozenset(c) for c in document["contrasts"]} == {frozenset({"plant_a", "plant_b", "p_a_wears_faster"})}
    assert all(set(effect) >= {"measure", "per", "life_factor", "prior"} for effect in document["humidity_effect"])
    out = wearfit("plants", "--store", demo_store).out
    assert " % " in out and not re.search(r"\d%", out)
    assert all(plant["plant_id"] in out for plant in plants)
    assert unfolded(out).count(CAUTION) == 1
    clear = sum(max(c["p_a_wears_faster"], 1 - c["p_a_wears_faster"]) >= 0.9 for c in document["contrasts"])
    left_out = len(document["contrasts"]) - clear
    assert (f"{left_out} of {len(document['contrasts'])} pairs" in unfolded(out)) == bool(left_out)


def test_calibrations_lists_and_goes_back(wearfit: Run, demo_store: str):
    document = wearfit("calibrations", "--store", demo_store, "--json").document
    (only,) = document["calibrations"]
    assert document["calibration"] == only["id"]
    assert only["current"] is True
    assert only["passed"] is True
    assert only["law"] == "weibull"
    assert wearfit("calibrations", "--use", str(only["id"]), "--store", demo_store).status == 0
    assert wearfit("calibrations", "--use", "77", "--store", demo_store, "--json").status == 2


@pytest.mark.parametrize("width", [80, 160])
def test_calibrations_tell_their_law_whatever_the_width(width: int):
    """The longest that there is, and one that nobody can tell."""
    common = {"as_of": "2026-06-30", "made_at": "2026-11-27T16:40:14+00:00", "lives": 12_345, "wear_outs": 6_789, "seed": 2**63}
    rows = [
        {**common, "id": 118, "current": True, "passed": True, "reasons": [], "law": "log-logistic"},
        {**common, "id": 119, "current": False, "passed": False, "reasons": ["plant: R-hat 1.300 is above 1.02"], "law": None},
    ]
    said = io.StringIO()
    show_calibrations(Console(file=said, width=width), {"calibrations": rows, "calibration": 118})
    lines = said.getvalue().splitlines()
    assert max(len(line) for line in lines) <= width
    assert any("log-logistic" in line and "answers" in line for line in lines)
    assert any("not told" in line for line in lines)


def test_readings_since_the_calibration_are_counted_and_told(
    wearfit: Run, demo_store: str, demo_calibration: Calibration, one_run: dict[str, str], tmp_path: Path
):
    tool, day, file = one_run["--tool"], demo_calibration.identity.as_of, tmp_path / "seen.csv"
    rows = [f"{tool},{day},flash_mm,0.05,0.13", f"{tool},{day},core_pin_mm,7.99,7.94", f"{tool},{day},flash_mm,wide,0.13"]
    file.write_text("tool_id,date,feature,value,limit,new_value\n" + ",0\n".join(rows[::2]) + f",0\n{rows[1]},8\n", encoding="utf-8")
    said = wearfit("forecast", "--store", demo_store, "--tool", tool, "--readings", file)
    assert said.status == 0
    assert f"{tool}: 2 readings since the calibration are counted." in unfolded(said.out)
    assert "Row 3 of the readings given is not counted: value 'wide' is not a plain number." in unfolded(said.out)
    document = wearfit("forecast", "--store", demo_store, "--readings", file, "--json").document
    assert {t["tool_id"]: t["readings_since"] for t in document["tools"] if t["readings_since"]} == {tool: 2}
    asked = wearfit("next-run", "--store", demo_store, *words(one_run), "--readings", file)
    assert "2 readings since the calibration are counted." in unfolded(asked.out)


def test_a_file_of_readings_that_lacks_a_column_is_wrong_use(wearfit: Run, demo_store: str, tmp_path: Path):
    (tmp_path / "seen.csv").write_text("tool_id,date,feature,value\nT-001,2026-06-01,flash_mm,0.1\n", encoding="utf-8")
    said = wearfit("forecast", "--store", demo_store, "--readings", tmp_path / "seen.csv", "--json")
    assert said.status == 2
    assert said.document["error"].endswith("has no column limit.")


def test_a_warning_goes_to_standard_error_and_into_the_document(wearfit: Run, demo_store: str, tmp_path: Path):
    own = tmp_path / "own.db"
    shutil.copy(demo_store, own)
    with Store.open(str(own)) as store:
        good = store.calibration()
        store.add_calibration(good.blob, good.summary, make_current=True)
    with sqlite3.connect(own) as raw:
        raw.execute("UPDATE calibrations SET content = x'00' WHERE id = 2")
    raw.close()
    said = wearfit("plants", "--store", own, "--json")
    assert said.status == 0
    (warning,) = said.document["warnings"]
    assert warning.startswith("Calibration 2 is damaged in the store; calibration 1")
    assert said.err.strip() == warning
    assert said.document["calibration"] == 1


@pytest.mark.parametrize(("tool", "noted"), [("T-036", True), ("T-049", False)])
def test_a_run_of_a_tool_with_a_note_of_sharp_flash_is_not_to_begin_before_a_look(wearfit: Run, demo_store: str, tool: str, noted: bool):
    asked = ("--tool", tool, "--plant", "steppe", "--resin", "pp-natural", "--month", "2026-10", "--shots", "20", "--store", demo_store)
    out = unfolded(wearfit("next-run", *asked).out)
    told = f"{LOOK}. A note of 20 Apr 2026 says \u2018sharp flash growing at cavity 2\u2019, and no hold came with it."
    assert (told in out, "16 CFR 1501" in out) == (noted, noted)
    (run,) = wearfit("next-run", *asked, "--json").document["runs"]
    assert bool(run["look_first"]) == noted
