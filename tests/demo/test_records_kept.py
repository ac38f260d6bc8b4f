"""The simulated records obey the rules of the tables, and tell the truth."""

import dataclasses
import math
from collections import defaultdict
from datetime import date
from itertools import pairwise

import numpy as np
import pytest

from wearfit.demo.scenario import SCENARIO
from wearfit.demo.settings import CLASSES, Fleet
from wearfit.demo.simulate import SimulatedFleet, simulate_fleet
from wearfit.demo.tables import COLUMNS
from wearfit.demo.walk import iso
from wearfit.demo.weather import dew_point, invent_sites, sweating_share

CAUSES = {"wear", "damage", "planned", "obsolete", "design_change"}
WORDS = {
    "worn",
    "retool",
    "refurbish",
    "retire",
    "service",
    "modify",
    "store",
    "take_out",
    "move",
    "hold",
    "release",
    "order",
}
MANY = Fleet(sites=invent_sites(12, seed=3), resins=SCENARIO.resins, n_tools=300, seed=5, unseen_sites=2, unknown_entry_share=0.3)


@pytest.fixture(scope="module", params=["scenario", "many"])
def fleet(request) -> SimulatedFleet:
    return simulate_fleet({"scenario": SCENARIO, "many": MANY}[request.param])


def by_tool(rows):
    grouped = defaultdict(list)
    for row in rows:
        grouped[row["tool_id"]].append(row)
    return grouped


def test_cells_are_filled_text_in_known_columns(fleet):
    for name, rows in fleet.tables.items():
        for row in rows:
            assert set(row) <= set(COLUMNS[name])
            assert all(isinstance(text, str) and text for text in row.values())


def test_keys_are_unique(fleet):
    keys = {
        "tools": ("tool_id",),
        "runs": ("tool_id", "plant_id", "resin_id", "started_on"),
        "events": ("tool_id", "date", "event"),
        "readings": ("tool_id", "date", "feature"),
        "climate": ("plant_id", "month"),
        "plants": ("plant_id",),
        "resins": ("resin_id",),
    }
    for name, columns in keys.items():
        rows = [tuple(row[c] for c in columns) for row in fleet.tables[name]]
        assert len(set(rows)) == len(rows), name


def test_every_name_is_described(fleet):
    names = {
        key: {row[key] for row in fleet.tables[table]}
        for table, key in (("tools", "tool_id"), ("plants", "plant_id"), ("resins", "resin_id"))
    }
    for table in ("runs", "events", "readings"):
        for row in fleet.tables[table]:
            for column, known in names.items():
                assert column not in row or row[column] in known


def test_runs_follow_one_another_and_stop_at_the_as_of_day(fleet):
    last_day = fleet.settings.as_of.isoformat()
    for rows in by_tool(fleet.tables["runs"]).values():
        for row in rows:
            assert fleet.settings.first_day.isoformat() <= row["started_on"] <= row["ended_on"] <= last_day
            assert ("shots" in row) != ("parts" in row)
            assert int(row.get("shots", row.get("parts", "0"))) > 0
        for before, after in pairwise(rows):
            assert before["ended_on"] < after["started_on"]


def test_events_are_said_in_the_agreed_words_and_order(fleet):
    commissioned = {row["tool_id"]: row["commissioned_on"] for row in fleet.tables["tools"]}
    last_day = fleet.settings.as_of.isoformat()
    written = len(fleet.tables["events"]) - fleet.services_noted
    for part in (fleet.tables["events"][:written], fleet.tables["events"][written:]):  # noted looks come last
        assert all([r["date"] for r in rows] == sorted(r["date"] for r in rows) for rows in by_tool(part).values())
    for tool_id, rows in by_tool(fleet.tables["events"]).items():
        for row in rows:
            assert row["event"] in WORDS and row.get("cause", "wear") in CAUSES
            assert commissioned[tool_id] <= row["date"] <= last_day
            assert row.get("last_good_on", row["date"]) <= row["date"]
            assert row["date"] <= row.get("back_on", last_day) <= last_day
            assert ("due_on" in row) == (row["event"] == "order")
            assert row["event"] not in ("move", "store") or "plant_id" in row
        assert "retire" not in [r["event"] for r in sorted(rows, key=lambda row: row["date"])[:-1]]


