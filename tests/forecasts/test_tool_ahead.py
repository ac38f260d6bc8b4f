"""Draws for decisions: a live tool's agree with its forecast, a new one's with the law of its kind."""

import numpy as np
import pytest
from known_fleet import Plant, Resin, Tool, known_calibration

from wearfit.calibration import Calibration
from wearfit.errors import Refusal
from wearfit.forecasts.fleet import forecast_fleet
from wearfit.forecasts.luck import Luck
from wearfit.forecasts.new_tool import Kind, new_tool
from wearfit.forecasts.tool_ahead import tool_ahead


@pytest.mark.parametrize("tool_id", ["T-001", "T-049", "T-017"])
def test_what_lies_ahead_agrees_with_the_forecast(demo_calibration: Calibration, tool_id: str):
    ahead = tool_ahead(demo_calibration, tool_id)
    told = forecast_fleet(demo_calibration, tools=[tool_id]).tools[0]
    assert np.median(ahead.shots_to_wear) == pytest.approx(told["remaining_shots"]["p50"], rel=0.06)
    assert (ahead.weeks_to_wear < 52.18).mean() == pytest.approx(told["p_within_12_months"], abs=0.03)
    assert ahead.on_record["shots_per_month"] == pytest.approx(told["conditions"]["shots_per_month"])


def test_a_life_in_its_place_is_the_law_at_the_wear_per_shot():
    # Wear per shot 2 at the plant times 1.5 in the resin, of 5,000 reference shots 1,200 are spent.
    tool = Tool(spent=1200.0, life=5000.0, stated=100.0, modifications=2)
    calibration = known_calibration(
        [tool], plants=[Plant(wear=np.log(2.0))], resins=[Resin(wear=np.log(1.5))], coefficients={"slope.modification": 0.1}, samples=400
    )
    ahead = tool_ahead(calibration, "cup-1")
    per_shot = 3.0 * np.exp(0.2)
    assert ahead.age == pytest.approx(1200.0 / per_shot)
    assert np.exp(ahead.log_life) == pytest.approx(5000.0 / per_shot)
    assert np.exp(ahead.fresh_log_life) == pytest.approx(5000.0 / 3.0)  # a new cavity set carries no modifications
    survives = (ahead.shots_to_wear > 800.0).mean()
    expected = np.exp((1200.0 / 5000.0) ** 2.5 - ((1200.0 + 800.0 * per_shot) / 5000.0) ** 2.5)
    assert abs(survives - expected) < 4.0 * np.sqrt(expected * (1.0 - expected) / ahead.shots_to_wear.size)
    assert np.allclose(ahead.weeks_to_wear * 7.0 / (365.25 / 12.0) * 100.0, ahead.shots_to_wear, rtol=0.1)


def test_a_tool_without_use_is_dated_by_the_use_that_is_asked():
    ahead = tool_ahead(known_calibration([Tool(spent=200.0)], samples=50), "cup-1")
    assert ahead.shots_per_month == 0.0
    assert "shots_per_month" not in ahead.on_record
    assert np.isinf(ahead.weeks_to_wear).all()
    weeks, _ = ahead.weeks_to_end(50.0)
    assert weeks == pytest.approx(ahead.shots_to_wear / 50.0 * 365.25 / 12.0 / 7.0)


def test_a_refurbishment_leaves_its_share_of_the_age():
    ahead = tool_ahead(known_calibration([Tool(spent=600.0, stated=10.0)], samples=400), "cup-1")  # shares of .5 each
    shots = ahead.refurbished_shots(ahead.age[:, None], 1.0, 1)
    age = 600.0 * (1.0 - 0.5 * 0.5)
    expected = np.exp((age / 1000.0) ** 2.5 - ((age + 400.0) / 1000.0) ** 2.5)
    assert abs((shots > 400.0).mean() - expected) < 4.0 * np.sqrt(expected * (1.0 - expected) / shots.size)


