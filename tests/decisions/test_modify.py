"""Modify or cut new: closed forms, a path-by-path reckoning and limiting cases."""

import numpy as np
import pytest
from known_draws import known_tool

from wearfit.calibration import Calibration
from wearfit.decisions.decision import decide
from wearfit.decisions.inputs import fill
from wearfit.decisions.modify import MODIFY, costs_of
from wearfit.forecasts.modifiable import Modifiable, modifiable
from wearfit.forecasts.tool_ahead import tool_ahead

VOLUME = {"planned_shots": 800.0, "lead_time_weeks": 14.0}
EVERLASTING = 1e12


def ahead_of(wear: float = 0.1, samples: int = 200, **of_tool: float) -> Modifiable:
    return Modifiable(known_tool(**of_tool, samples=samples), np.full(samples, wear))


def costs_by_key(ahead: Modifiable, **given: float) -> dict[str, np.ndarray]:
    costs = costs_of(ahead, fill(MODIFY.inputs, ahead.on_record, {**VOLUME, **given}))
    return dict(zip(costs.known_as, costs.cost, strict=True))


def test_with_no_wear_and_no_old_version_only_prices_weeks_and_storage_are_left():
    costs = costs_by_key(ahead_of(life=EVERLASTING), old_chance=0.0, discount_rate=0.1, keep_months=24.0)
    assert costs["modify"] == pytest.approx(150.0 + 4.0 * 25.0)
    assert costs["new"] == pytest.approx(1000.0 + 14.0 * 25.0 + 50.0 * 12.0 * (1.0 - 1.1**-2.0) / np.log(1.1))


def test_a_certain_old_version_costs_a_tool_cut_again():
    given = {"discount_rate": 0.1, "old_months": 12.0, "storage_cost_per_month": 0.0}
    ahead = ahead_of(life=EVERLASTING)
    duty, certain, never = (
        costs_by_key(ahead, **given, **extra) for extra in ({"spare_duty": 1.0}, {"old_chance": 1.0}, {"old_chance": 0.0})
    )
    assert duty["modify"] == pytest.approx(certain["modify"])
    assert duty["modify"] - never["modify"] == pytest.approx((1000.0 + 100.0 * (14.0 - 4.0)) / 1.1)
    assert duty["new"] == pytest.approx(never["new"])


def test_no_volume_of_the_old_version_is_none_wanted():
    costs, never = costs_by_key(ahead_of(), old_chance=1.0, old_shots=0.0), costs_by_key(ahead_of(), old_chance=0.0)
    assert costs["modify"] == pytest.approx(never["modify"])


def test_each_path_costs_what_its_story_costs():
    given = {"discount_rate": 0.1, "old_chance": 0.5, "planned_shots": 2500.0, "old_shots": 900.0, "old_months": 18.0}
    ahead = ahead_of(wear=0.3, samples=6, age=500.0, sudden=2e-4)
    tool, v = ahead.tool, fill(MODIFY.inputs, ahead.on_record, {**VOLUME, **given})
    costs = costs_by_key(ahead, **given)
    each = v["retool_cost"] + v["stop_cost"] + 8.0 * v["gap_cost_per_week"]

    def paid(money: float, months: float) -> float:
        return money * 1.1 ** (-months / 12.0)

    def volume(lives: list[float], wanted: float, start: float) -> float:
        made, cost = lives[0], 0.0
        for life in lives[1:]:
            if made >= wanted:
                return cost
            cost += paid(each, start + made / 100.0)
            made += life
        raise AssertionError("more lives than were laid out")

    def stored(months: float) -> float:
        return 50.0 * 12.0 * (1.0 - 1.1 ** (-months / 12.0)) / np.log(1.1)

    wanted = tool.luck.uniform("old version") < 0.5
    for s in range(6):
        for f in range(40):
            later = [tool.fresh_shots(n)[s, f] for n in range(2, 40)]
            modified = min(tool.shots_to_wear[s, f] * np.exp(-0.3), tool.shots_to_sudden[s, f])
            modify = 150.0 + 100.0 + volume([modified, *later], 2500.0, 0.0)
            copies = [[tool.sister.shots_to_end(n, copy)[s, f] for n in range(1, 40)] for copy in (0, 1)]
            new = 1000.0 + 14.0 * 25.0 + volume(copies[0], 2500.0, 0.0)
            if wanted[s, f]:
                modify += paid(1000.0 + 1000.0, 18.0) + volume(copies[1], 900.0, 18.0)
                new += stored(18.0) + volume([min(tool.shots_to_wear[s, f], tool.shots_to_sudden[s, f]), *later], 900.0, 18.0)
            else:
                new += stored(60.0)
            assert costs["modify"][s, f] == pytest.approx(modify)
            assert costs["new"][s, f] == pytest.approx(new)


def test_at_the_break_even_chance_both_cost_the_same():
    ahead = ahead_of(samples=2000, life=3000.0)
    even = costs_of(ahead, fill(MODIFY.inputs, ahead.on_record, VOLUME)).details["break_even_chance"]
    assert 0.0 < even < 1.0
    costs = costs_by_key(ahead, old_chance=even)
    gain = (costs["modify"] - costs["new"]).mean(axis=1)
    assert abs(gain.mean()) < 4.0 * gain.std() / np.sqrt(len(gain))


def test_the_more_surely_the_old_version_is_wanted_the_less_a_modification_gains():
    ahead = ahead_of()
    gains = []
    for chance in (0.0, 0.3, 0.6, 1.0):
        costs = costs_by_key(ahead, old_chance=chance)
        gains.append(float((costs["new"] - costs["modify"]).mean()))
    assert gains == sorted(gains, reverse=True)


def test_a_duty_is_said():
    outcome = decide(MODIFY, ahead_of(samples=50), {**VOLUME, "spare_duty": 1.0})
    assert outcome.advice.startswith("A duty to supply spare parts stands")


def test_a_modification_wears_as_the_model_has_it_and_keeps_the_shots_made(demo_calibration: Calibration):
    ahead, tool = modifiable(demo_calibration, "T-049"), tool_ahead(demo_calibration, "T-049")
    assert ahead.wear == pytest.approx(demo_calibration.coefficient("slope.modification"))
    assert ahead.tool.age == pytest.approx(tool.age)
    to_wear = np.minimum(tool.shots_to_wear / np.exp(ahead.wear)[:, None], tool.shots_to_sudden)
    assert ahead.modified_shots() == pytest.approx(to_wear)