def test_nothing_runs_while_a_tool_is_away_worn_held_or_retired(fleet):
    events = by_tool(fleet.tables["events"])
    for tool_id, runs in by_tool(fleet.tables["runs"]).items():
        away: list[tuple[str, str]] = []
        opened = {"store": "take_out", "hold": "release"}
        rows = events[tool_id]
        for i, row in enumerate(rows):
            if row["event"] in opened:
                ends = [r["date"] for r in rows[i + 1 :] if r["event"] == opened[row["event"]]]
                away.append((row["date"], ends[0] if ends else "9999"))
            elif row["event"] == "retire":
                away.append((row["date"], "9999"))
            elif row["event"] == "worn":
                ends = [r["date"] for r in rows[i + 1 :] if r["event"] in ("retool", "refurbish", "retire")]
                away.append((row["date"], ends[0] if ends else "9999"))
            elif row["event"] in ("retool", "refurbish", "modify"):
                away.append((row["date"], row.get("back_on", "9999")))
        for start, end in away:
            assert not [r for r in runs if r["ended_on"] > start and r["started_on"] <= end], (tool_id, start, end)


def test_a_run_is_made_where_the_tool_is(fleet):
    for career in fleet.careers:
        moves = [(e["date"], e["plant_id"]) for e in career.events if e["event"] == "move"]
        for run in career.runs:
            before = [plant for day, plant in moves if day <= run["started_on"]]
            assert run["plant_id"] == (before[-1] if before else career.tool.first_site)


def test_unknown_openings_are_only_those_that_the_truth_calls_unknown(fleet):
    first_run = {tool_id: rows[0]["started_on"] for tool_id, rows in by_tool(fleet.tables["runs"]).items()}
    openings = {row["tool_id"]: row for row in fleet.tables["tools"]}
    for career in fleet.careers:
        row = openings[career.tool.tool_id]
        if career.tool.tool_id not in first_run or "opening_life_shots" in row:
            continue
        within = date.fromisoformat(first_run[career.tool.tool_id]) - date.fromisoformat(row["commissioned_on"])
        assert (within.days > 60) == (not career.tool.opening_known)


def test_the_records_add_up_to_the_true_shots_of_each_life():
    """Lives as counted from the rows, where every run is recorded in shots."""
    habits = dataclasses.replace(SCENARIO.habits, parts_share=0.0)
    fleet = simulate_fleet(dataclasses.replace(SCENARIO, habits=habits))
    for career in fleet.careers:
        renewals = [e["date"] for e in career.events if e["event"] in ("retool", "refurbish")]
        bounds = ["0000", *renewals, "9999"]
        counted = [
            sum(int(r["shots"]) for r in career.runs if low <= r["started_on"] and r["ended_on"] <= high) for low, high in pairwise(bounds)
        ]
        counted[0] += career.tool.opening_life_shots
        assert counted == [life.shots for life in career.lives] or (career.worn and counted[-1] == career.lives[-1].shots)


