"""One tool or two: the arithmetic by hand, a walk day by day, what copies share, and limiting cases."""

import numpy as np
import pytest
from known_draws import known_new_tool

from wearfit.decisions.copies import COPIES, costs_of, units_by_arithmetic
from wearfit.decisions.decision import decide
from wearfit.decisions.inputs import fill
from wearfit.decisions.launch import copy_until, days_of, full_days, launch_with
from wearfit.errors import Refusal

LAUNCH = {"units_wanted": 1_000_000.0, "days_to_launch": 90.0, "unit_value": 0.4}
SURE = {"uptime_sd": 0.0, "yield_sd": 0.0}
EVERLASTING = 1e12


def details_of(tool, **given: float) -> dict:
    return dict(costs_of(tool, fill(COPIES.inputs, tool.on_record, {**LAUNCH, **given})).details)


def test_the_arithmetic_is_that_of_the_worked_example():
    # 86,400 / 30 s x 4 cavities x 0.65 x 0.97 = 7,263.36 a day; a 14-day climb costs seven of 90 days.
    values = fill(COPIES.inputs, {"replacement_cost": 1000.0}, LAUNCH)
    assert units_by_arithmetic(values.with_value("ramp_days", 0.0), 1.0) == pytest.approx(7263.36)
    assert units_by_arithmetic(values, 90.0) == pytest.approx(7263.36 * 83.0)
    assert round(units_by_arithmetic(values, 90.0), -3) == 603_000.0


def test_a_tool_that_never_wears_makes_what_the_arithmetic_says():
    found = details_of(known_new_tool(EVERLASTING, samples=20), **SURE)
    for n in range(1, 5):
        assert found["copies"][n - 1]["units"]["p50"] == pytest.approx(n * 602_858.88)
        assert found["copies"][n - 1]["p_on_time"] == (1.0 if n > 1 else 0.0)
    assert found["fewest_copies"] == 2
    assert found["second_worth_afterwards"] == pytest.approx(-50.0 * 12.0 * (1.0 - 1.08**-2.0) / np.log(1.08) * 1.08 ** (-90.0 / 365.25))


def test_lateness_is_the_value_lost_of_the_units_that_are_missing():
    found = details_of(known_new_tool(EVERLASTING, samples=20), **SURE, late_share=0.2, discount_rate=0.0)
    assert [n["lateness"] for n in found["copies"][:2]] == pytest.approx([(1e6 - 602_858.88) * 0.4 * 0.2, 0.0])


def test_calendar_and_closed_days_count():
    values = fill(COPIES.inputs, {"replacement_cost": 1000.0}, {**LAUNCH, "hours_per_day": 16.0, "days_per_week": 5.0, "closed_days": 10.0})
    assert units_by_arithmetic(values, 80.0) == pytest.approx(7263.36 * 16.0 / 24.0 * 5.0 / 7.0 * 73.0)


def test_the_climb_is_inverted():
    days = np.array([0.5, 7.0, 13.9, 14.0, 40.0])
    assert days_of(full_days(days, 14.0), 14.0) == pytest.approx(days)
    assert days_of(full_days(days, 0.0), 0.0) == pytest.approx(days)


def test_each_path_is_as_it_is_walked_step_by_step():
    tool, per_day, days, ramp, down, step = known_new_tool(3000.0, 2.0, samples=3, futures=6), 100.0, 120.0, 10.0, 15.0, 1e-3
    copies = [copy_until(tool, copy, np.full((3, 1), per_day), days, ramp, down) for copy in (0, 1)]
    launch = launch_with(copies, np.array([[2.0]] * 3), 1e9)

    def walked(copy: int, s: int, f: int) -> tuple[float, int]:
        turn, made, of_life, wait = 0, 0.0, 0.0, 0.0
        life = tool.shots_to_end(0, copy)[s, f]
        for i in range(int(days / step)):
            if wait > 0:
                wait -= step
                continue
            shots = per_day * step * (min(1.0, (i + 0.5) * step / ramp) if turn == 0 else 1.0)
            made, of_life = made + shots, of_life + shots
            if of_life >= life:
                turn, of_life, wait = turn + 1, 0.0, down
                life = tool.shots_to_end(turn, copy)[s, f]
        return made, turn

    for s in range(3):
        for f in range(6):
            found = [walked(copy, s, f) for copy in (0, 1)]
            assert [copy.able[s, f] for copy in copies] == pytest.approx([made for made, _ in found], abs=1.0)
            assert launch.units[s, f] == pytest.approx(2.0 * sum(made for made, _ in found), abs=4.0)
            assert launch.ends[s, f] == sum(turns for _, turns in found)


