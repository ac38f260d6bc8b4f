"""Which plant: closed forms, a path-by-path reckoning, limiting cases, and plants that nobody knows."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from known_draws import known_tool

from wearfit.calibration import Calibration
from wearfit.decisions.decision import decide
from wearfit.decisions.inputs import fill
from wearfit.decisions.plant import PLANT, costs_of
from wearfit.errors import Refusal
from wearfit.forecasts.at_plants import AtPlants, Hall, at_plants, lasting
from wearfit.forecasts.plants import compare_plants

RECORDED = ("rh_mean_pct", "corrosivity_um_per_year")
VOLUME = {"planned_shots": 2500.0}


def hall(sweating: float = 0.8, season: np.ndarray | None = None, samples: int = 200) -> Hall:
    def same(value: float) -> np.ndarray:
        return np.full(samples, value)

    return Hall(sweating, np.zeros(12) if season is None else season, 2.0, same(0.4), same(0.6), same(0.1))


def plants(
    longer: float = 1.5, sudden: float = 1.0, breaks: float = 0.0, samples: int = 200, dry: bool = True, **of_tool: float
) -> AtPlants:
    def same(value: float) -> dict[str, np.ndarray]:
        return {"Brook": np.full(samples, value)}

    tool = known_tool(**of_tool, samples=samples)
    return AtPlants(tool, same(longer), same(sudden), np.full(samples, breaks), hall(samples=samples) if dry else None, ())


def costs_by_key(ahead: AtPlants, **given: float) -> dict[str, np.ndarray]:
    costs = costs_of(ahead, fill(PLANT.inputs, ahead.on_record, {**VOLUME, **given}))
    return dict(zip(costs.known_as, costs.cost, strict=True))


def test_a_plant_alike_costs_the_move_and_nothing_else():
    costs = costs_by_key(plants(longer=1.0, sudden=1.0))
    assert costs["move Brook"] - costs["stay"] == pytest.approx(80.0 + 50.0 + 5.0 * 25.0)


def test_drying_that_dries_nothing_costs_its_equipment_and_upkeep():
    costs = costs_by_key(plants(), dried_sweating=0.8, dried_corrosivity=0.0, discount_rate=0.0)
    assert costs["dry"] - costs["stay"] == pytest.approx(500.0 + 5.0 * 2500.0 / 100.0)
    yearly = costs_by_key(plants(), dried_sweating=0.8, dried_corrosivity=0.0, discount_rate=0.1)
    assert yearly["dry"] - yearly["stay"] == pytest.approx(500.0 + 60.0 * (1.0 - 1.1 ** (-25.0 / 12.0)) / np.log(1.1))


def test_life_in_a_drier_hall_by_hand():
    assert hall().longer_if_dried(0.3, 0.0) == pytest.approx(np.exp(0.4 * 0.5))
    assert hall().longer_if_dried(0.8, 0.5) == pytest.approx(np.exp(0.1 * 0.5 * 2.0))
    assert hall().longer_if_dried(0.9, 0.0) == pytest.approx(1.0)
    season = np.tile([0.2, -0.2], 6)
    by_hand = np.cosh(0.6 * 0.2) / np.cosh(0.6 * 0.1) * np.exp(0.4 * 0.4)  # months half as wet depart half as far
    assert hall(season=season).longer_if_dried(0.4, 0.0) == pytest.approx(by_hand)


def test_each_path_costs_what_its_story_costs():
    ahead = AtPlants(
        known_tool(age=600.0, sudden=3e-4, samples=8, futures=10),
        {"Brook": np.full(8, 1.4)}, {"Brook": np.full(8, 0.5)}, np.full(8, 0.3), None, (),
    )  # fmt: skip
    costs = costs_by_key(ahead, discount_rate=0.1)
    tool, v = ahead.tool, fill(PLANT.inputs, ahead.on_record, {**VOLUME, "discount_rate": 0.1})
    broken = tool.luck.uniform("move") < 1.0 - np.exp(-0.3)
    assert 0.1 < broken.mean() < 0.5
    each = v["retool_cost"] + v["stop_cost"] + v["retool_weeks"] * v["gap_cost_per_week"]
    for s in range(8):
        for f in range(10):
            made, turn, total = min(1.4 * tool.shots_to_wear[s, f], tool.shots_to_sudden[s, f] / 0.5), 1, 255.0
            made = 0.0 if broken[s, f] else made
            while made < 2500.0:
                total += each * 1.1 ** (-made / 100.0 / 12.0)
                wear = 1400.0 * tool.luck.exponential("wear", turn)[s, f] ** (1.0 / 2.5)
                made, turn = made + min(wear, tool.luck.exponential("sudden", turn)[s, f] / 1.5e-4), turn + 1
            assert costs["move Brook"][s, f] == pytest.approx(total)
    assert set(costs) == {"stay", "move Brook"}


def test_a_longer_life_elsewhere_pays_for_a_move_and_a_dearer_move_never_gains():
    ahead = plants(longer=5.0, dry=False)
    assert decide(PLANT, ahead, VOLUME).best == "move it to Brook"
    shares = []
    for price in (0.0, 500.0, 1e5):
        costs = costs_of(ahead, fill(PLANT.inputs, ahead.on_record, {**VOLUME, "move_cost": price}))
        shares.append(float(np.mean(costs.expected.argmin(axis=0) == 1)))
    assert shares == sorted(shares, reverse=True)


def test_without_a_climate_on_record_drying_is_not_offered_and_why_is_said():
    outcome = decide(PLANT, plants(dry=False), VOLUME)
    assert [a.action for a in outcome.actions] == ["leave it at Heath", "move it to Brook"]
    assert any(note.startswith("Drying the hall is not offered: the climate of Heath is not on record.") for note in outcome.notes)


def test_shots_gained_are_those_of_the_life_under_way():
    ahead = plants(longer=1.5, dry=False, samples=50)
    gained = costs_of(ahead, fill(PLANT.inputs, ahead.on_record, VOLUME)).details["shots_gained"]["move it to Brook"]
    assert gained == pytest.approx(0.5 * ahead.tool.shots_to_wear.mean())


def test_life_at_other_plants_is_that_of_the_comparison_of_plants(demo_calibration: Calibration):
    # The comparison is of yearly means; the seasons of the plants move a life by a few per cent.
    ahead = at_plants(demo_calibration, "T-049")
    levels, draws = list(demo_calibration.levels.plant), demo_calibration.draws
    level = np.asarray(draws.plant, dtype=float) + np.asarray(draws.plant_climate, dtype=float)
    own = levels.index(ahead.tool.plant_id)
    assert set(ahead.longer) == {p["plant_id"] for p in compare_plants(demo_calibration).plants} - {ahead.tool.plant_id}
    for name, longer in ahead.longer.items():
        assert longer == pytest.approx(np.exp(level[:, own] - level[:, levels.index(name)]), rel=0.1)


def test_a_plant_without_a_climate_has_no_hall_to_dry(demo_calibration: Calibration):
    known = demo_calibration.plants
    own = list(demo_calibration.levels.plant).index(at_plants(demo_calibration, "T-049").tool.plant_id)
    unrecorded = {name: np.where(np.arange(len(known.seen)) == own, np.nan, getattr(known, name)) for name in RECORDED}
    assert at_plants(demo_calibration, "T-049").hall is not None
    assert at_plants(replace(demo_calibration, plants=replace(known, **unrecorded)), "T-049").hall is None


def test_a_plant_never_seen_is_one_of_its_kind_and_the_own_is_refused(demo_calibration: Calibration):
    day = dt.date.fromisoformat(demo_calibration.identity.as_of)
    ahead = at_plants(demo_calibration, "T-049", "Nowhere", day)
    assert ahead.new == ("Nowhere",)
    known = at_plants(demo_calibration, "T-049", "", day)
    assert np.log(ahead.longer["Nowhere"]).std() > max(np.log(longer).std() for longer in known.longer.values())
    with pytest.raises(Refusal, match=f"T-049 is at {known.tool.plant_id} already"):
        at_plants(demo_calibration, "T-049", known.tool.plant_id, day)


def test_a_tool_that_lasts_longer_is_as_far_through_its_life():
    tool = known_tool(samples=20)
    longer = lasting(tool, np.full(20, 2.0))
    assert longer.age / np.exp(longer.log_life) == pytest.approx(tool.age / np.exp(tool.log_life))
    assert longer.fresh_shots(1) == pytest.approx(2.0 * tool.fresh_shots(1))
