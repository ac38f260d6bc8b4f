"""Wear per shot and sudden stops by hand, and levels never seen against the population they are drawn from."""

import numpy as np
import pytest
from known_fleet import Plant, Resin, Tool, known_calibration
from scipy import stats

from wearfit.exposures.classes import CLASSES, STEEL_GROUPS
from wearfit.forecasts.conditions import (
    generator,
    modification_wear,
    new_plant_sudden,
    new_plant_wear,
    new_resin_wear,
    position,
    read_conditions,
    sudden_rates,
)

WET_SUMMER = (0.0,) * 5 + (0.4, 0.5, 0.4) + (0.0,) * 3 + (-1.3,)
PLANTS = (Plant("Heath", wear=0.2, climate=0.1, season=WET_SUMMER), Plant("Quay", wear=-0.2, climate=0.5, sudden=0.7))
SLOPES = {
    "slope.sweating_within": 0.6, "slope.filler_soft": 0.3, "slope.filler_hard": 0.1, "slope.corrosive_plain": 0.5,
    "slope.corrosive_stainless": 0.2, "slope.modification": 0.25,
}  # fmt: skip


def test_plant_brings_its_effect_its_climate_and_its_season():
    wear = read_conditions(known_calibration([Tool()], plants=PLANTS, coefficients=SLOPES, samples=3)).plant_wear
    assert wear.shape == (12, 3, 3)
    np.testing.assert_allclose(wear[6, :, 0], np.exp(0.2 + 0.1 + 0.6 * 0.5))
    np.testing.assert_allclose(wear[11, :, 0], np.exp(0.2 + 0.1 - 0.6 * 1.3))
    np.testing.assert_allclose(wear[:, :, 1], np.exp(-0.2 + 0.5))


def test_a_plant_that_is_not_known_is_the_mean_of_the_others():
    conditions = read_conditions(known_calibration([Tool()], plants=PLANTS, coefficients=SLOPES, samples=3))
    np.testing.assert_allclose(np.log(conditions.plant_wear[:, :, -1]), np.log(conditions.plant_wear[:, :, :2]).mean(axis=2))
    np.testing.assert_allclose(conditions.plant_sudden, [[1.0, np.exp(0.7), 1.0]] * 3)


def test_without_any_plant_or_resin_wear_is_that_of_the_reference():
    conditions = read_conditions(known_calibration([Tool(plant=-1, mix=())], plants=(), resins=(), samples=3))
    np.testing.assert_array_equal(conditions.plant_wear, np.ones((12, 3, 1)))
    assert conditions.resin_wear.shape == (3, 0, len(STEEL_GROUPS))


@pytest.mark.parametrize(
    ("steel", "log_wear"),
    [("soft", 0.05 + 3 * 0.3 + 0.5), ("hard", 0.05 + 3 * 0.1 + 0.5), ("stainless", 0.05 + 3 * 0.1 + 0.2)],
)
def test_resin_wears_each_steel_in_its_own_way(steel: str, log_wear: float):
    resins = (Resin("glass and acid", wear=0.05, filler=3.0, corrosive=1.0), Resin("plain"))
    wear = read_conditions(known_calibration([Tool()], resins=resins, coefficients=SLOPES, samples=3)).resin_wear
    np.testing.assert_allclose(wear[:, 0, STEEL_GROUPS.index(steel)], np.exp(log_wear))
    np.testing.assert_allclose(wear[:, 1], 1.0)


def test_modifications_multiply():
    calibration = known_calibration([Tool()], coefficients=SLOPES, samples=2)
    np.testing.assert_allclose(modification_wear(calibration, np.array([0, 1, 3])), np.exp([[0.0, 0.25, 0.75]] * 2))


def test_a_new_plant_is_drawn_from_the_population_of_plants():
    slope, scale, seen = 0.8, 0.5, 4
    plants = [Plant(f"plant {i}", seen=i < seen) for i in range(6)]
    calibration = known_calibration(
        [Tool()], plants=plants, samples=4000, scales={"plant": scale}, coefficients={"slope.log_corrosivity": slope}
    )
    # known_fleet: conditions of a plant never heard of are 0.5, known to within 0.25.
    spread = np.sqrt(scale**2 * (1 + 1 / seen) + (slope * 0.25) ** 2)
    drawn = np.log(new_plant_wear(calibration, "Moor"))
    assert stats.kstest(drawn, stats.norm(slope * 0.5, spread).cdf).pvalue > 0.01
    np.testing.assert_array_equal(np.log(new_plant_wear(calibration, "Moor")), drawn)
    assert abs(np.corrcoef(drawn, np.log(new_plant_wear(calibration, "Fen")))[0, 1]) < 0.06


def test_a_new_resin_is_drawn_from_the_population_and_not_described():
    calibration = known_calibration([Tool()], samples=4000, scales={"resin": 0.3})
    # known_fleet: a resin that nothing describes wears by exp(0.3 +- 0.4); one resin has been seen.
    drawn = np.log(new_resin_wear(calibration, "mystery"))
    assert stats.kstest(drawn, stats.norm(0.3, np.hypot(0.4, 0.3 * np.sqrt(2))).cdf).pvalue > 0.01


def test_sudden_stops_at_a_new_plant_are_drawn_from_the_population():
    calibration = known_calibration([Tool()], samples=4000, scales={"sudden_plant": 0.6})
    assert stats.kstest(np.log(new_plant_sudden(calibration, "Moor")), stats.norm(0.0, 0.6).cdf).pvalue > 0.01


def test_sudden_stops_come_by_class_lives_and_by_handling():
    log_band, offset, per_life, per_handling = np.log(4e5), 0.3, 0.2, 0.01
    tools = [Tool("known", log_band=log_band), Tool("unknown", log_band=log_band, service_class=-1)]
    calibration = known_calibration(
        tools,
        samples=2,
        coefficients={
            "log_sudden_per_life": np.log(per_life), "log_sudden_per_handling": np.log(per_handling),
            f"class_offset.{CLASSES[tools[0].service_class]}": offset, "class_offset.own_band": 99.0,
        },
    )  # fmt: skip
    by_shots, by_handling = sudden_rates(calibration, np.array([0, 1]))
    np.testing.assert_allclose(by_shots, [[per_life / 4e5 / np.exp(offset), per_life / 4e5]] * 2)
    np.testing.assert_allclose(by_handling, per_handling)


def test_names_are_found_whatever_their_script():
    names = np.array(["Heide", "海辺", "Küste"], dtype=object)
    assert [position(names, name) for name in ("海辺", "Küste", "Kuste", "")] == [1, 2, -1, -1]
    assert position(np.array([], dtype=object), "Heide") == -1


def test_each_name_has_its_own_stream():
    calibration = known_calibration([Tool()], samples=2)
    first = generator(calibration, "wear", "cup-1").random(4)
    np.testing.assert_array_equal(generator(calibration, "wear", "cup-1").random(4), first)
    for parts in (("wear", "cup-2"), ("sudden", "cup-1"), ("wear",)):
        assert not np.any(generator(calibration, *parts).random(4) == first)