def test_a_volume_that_is_small_for_the_copies_wears_them_in_proportion():
    tool = known_new_tool(1e6, samples=5, futures=4)
    copies = [copy_until(tool, copy, np.full((5, 1), 100.0), 10.0, 0.0, 5.0) for copy in (0, 1)]
    launch = launch_with(copies, np.ones((5, 1)), 500.0)
    assert launch.units == pytest.approx(2000.0)
    for copy, left in enumerate(launch.left):
        assert left == pytest.approx(tool.shots_to_end(0, copy) - 250.0)


def test_what_copies_share_makes_them_late_together():
    # Uptime in doubt: two copies are late in the same draws, so that twice the volume is as likely for two as the volume for one.
    tool = known_new_tool(EVERLASTING, samples=4000)
    one = details_of(tool, units_wanted=602_858.88, yield_sd=0.0)["copies"][0]["p_on_time"]
    two = details_of(tool, units_wanted=2 * 602_858.88, yield_sd=0.0)["copies"][1]["p_on_time"]
    assert one == two
    assert abs(one - 0.5) < 4.0 * 0.5 / np.sqrt(4000)


def test_after_the_launch_ends_of_lives_cost_what_the_renewal_function_says():
    # Smith & Leadbetter 1963: k 3, M(3) = 2.924775 at three characteristic lives; the launch itself uses next to nothing.
    tool = known_new_tool(1000.0, 3.0, samples=3000)
    given = {"units_wanted": 1.0, "later_units": 3000.0 * 4.0 * 0.97, "discount_rate": 0.0, "retool_weeks": 0.0, "stop_cost": 0.0}
    found = details_of(tool, **SURE, **given, retool_cost=100.0)["copies"]
    assert abs(found[0]["after_launch"] - 292.4775) < 4.0 * 60.0 / np.sqrt(3000 * 40) + 0.2
    assert found[1]["after_launch"] == pytest.approx(found[0]["after_launch"] - 100.0 + 50.0 * 24.0, abs=6.0)


def test_more_copies_are_there_more_surely_and_later_days_too():
    tool = known_new_tool(200_000.0, sudden=1e-6, samples=300)
    shares = [n["p_on_time"] for n in details_of(tool)["copies"]]
    assert shares == sorted(shares)
    by_day = [details_of(tool, days_to_launch=days)["copies"][1]["p_on_time"] for days in (70.0, 90.0, 120.0)]
    assert by_day == sorted(by_day)


def test_a_dearer_copy_is_never_wanted_more():
    tool = known_new_tool(200_000.0, samples=300)
    shares = [decide(COPIES, tool, {**LAUNCH, "replacement_cost": price}).actions[0].p_best for price in (1e3, 1e6)]
    assert shares == sorted(shares)


def test_what_many_tools_could_not_make_is_refused():
    tool = known_new_tool(samples=20)
    with pytest.raises(Refusal, match="would take 17 tools that never stop; one makes 603,000"):
        decide(COPIES, tool, {**LAUNCH, "units_wanted": 1e7})
    with pytest.raises(Refusal, match="leave none of 90 to the launch"):
        decide(COPIES, tool, {**LAUNCH, "closed_days": 90.0})


def test_costs_add_up():
    tool = known_new_tool(200_000.0, samples=100)
    costs = costs_of(tool, fill(COPIES.inputs, tool.on_record, LAUNCH))
    parts = [n["tools"] + n["lateness"] + n["before_launch"] + n["after_launch"] for n in costs.details["copies"]]
    assert parts == pytest.approx(list(costs.mean))
