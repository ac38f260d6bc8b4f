"""Noted defects of the simulator: they come as it says, and change nothing else."""

import dataclasses
import datetime as dt

import numpy as np
import pytest
from scipy import stats

from wearfit.demo.noted import KINDS, POWER
from wearfit.demo.scenario import SCENARIO
from wearfit.demo.settings import Fleet
from wearfit.demo.simulate import simulate_fleet

RARE = 1e-4


def test_notes_change_nothing_else():
    noted, plain = simulate_fleet(SCENARIO), simulate_fleet(dataclasses.replace(SCENARIO, noted_rate=0.0))
    n = noted.services_noted
    assert n > len(noted.noted) > 0
    assert not plain.noted and plain.services_noted == 0
    assert noted.tables["events"][:-n] == plain.tables["events"]
    assert {name: rows for name, rows in noted.tables.items() if name != "events"} == {
        name: rows for name, rows in plain.tables.items() if name != "events"
    }
    assert {name: value for name, value in noted.truth.items() if name != "noted"} == {
        name: value for name, value in plain.truth.items() if name != "noted"
    }


def test_each_note_is_an_event_of_its_own():
    events = simulate_fleet(SCENARIO).tables["events"]
    keys = [(row["tool_id"], row["date"], row["event"]) for row in events if row["event"] == "service"]
    assert len(set(keys)) == len(keys)


@pytest.fixture(scope="module")
def noted_at(plain: Fleet) -> dict[str, list[tuple[float, bool]]]:
    """Share of life used, and whether it was wear, of each noted defect, by its words."""
    fleet = simulate_fleet(dataclasses.replace(plain, noted_rate=0.3))
    at = {
        (c.tool.tool_id, dt.date.fromordinal(check.day).isoformat()): check.spent / check.capacity
        for c in fleet.careers
        for check in c.checks
    }
    by_words: dict[str, list[tuple[float, bool]]] = {}
    for defect in fleet.noted:
        by_words.setdefault(defect.row["note"], []).append((at[defect.row["tool_id"], defect.row["date"]], defect.by_wear))
    return by_words


@pytest.mark.parametrize("kind", range(len(KINDS)))
def test_wear_shows_late_in_a_life(kind: int, noted_at: dict[str, list[tuple[float, bool]]]):
    seen = np.array([pair for words in KINDS[kind].words for pair in noted_at[words]], dtype=float)
    used, by_wear = seen.T
    odds = KINDS[kind].by_wear / (1.0 - KINDS[kind].by_wear) * (POWER + 1.0) * used**POWER
    for low, high in ((0.0, 0.4), (0.4, 0.7), (0.7, 1.0)):
        inside = (low <= used) & (used < high)
        expected = (odds / (1.0 + odds))[inside]
        assert inside.sum() >= 30
        z = (by_wear[inside].sum() - expected.sum()) / np.sqrt((expected * (1.0 - expected)).sum())
        assert abs(z) < stats.norm.isf(RARE / 2.0)