def test_wear_spent_follows_from_the_records_and_the_true_parameters():
    """The wear clock computed afresh from the tables: covariates and effects summed, set-ups added, for lives still running.

    The simulator takes a run's damp over the days that were planned, so the runs that were cut short differ by a little.
    """
    habits = dataclasses.replace(SCENARIO.habits, parts_share=0.0)
    fleet = simulate_fleet(dataclasses.replace(SCENARIO, habits=habits, truth=dataclasses.replace(SCENARIO.truth, storage=0.0)))
    truth, effects, p = fleet.truth, fleet.truth["effects"], SCENARIO.truth
    coolant = {r["plant_id"]: float(r["coolant_temp_c"]) for r in fleet.tables["plants"]}
    resins = {r["resin_id"]: r for r in fleet.tables["resins"]}
    sweating = {
        (r["plant_id"], r["month"]): sweating_share(
            dew_point(np.array([float(r["temp_c"])]), np.array([float(r["rh_pct"])])), coolant[r["plant_id"]]
        )[0]
        for r in fleet.tables["climate"]
    }
    compared = 0
    for career in fleet.live.values():
        if career.worn or any("renewed_share" in e for e in career.events):
            continue
        life = career.lives[-1]
        runs = [r for r in career.runs if r["started_on"] >= iso(life.opened_on)]
        retooled = max([e["date"] for e in career.events if e["event"] == "retool"], default="0000")
        spent, previous = life.virtual_age, None
        for run in runs:
            plant, resin = run["plant_id"], resins[run["resin_id"]]
            steel = truth["tools"][career.tool.tool_id]["steel"]
            first, last = (date.fromisoformat(run[c]).toordinal() for c in ("started_on", "ended_on"))
            damp = np.mean([math.exp(p.sweating * sweating[plant, iso(day)[:7]]) for day in range(first, last + 1)])
            glass = float(resin.get("filler_pct", 0)) / 10.0 * {"GF": 1.0, "T": 0.4}.get(resin.get("filler_kind"), 0.0)
            modifications = sum(e["event"] == "modify" and retooled < e["date"] <= run["started_on"] for e in career.events)
            log_wear = effects["plant"][plant] + effects["resin"][run["resin_id"]] + p.modification * modifications
            log_wear += (p.filler_hard if steel in ("hard", "stainless") else p.filler_soft) * glass
            log_wear += p.log_corrosivity * truth["plants"][plant]["log_corrosivity"]
            if resin["corrosive"] == "1":
                log_wear += p.corrosive_stainless if steel == "stainless" else p.corrosive_plain
            same_setup = (
                previous and previous["resin_id"] == run["resin_id"] and first - date.fromisoformat(previous["ended_on"]).toordinal() <= 4
            )
            setups = int(run.get("setups", 0 if same_setup else 1))
            spent += math.exp(log_wear) * damp * (int(run["shots"]) + p.setup_shots * setups)
            previous = run
        assert spent == pytest.approx(career.spent, rel=2e-4), career.tool.tool_id
        compared += len(runs) > 0
    assert compared > 60


def test_a_wear_out_found_late_is_bracketed_by_the_days_written_down(plain):
    """In unit exposure, a run's shots spread over its days: capacity lies above what was spent by the last good day, not above the end."""
    habits = dataclasses.replace(plain.habits, late_found_share=1.0, worn_row_share=1.0, continued_share=0.0)
    fleet = simulate_fleet(dataclasses.replace(plain, n_tools=80, habits=habits))
    checked = 0
    for career in fleet.careers:
        worn_lives = [life for life in career.lives if life.ending == "wear"]
        found = [e for e in career.events if e["event"] == "worn"]
        for life, event in zip(worn_lives, found, strict=True):
            runs = [r for r in career.runs if iso(life.opened_on) <= r["started_on"] <= event["date"]]
            by_last_good = sum(int(r["shots"]) * _share_by(r, event["last_good_on"]) for r in runs)
            assert life.virtual_age + by_last_good < life.capacity <= life.virtual_age + sum(int(r["shots"]) for r in runs)
            assert runs[-1]["ended_on"] <= event["date"]
            checked += 1
    assert checked > 100


def _share_by(run, day: str) -> float:
    """Share of a run's days that lie on or before `day`."""
    start, end, last = (date.fromisoformat(d) for d in (run["started_on"], run["ended_on"], day))
    return min(1.0, max(0.0, ((last - start).days + 1) / ((end - start).days + 1)))


def test_unseen_sites_are_described_but_never_run_at():
    fleet = simulate_fleet(MANY)
    unseen = {s.plant_id for s in MANY.sites[-2:]}
    assert unseen <= {row["plant_id"] for row in fleet.tables["plants"]} and unseen <= set(fleet.truth["effects"]["plant"])
    assert not unseen & {row["plant_id"] for row in fleet.tables["runs"]}


def test_shots_are_within_what_a_press_can_do(fleet):
    cavities = {row["tool_id"]: int(row["cavities"]) for row in fleet.tables["tools"]}
    cycle = {row["tool_id"]: float(row["cycle_time_s"]) for row in fleet.tables["tools"]}
    for row in fleet.tables["runs"]:
        days = (date.fromisoformat(row["ended_on"]) - date.fromisoformat(row["started_on"])).days + 1
        active = int(row.get("active_cavities", cavities[row["tool_id"]]))
        shots = int(row["shots"]) if "shots" in row else math.ceil(int(row["parts"]) / active)
        assert shots <= 1.02 * days * 86400.0 / cycle[row["tool_id"]]


def test_every_class_is_there(fleet):
    assert {c.tool.service_class for c in fleet.careers} == set(CLASSES)
