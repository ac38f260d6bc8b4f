"""The written scenario: what lies in data/ is what the simulator makes, faults and truth included."""

import ast
import csv
import dataclasses
import json
import time
from collections import Counter
from pathlib import Path

import pytest

import wearfit.demo
from wearfit.demo.build import build
from wearfit.demo.faults import KINDS
from wearfit.demo.plan import NEW_PLANT
from wearfit.demo.scenario import SCENARIO
from wearfit.demo.settings import Fleet
from wearfit.demo.simulate import simulate_fleet
from wearfit.exposures.build import build_exposures
from wearfit.exposures.live import STATUSES, build_live
from wearfit.records.assemble import assemble
from wearfit.records.readers.read import read

DATA = Path(__file__).resolve().parents[2] / "data"


@pytest.fixture(scope="module")
def built(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("built")
    build(folder)
    return folder


@pytest.fixture(scope="module")
def truth(built) -> dict:
    return json.loads((built / "demo" / "truth.json").read_text())


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(newline="") as file:
        return list(csv.DictReader(file))


def test_the_files_in_data_are_those_that_the_simulator_makes(built):
    fresh = {p.relative_to(built): p.read_bytes() for p in built.rglob("*") if p.is_file()}
    kept = {p.relative_to(DATA) for p in (DATA / "demo").iterdir()} | {Path("demo_next_runs.csv")}
    assert kept == set(fresh)
    for name, content in fresh.items():
        assert (DATA / name).read_bytes() == content, f"{name} differs: run python -m wearfit.demo.build"


def test_files_are_plain_utf8_with_line_feeds(built):
    for path in built.rglob("*.csv"):
        content = path.read_bytes()
        assert b"\r" not in content and content.endswith(b"\n") and content.decode("utf-8")


def test_the_same_seed_gives_the_same_records_and_another_seed_does_not():
    first, again = simulate_fleet(SCENARIO), simulate_fleet(SCENARIO)
    other = simulate_fleet(dataclasses.replace(SCENARIO, seed=SCENARIO.seed + 1))
    assert first.tables == again.tables and first.truth == again.truth
    assert first.tables["runs"] != other.tables["runs"]


def test_the_scenario_is_as_large_as_it_says(truth):
    counts, tools = truth["counts"], truth["tools"].values()
    assert counts["tools"] == 120 and counts["wear_outs"] >= 70 and 180 <= counts["lives"] <= 240
    assert set(Counter(t["status"] for t in tools)) == {"ready", "held", "stored", "worn", "retired"}
    assert len(truth["plants"]) == 7 and len(truth["effects"]["resin"]) == 9 and len(truth["effects"]["design"]) == 45
    assert 2200 <= len(rows_of(DATA / "demo" / "runs.csv")) <= 2500


def test_climate_covers_every_month_up_to_the_as_of_day(built):
    months = Counter(row["plant_id"] for row in rows_of(built / "demo" / "climate.csv"))
    assert set(months.values()) == {121}
    assert {row["month"] for row in rows_of(built / "demo" / "climate.csv")} >= {"2016-06", "2026-06"}


def test_records_end_on_the_as_of_day(built):
    days = [row["ended_on"] for row in rows_of(built / "demo" / "runs.csv")]
    assert max(days) == SCENARIO.as_of.isoformat()


def test_faults_stand_where_the_truth_says(built, truth):
    faults = truth["faults"]
    assert len(Counter(f["kind"] for f in faults)) == len(KINDS) + 1
    for fault in faults:
        rows = rows_of(built / "demo" / f"{fault['table']}.csv")
        if fault["row"] is None:
            assert any(row[fault["column"]] for row in rows)
            continue
        row = rows[fault["row"] - 2]
        if fault["column"]:
            assert row[fault["column"]] == fault["value"]
        if fault["kind"] == "duplicate":
            assert sum(other == row for other in rows) == 2
        if fault["kind"] == "repeated_key":
            key = ("tool_id", "plant_id", "resin_id", "started_on")
            same = [other for other in rows if all(other[c] == row[c] for c in key)]
            assert len(same) == 2 and same[0]["shots"] != same[1]["shots"]
        if fault["kind"] == "reversed_dates":
            assert row["ended_on"] < row["started_on"]


def test_the_records_room_sets_aside_the_faults_and_nothing_else(built, truth):
    upload = read(built / "demo")
    records = assemble(upload.rows)
    set_aside = {(f.table, f.row) for f in (*upload.findings, *records.findings) if f.severity == "set_aside"}
    assert set_aside == {(f["table"], f["row"]) for f in truth["faults"] if f["fate"] == "set_aside"}
    assert records.latest_day == SCENARIO.as_of


def test_without_its_faults_the_scenario_is_the_simulated_fleet(built, truth):
    """Faulty rows are added, never put in place of good ones; a repeated key divides a run without losing a shot."""
    fleet = simulate_fleet(SCENARIO)
    bad = {(f["table"], f["row"]) for f in truth["faults"] if f["fate"] != "kept"}
    for name in ("runs", "events", "tools"):
        left = [row for i, row in enumerate(rows_of(built / "demo" / f"{name}.csv")) if (name, i + 2) not in bad]
        if name == "runs":
            assert sum(int(row["shots"] or 0) for row in left) == sum(int(row.get("shots", 0)) for row in fleet.tables["runs"])
            divided = sum(f["kind"] == "repeated_key" for f in truth["faults"])
            assert len(left) == len(fleet.tables["runs"]) + divided
        else:
            assert [{c: t for c, t in row.items() if t and c != "rack"} for row in left] == fleet.tables[name]


def test_one_live_tool_is_worn_by_its_readings_alone(built, truth):
    records = assemble(read(built / "demo").rows).as_of(SCENARIO.as_of)
    exposures = build_exposures(records)
    live = build_live(records, exposures)
    told = {exposures.tools.tool_id[t] for t, status in zip(live.tool, live.status, strict=True) if STATUSES[status] == "worn"}
    (tool,) = told - {name for name, of in truth["tools"].items() if of["status"] == "worn"}
    assert tool in SCENARIO.also_measured
    # Of a life that is all but spent: it is its gauge that brings it over the limit.
    assert 0.95 < truth["tools"][tool]["spent"] / truth["tools"][tool]["capacity"] < 1.0


def test_measuring_a_tool_besides_draws_nothing_from_the_others():
    fleet, without = simulate_fleet(SCENARIO), simulate_fleet(dataclasses.replace(SCENARIO, also_measured={}))
    others = [row for row in fleet.tables["readings"] if row["tool_id"] not in SCENARIO.also_measured]
    assert {**fleet.tables, "readings": others} == without.tables
    assert len(fleet.tables["readings"]) > len(others)


def test_next_runs_ask_of_a_held_tool_and_of_a_plant_never_seen(truth):
    questions = rows_of(DATA / "demo_next_runs.csv")
    assert NEW_PLANT in {q["plant_id"] for q in questions}
    assert "held" in {truth["tools"][q["tool_id"]]["status"] for q in questions}
    assert all(q["month"] > "2026-06" and int(q["shots"]) > 0 for q in questions)
    for question, answer in zip(questions, truth["next_runs"], strict=True):
        assert question["tool_id"] == answer["tool_id"]
        assert (answer["p_wear_out"] is None) == (question["plant_id"] == NEW_PLANT)


def test_the_plan_is_of_the_year_ahead_and_plans_no_tool_twice(built):
    plan = rows_of(built / "demo" / "plan.csv")
    tools = {row["tool_id"]: row["design_id"] for row in rows_of(built / "demo" / "tools.csv")}
    assert {row["month"] for row in plan} <= {f"2026-{m:02d}" for m in range(7, 13)} | {f"2027-{m:02d}" for m in range(1, 7)}
    assert all(bool(row["tool_id"]) != bool(row["design_id"]) for row in plan)
    alone = {tools[row["tool_id"]] for row in plan if row["tool_id"]}
    assert not alone & {row["design_id"] for row in plan if row["design_id"]}


@pytest.mark.slow
def test_a_fleet_is_simulated_quickly():
    started = time.perf_counter()
    simulate_fleet(SCENARIO)
    assert time.perf_counter() - started < 2.0


def test_the_simulator_uses_nothing_of_the_model():
    for path in Path(wearfit.demo.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            names = (
                [node.module or ""]
                if isinstance(node, ast.ImportFrom)
                else [a.name for a in node.names]
                if isinstance(node, ast.Import)
                else []
            )
            assert all(name.startswith(("wearfit.demo", "wearfit.errors")) for name in names if name.startswith("wearfit")), path.name


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"n_tools": 0}, "at least one tool"),
        ({"law": "gamma"}, "not gamma"),
        ({"tail": 2.0}, "above 2 degrees of freedom"),
        ({"unseen_sites": 7}, "at least one site"),
        ({"resins": ()}, "needs a resin"),
        ({"class_shares": {"106": 1.0}}, "service classes are"),
    ],
)
def test_settings_that_contradict_themselves_are_refused(wrong, says):
    with pytest.raises(ValueError, match=says):
        dataclasses.replace(SCENARIO, **wrong)


def test_a_tiny_fleet_and_a_fleet_of_made_up_designs_can_be_simulated():
    for n_tools in (1, 3, 60):
        fleet = simulate_fleet(Fleet(sites=SCENARIO.sites, resins=SCENARIO.resins, n_tools=n_tools, years=3))
        assert len(fleet.tables["tools"]) == n_tools