def test_a_new_tool_is_its_kind_with_an_effect_of_its_own():
    calibration = known_calibration(
        [Tool()], plants=[Plant(wear=np.log(2.0))], resins=[Resin(wear=0.1, filler=2.0)], scales={"tool": 0.4},
        coefficients={"class_offset.103": 0.3, "steel.hard": 1.1, "slope.filler_hard": 0.2, "coating.pvd": 0.5, "log_setup": np.log(400.0)},
    )  # fmt: skip
    kind = Kind("103", "Heath", {"plain": 1.0}, steel="hard", coating="pvd", shots_per_run=4000.0)
    found = new_tool(calibration, kind)
    # A band of log life 0 counts a set-up for exp(0) of 100,000 in full.
    wear = np.log(2.0) + 0.1 + 0.4 + np.log1p(400.0 / 4000.0 / 100_000.0)
    assert found.log_kind == pytest.approx(0.3 + 1.1 + 0.5 - wear)
    assert found.log_life.std() == pytest.approx(0.4, rel=0.06)
    assert found.new == ()


def test_a_new_tool_in_a_place_never_seen_is_wider_and_says_so(demo_calibration: Calibration):
    known = new_tool(demo_calibration, Kind("103", "upland", {"pp-natural": 1.0}))
    new = new_tool(demo_calibration, Kind("103", "nowhere", {"pp-natural": 1.0}, maker_id="nobody"))
    assert new.new == ("nowhere", "nobody")
    assert new.log_kind.std() > known.log_kind.std()


def test_a_sister_has_all_but_the_tools_own_effect(demo_calibration: Calibration):
    ahead = tool_ahead(demo_calibration, "T-049")
    own = demo_calibration.draws.tool[:, list(demo_calibration.levels.tool).index("T-049")]
    assert ahead.sister.log_kind == pytest.approx(ahead.fresh_log_life - own)


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        (Kind("106", "Heath", {"plain": 1.0}), "'106' is no service class. Name one of 101, 102, 103, 104, 105."),
        (Kind("103", "Heath", {"plain": 1.0}, steel="wood"), "'wood' is no cavity steel."),
        (Kind("103", "Heath", {"plain": 1.0}, coating="paint"), "'paint' is no coating that is known here."),
        (Kind("103", "Heath", {}), "No resin was named."),
    ],
)
def test_what_no_tool_is_gets_a_sentence(kind: Kind, words: str):
    with pytest.raises(Refusal) as refused:
        new_tool(known_calibration([Tool()], samples=4), kind)
    assert str(refused.value).startswith(words)


def test_a_tool_of_unknown_age_is_refused():
    calibration = known_calibration([Tool(spent=np.nan)], samples=10)
    with pytest.raises(Refusal, match="cup-1: It has no recorded run"):
        tool_ahead(calibration, "cup-1")


def test_luck_is_the_same_by_name_and_stratified():
    luck = Luck(3, "a", 50, 40)
    assert luck.exponential("wear", 2) is luck.exponential("wear", 2)
    assert not np.array_equal(luck.exponential("wear", 2), luck.exponential("wear", 3))
    assert not np.array_equal(luck.exponential("wear", 2), Luck(3, "b", 50, 40).exponential("wear", 2))
    places = np.sort(np.exp(-luck.exponential("wear", 2)), axis=1)
    assert (np.abs(places - (np.arange(40) + 0.5) / 40) <= 0.5 / 40 + 1e-12).all()
    for half in (slice(0, 20), slice(20, 40)):
        places = np.sort(np.exp(-luck.exponential("wear", 2)[:, half]), axis=1)
        assert (np.abs(places - (np.arange(20) + 0.5) / 20) <= 0.5 / 20 + 1e-12).all()
    with pytest.raises(ValueError, match="read-only"):
        luck.exponential("wear", 2)[0, 0] = 1.0
