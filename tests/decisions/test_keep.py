"""Keep or scrap: closed forms, a path-by-path reckoning, limiting cases, and rust against the model's storage term."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from known_draws import known_tool

from wearfit.calibration import Calibration
from wearfit.decisions.decision import decide
from wearfit.decisions.inputs import fill
from wearfit.decisions.keep import DATE_LOG_SD, KEEP, costs_of
from wearfit.forecasts.stored_tool import StoredTool, stored_tool
from wearfit.forecasts.tool_ahead import tool_ahead

VOLUME = {"planned_shots": 300.0, "lead_time_weeks": 14.0}


def stored(rust: float = 20.0, preserved: float = 0.0, samples: int = 200, **of_tool: float) -> StoredTool:
    tool = known_tool(**{"age": 200.0, **of_tool}, samples=samples)
    return StoredTool(tool, np.full(samples, rust), np.full(samples, 0.5 * rust), preserved, in_store=True)


def costs_by_key(ahead: StoredTool, **given: float) -> dict[str, np.ndarray]:
    costs = costs_of(ahead, fill(KEEP.inputs, ahead.on_record, {**VOLUME, **given}))
    return dict(zip(costs.known_as, costs.cost, strict=True))


def test_without_a_return_keeping_costs_its_storage_and_the_scrap_value_later():
    costs = costs_by_key(stored(), return_chance=0.0, discount_rate=0.1, keep_months=48.0, storage_cost_per_month=7.0, scrap_value=30.0)
    a_year = 84.0 * (1.0 - 1.1**-4.0) / np.log(1.1)  # an annuity paid evenly
    assert costs["keep"] == pytest.approx(a_year - 30.0 / 1.1**4.0)
    assert costs["scrap"] == pytest.approx(-30.0)
    assert costs["preserve"] - costs["keep"] == pytest.approx(10.0)


def test_free_storage_of_a_tool_that_lasts_is_never_dearer_than_a_remake():
    free = {"storage_cost_per_month": 0.0, "scrap_value": 0.0, "recommission_cost": 0.0, "recommission_weeks": 0.0}
    ahead = stored(rust=0.0, life=1e9)
    for chance in (0.0, 0.5, 1.0):
        costs = costs_by_key(ahead, **free, return_chance=chance)
        assert costs["keep"].max() == 0.0
    assert decide(KEEP, ahead, {**VOLUME, **free, "return_chance": 1.0}).best == "keep it as it stands"


def test_a_tool_that_rusts_away_is_worth_its_base_alone():
    # Worn out in store: a cavity set and its weeks instead of a remake and its lead time.
    ahead = stored(rust=1e6, preserved=1.0, life=5000.0)
    given = {"return_chance": 1.0, "discount_rate": 0.0, "storage_cost_per_month": 0.0, "planned_shots": 1.0}
    costs = costs_by_key(ahead, **given)
    assert set(costs) == {"keep", "scrap"}
    assert costs["keep"] == pytest.approx(50.0 + 550.0 + 100.0 * (2.0 + 8.0 - 4.0))
    assert costs["scrap"] == pytest.approx(1000.0 + 100.0 * (14.0 - 4.0) - 20.0)


def test_each_path_costs_what_its_story_costs():
    ahead = stored(rust=30.0, samples=8, age=700.0, sudden=2e-4)
    tool = ahead.tool
    given = {"return_chance": 0.5, "discount_rate": 0.1, "return_months": 30.0, "keep_months": 50.0, "planned_shots": 900.0}
    v = fill(KEEP.inputs, tool.on_record, {**VOLUME, **given})
    costs = costs_by_key(ahead, **given)
    returns, normal = tool.luck.uniform("return") < 0.5, tool.luck.normal("return date")
    assert returns.mean(axis=1) == pytest.approx(0.5, abs=0.5 / 40)

    def paid(money: float, months: float) -> float:
        return money * 1.1 ** (-months / 12.0)

    def volume(lives, months: float) -> float:
        made, cost = next(lives), 0.0
        while made < 900.0:
            cost += paid(v["retool_cost"] + v["stop_cost"] + 8.0 * v["gap_cost_per_week"], months + made / v["shots_per_month"])
            made += next(lives)
        return cost

    worn = 0
    for s in range(8):
        for f in range(40):
            rented = sum(paid(50.0 / 30.0, (i + 0.5) / 30.0) for i in range(50 * 30))
            if not returns[s, f]:
                assert costs["keep"][s, f] == pytest.approx(rented - paid(20.0, 50.0), rel=1e-6)
                assert costs["scrap"][s, f] == -20.0
                continue
            at = min(30.0 * np.exp(DATE_LOG_SD * normal[s, f]), 50.0)
            left = tool.shots_to_wear[s, f] - 30.0 * at / 12.0
            worn += left <= 0
            weeks = 2.0 + (8.0 if left <= 0 else 0.0)
            start = 50.0 + (550.0 if left <= 0 else 0.0) + 100.0 * max(weeks - 4.0, 0.0)
            first = min(left, tool.shots_to_sudden[s, f]) if left > 0 else tool.fresh_shots(1)[s, f]
            lives = iter([first, *(tool.fresh_shots(n)[s, f] for n in range(2, 30))])
            a_month = np.log(1.1) / 12.0
            expected = 50.0 * (1.0 - np.exp(-a_month * at)) / a_month + paid(start, at) + volume(lives, at)
            assert costs["keep"][s, f] == pytest.approx(expected)
            sister = (tool.sister.shots_to_end(n)[s, f] for n in range(1, 30))
            assert costs["scrap"][s, f] == pytest.approx(paid(1000.0 + 100.0 * 10.0, at) + volume(sister, at) - 20.0)
    assert worn > 0


def test_at_the_break_even_chance_both_cost_the_same():
    ahead = stored(samples=2000, preserved=1.0, life=2000.0)
    even = costs_of(ahead, fill(KEEP.inputs, ahead.on_record, VOLUME)).details["break_even_chance"]
    assert 0.0 < even < 1.0
    costs = costs_by_key(ahead, return_chance=even)
    gain = (costs["keep"] - costs["scrap"]).mean(axis=1)
    assert abs(gain.mean()) < 4.0 * gain.std() / np.sqrt(len(gain))


def test_a_duty_keeps_it_whatever_it_costs():
    given = {**VOLUME, "retention_duty": 1.0, "storage_cost_per_month": 1e6, "return_chance": 0.0}
    outcome = decide(KEEP, stored(preserved=1.0), given)
    assert [a.action for a in outcome.actions] == ["keep it as it stands"]
    assert "A duty to keep it stands" in outcome.advice
    assert decide(KEEP, stored(preserved=1.0), {**given, "retention_duty": 0.0}).best == "scrap it"
    assert any(note.startswith("Caution, not advice: whose tool it is") for note in outcome.notes)


def test_dearer_storage_never_gains():
    ahead = stored()
    shares = []
    for price in (1.0, 10.0, 100.0):
        costs = costs_of(ahead, fill(KEEP.inputs, ahead.on_record, {**VOLUME, "storage_cost_per_month": price}))
        shares.append(float(np.mean(costs.expected.argmin(axis=0) < 2)))
    assert shares == sorted(shares, reverse=True)


def test_rust_is_the_models_and_makes_the_clock_run_on_as_the_forecasts_do(demo_calibration: Calibration):
    own, later = dt.date.fromisoformat(demo_calibration.identity.as_of), dt.date(2028, 6, 30)
    ahead = stored_tool(demo_calibration, "T-094", own)
    assert ahead.in_store and ahead.preserved == 0.0
    moved = tool_ahead(demo_calibration, "T-094", later)
    years = (later - own).days / 365.25
    assert moved.age - ahead.tool.age == pytest.approx(ahead.rust * years, rel=1e-5)
    helps = np.exp(demo_calibration.coefficient("storage.preserved"))
    assert ahead.rust_preserved == pytest.approx(ahead.rust * helps)


def test_thinned_keeps_what_belongs_together():
    ahead = replace(stored(), rust=np.arange(200.0))
    assert list(ahead.thinned(np.array([3, 7])).rust) == [3.0, 7.0]


def test_the_only_action_left_is_said_as_such():
    outcome = decide(KEEP, stored(preserved=1.0, samples=50), {**VOLUME, "retention_duty": 1.0})
    assert "There is nothing to do but keep it as it stands" in outcome.advice


@pytest.mark.parametrize(("tool", "running"), [("T-039", False), ("T-094", False), ("T-049", True)])
def test_the_use_of_late_is_that_of_a_return_only_where_the_tool_runs(demo_calibration: Calibration, tool: str, running: bool):
    ahead = stored_tool(demo_calibration, tool, dt.date.fromisoformat(demo_calibration.identity.as_of))
    use = fill(KEEP.inputs, ahead.on_record, {"planned_shots": 24_000.0, "replacement_cost": 1.0}).of("shots_per_month")
    assert (use.mark == "on record") == running
    assert use.value == (ahead.tool.shots_per_month if running else pytest.approx(1000.0))


def test_the_rust_told_is_that_of_a_preserved_tool_where_that_is_the_cheaper():
    told = {
        price: costs_of(stored(), fill(KEEP.inputs, stored().on_record, {**VOLUME, "preserve_cost": price})).notes[0]
        for price in (0.0, 1e6)
    }
    assert "until a return if it is preserved, in" in told[0.0]
    assert "until a return, in" in told[1e6]
