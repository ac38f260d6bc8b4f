"""Another air: life gained against closed forms and against an independent reckoning of what the draws leave open."""

from dataclasses import replace

import numpy as np
import pytest
from known_fleet import Plant, Tool, known_calibration

from wearfit.calibration import Calibration
from wearfit.exposures.conditioned import LOG_CORROSIVITY_SD_CONDITIONED, SWEATING_SD_CONDITIONED
from wearfit.forecasts.changed_air import Gain, climate_parts, conditioned, dried, warmer
from wearfit.forecasts.humidity_relation import relation

SAMPLES = 40_000
B, C, W = 0.6, 0.25, 0.4  # log wear by a share of sweating from plant to plant, by log corrosivity, by sweating from month to month
LEVEL = np.array([[0.7, 1.8], [0.1, 0.0]])  # sweating, log corrosivity; the second hall is conditioned
SPREAD = np.array([[0.06, 0.5], [0.05, 0.2]])
SEASON = (0.3, -0.3) * 6


def calibration(spread: np.ndarray = SPREAD, samples: int = SAMPLES, slope: object = B) -> Calibration:
    """Two plants whose climate is drawn as the model says: levels, errors, and slopes."""
    errors = np.random.default_rng(5).standard_normal((samples, 2, 2))
    slopes = np.stack([np.broadcast_to(slope, samples), np.full(samples, C)], axis=1)[:, None, :]
    climate = ((LEVEL + spread * errors) * slopes).sum(axis=2)
    found = known_calibration(
        [Tool()],
        samples=samples,
        plants=(Plant("Quay", climate=climate[:, 0], season=SEASON), Plant("Hall", climate=climate[:, 1])),
        coefficients={"slope.sweating_between": slope, "slope.log_corrosivity": C, "slope.sweating_within": W},
        prior={"slope.sweating_between": np.linspace(0.0, 2.0, 7)},
    )
    return replace(found, plants=replace(found.plants, level=LEVEL, spread=spread, sweating_share=LEVEL[:, 0]))


def of(plant: str, gains: tuple[Gain, ...]) -> Gain:
    return next(gain for gain in gains if gain.plant_id == plant)


def test_parts_add_up_to_the_climate_in_every_draw():
    made = calibration()
    np.testing.assert_allclose(climate_parts(made).sum(axis=2), made.draws.plant_climate, atol=1e-12)


def test_parts_are_drawn_as_their_sum_leaves_them_open():
    """Given the sum, brute force: of errors drawn from the prior those are kept whose sum comes near; they have these parts."""
    made = calibration()
    parts = climate_parts(made)[:, 0]
    total = np.asarray(made.draws.plant_climate[:, 0], dtype=float)
    errors = np.random.default_rng(77).standard_normal((400_000, 2))
    prior = (LEVEL[0] + SPREAD[0] * errors) * np.array([B, C])
    at = B * LEVEL[0, 0] + C * LEVEL[0, 1] + 0.15  # an air that turned out worse than reckoned
    mine, kept = parts[np.abs(total - at) < 0.01, 0], prior[np.abs(prior.sum(axis=1) - at) < 0.01, 0]
    assert len(mine) > 500
    assert mine.mean() == pytest.approx(kept.mean(), abs=4 * kept.std() / np.sqrt(len(mine)))
    assert mine.std() == pytest.approx(kept.std(), rel=0.1)


def test_an_air_that_is_known_gives_the_closed_form():
    made = calibration(spread=np.full((2, 2), 1e-9), samples=4000)
    season = np.log(np.mean(np.exp(W * np.array(SEASON))))
    gain = of("Quay", dried(made))
    assert gain.life["p50"] == pytest.approx(np.exp(B * 0.7 + season), rel=0.01)
    assert np.log(gain.life["p95"]) - np.log(gain.life["p50"]) == pytest.approx(1.645 * B * SWEATING_SD_CONDITIONED, rel=0.1)
    assert (gain.sweating_before, gain.sweating_after) == (0.7, 0.0)
    whole = of("Quay", conditioned(made))
    assert whole.life["p50"] == pytest.approx(np.exp(B * 0.7 + C * 1.8 + season), rel=0.01)
    spread = np.hypot(B * SWEATING_SD_CONDITIONED, C * LOG_CORROSIVITY_SD_CONDITIONED)
    assert np.log(whole.life["p95"]) - np.log(whole.life["p50"]) == pytest.approx(1.645 * spread, rel=0.1)
    assert whole.p_longer == 1.0


def test_a_hall_that_is_conditioned_already_gains_what_it_still_sweats_alone():
    gain = of("Hall", conditioned(calibration()))
    for quantile in ("p05", "p50", "p95"):
        assert gain.life[quantile] == pytest.approx(np.exp(B * 0.1), rel=1e-6)


def test_a_warmer_coolant_takes_sweating_away_month_by_month():
    made = calibration()
    before = np.stack([0.7 + np.array(SEASON), np.full(12, 0.1)])
    after = np.stack([np.tile([0.6, 0.0], 6), np.full(12, np.nan)])
    gains = warmer(made, before, after)
    assert [gain.plant_id for gain in gains] == ["Quay"]
    season = [np.log(np.mean(np.exp(W * (share - share.mean())))) for share in (before[0], after[0])]
    for quantile in ("p05", "p50", "p95"):  # what the climate is unsure by stays, and cancels
        assert gains[0].life[quantile] == pytest.approx(np.exp(B * 0.4 + season[0] - season[1]), rel=1e-6)
    assert (gains[0].sweating_before, gains[0].sweating_after) == pytest.approx((0.7, 0.3))


def test_a_coolant_as_it_is_changes_nothing():
    season = np.random.default_rng(1).uniform(0.0, 1.0, (2, 12))
    assert {gain.life["p05"] for gain in warmer(calibration(), season, season)} == {1.0}


def test_the_relation_is_one_at_the_mean_plant_and_has_the_draws_of_its_slope():
    slope = np.random.default_rng(2).normal(0.6, 0.2, 4001)
    along = relation(calibration(samples=4001, slope=slope), "sweating_between", 0.0, 1.0)
    middle = np.argmin(np.abs(along.level - 0.4))  # the mean of .7 and .1
    assert along.likely[middle] == pytest.approx(1.0)
    assert along.likely[-1] == pytest.approx(np.exp(-np.median(slope) * 0.6), rel=1e-3)
    assert along.low[-1] == pytest.approx(np.exp(-np.quantile(slope, 0.95) * 0.6), rel=1e-2)
    assert along.high[-1] == pytest.approx(np.exp(-np.quantile(slope, 0.05) * 0.6), rel=1e-2)
    assert along.prior_likely[-1] == pytest.approx(np.exp(-1.0 * 0.6))
    assert along.prior_low[-1] == pytest.approx(np.exp(-2.0 * 0.6))
