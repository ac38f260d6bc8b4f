"""Plants compared, by hand."""

import json
from typing import Any

import numpy as np
import pytest
from known_fleet import PRIOR_SAMPLES, Plant, Tool, known_calibration

from wearfit.calibration import Calibration
from wearfit.errors import Refusal
from wearfit.forecasts.plants import STEPS, compare_plants
from wearfit.forecasts.quantiles import NAMES, PROBABILITIES

FACTORS = ("life_factor", "life_factor_climate", "life_factor_unexplained")


def compared(plants: list[Plant], samples: int, **more: Any) -> dict[str, Any]:
    return compare_plants(known_calibration([Tool()], plants=plants, samples=samples, **more)).as_json()


def random_plants(samples: int, names: str = "ABCD") -> list[Plant]:
    rng = np.random.default_rng(9)
    return [Plant(name, wear=rng.normal(0, 0.4, samples), climate=rng.normal(0.3, 0.2, samples)) for name in names]


def test_a_life_factor_is_life_against_the_mean_plant():
    plants = compared([Plant("dry", wear=0.1), Plant("wet", wear=-0.1, climate=0.4)], samples=2)["plants"]
    assert [plant["plant_id"] for plant in plants] == ["dry", "wet"]
    for name in NAMES:
        dry, wet = ({factor: plant[factor][name] for factor in FACTORS} for plant in plants)
        assert dry == pytest.approx(
            {"life_factor": np.exp(0.1), "life_factor_climate": np.exp(0.2), "life_factor_unexplained": np.exp(-0.1)}
        )
        assert wet == pytest.approx({factor: 1 / value for factor, value in dry.items()})


def test_climate_times_the_rest_is_the_life_factor_in_every_draw():
    for draw in range(40):
        single = [Plant(p.plant_id, wear=p.wear[draw], climate=p.climate[draw]) for p in random_plants(40)]
        plants = compared(single, samples=1)["plants"]
        for plant in plants:
            whole, climate, rest = (plant[factor]["p50"] for factor in FACTORS)
            assert climate * rest == pytest.approx(whole, rel=1e-12)
        for factor in FACTORS:
            assert np.mean([np.log(plant[factor]["p50"]) for plant in plants]) == pytest.approx(0.0, abs=1e-12)


def test_quantiles_are_those_of_the_draws():
    plants = random_plants(501)
    log_wear = np.stack([p.wear + p.climate for p in plants], axis=1)
    factors = np.exp(log_wear.mean(axis=1, keepdims=True) - log_wear)
    answer = compared(plants, samples=501)["plants"]
    for i, plant in enumerate(answer):
        expected = np.quantile(factors[:, i], PROBABILITIES, method="inverted_cdf")
        np.testing.assert_allclose([plant["life_factor"][name] for name in NAMES], expected)


def test_contrasts_of_every_pair_are_antisymmetric():
    plants = random_plants(400)
    forth = {(c["plant_a"], c["plant_b"]): c["p_a_wears_faster"] for c in compared(plants, samples=400)["contrasts"]}
    back = {(c["plant_a"], c["plant_b"]): c["p_a_wears_faster"] for c in compared(plants[::-1], samples=400)["contrasts"]}
    assert len(forth) == 6
    for (a, b), faster in forth.items():
        assert back[b, a] == pytest.approx(1.0 - faster)
    wear = {p.plant_id: p.wear + p.climate for p in plants}
    assert forth["A", "C"] == np.mean(wear["A"] > wear["C"])


def test_plants_that_nothing_tells_apart_are_even():
    (contrast,) = compared([Plant("A"), Plant("B")], samples=10)["contrasts"]
    assert contrast["p_a_wears_faster"] == 0.5


def test_a_plant_without_runs_is_left_out_of_the_answer_and_of_the_mean():
    answer = compared([Plant("A", wear=0.2), Plant("bare", wear=9.0, seen=False), Plant("B", wear=-0.2)], samples=2)
    assert [plant["plant_id"] for plant in answer["plants"]] == ["A", "B"]
    assert answer["plants"][0]["life_factor"]["p50"] == pytest.approx(np.exp(-0.2))
    with pytest.raises(Refusal, match="No plant has runs"):
        compared([Plant("bare", seen=False)], samples=2)


def test_a_single_plant_is_its_own_mean():
    answer = compared([Plant("A", wear=0.7, climate=0.1)], samples=2)
    assert answer["plants"][0]["life_factor"] == dict.fromkeys(NAMES, 1.0)
    assert answer["contrasts"] == []


def test_humidity_effects_stand_beside_their_priors():
    rng = np.random.default_rng(10)
    posterior, prior = rng.normal(0.4, 0.1, 300), rng.normal(0.2, 0.5, PRIOR_SAMPLES)
    answer = compared([Plant()], samples=300, coefficients={"slope.sweating_between": posterior}, prior={"slope.sweating_between": prior})[
        "humidity_effect"
    ]
    effects = {effect["measure"]: effect for effect in answer}
    assert set(effects) == set(STEPS)
    sweating = effects["sweating_between"]
    for told, slopes in ((sweating["life_factor"], posterior), (sweating["prior"], prior)):
        expected = np.quantile(np.exp(-0.25 * slopes), PROBABILITIES, method="inverted_cdf")
        np.testing.assert_allclose([told[name] for name in NAMES], expected)
    assert "25 points" in sweating["per"]
    assert effects["log_corrosivity"]["life_factor"] == dict.fromkeys(NAMES, 1.0)


def test_twice_the_corrosivity_is_one_step_of_its_effect():
    (effect,) = (
        e
        for e in compared([Plant()], samples=2, coefficients={"slope.log_corrosivity": 0.3})["humidity_effect"]
        if e["measure"] == "log_corrosivity"
    )
    assert effect["life_factor"]["p50"] == pytest.approx(2.0**-0.3)


def test_the_demos_plants_are_told_in_full(demo_calibration: Calibration):
    answer = compare_plants(demo_calibration).as_json()
    assert json.loads(json.dumps(answer, allow_nan=False)) == answer
    seen = [str(p) for p, seen in zip(demo_calibration.levels.plant, demo_calibration.plants.seen, strict=True) if seen]
    assert [plant["plant_id"] for plant in answer["plants"]] == seen
    assert len(answer["contrasts"]) == len(seen) * (len(seen) - 1) // 2
    for plant in answer["plants"]:
        for factor in FACTORS:
            values = [plant[factor][name] for name in NAMES]
            assert values == sorted(values) and values[0] > 0
        assert 0 <= plant["wear_outs"] <= plant["lives"]
