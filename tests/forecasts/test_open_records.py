"""What each draw takes a missing record to say: told from draws that were made up to hold it."""

from dataclasses import replace

import numpy as np
import pytest
from known_fleet import Plant, Resin, Tool, known_calibration

from wearfit.exposures.classes import CLASSES, STEELS
from wearfit.exposures.covariates import PLANT_COVARIATES
from wearfit.forecasts.kind_drawn import class_drawn, steel_drawn
from wearfit.forecasts.open_records import open_of_plant, open_of_resin

RNG = np.random.default_rng(12)
DRAWS = 4000
PREHARD, HARD, STAINLESS = (STEELS.index(name) for name in ("prehard", "hard", "stainless"))
STEEL = {
    "steel.prehard": 0.0,
    "steel.hard": 0.5 + 0.2 * RNG.standard_normal(DRAWS),
    "steel.stainless": 0.3 + 0.2 * RNG.standard_normal(DRAWS),
}
OFFSET = 0.1 * RNG.standard_normal(DRAWS)
COATED = 0.2 + 0.1 * RNG.standard_normal(DRAWS)
MAKER = 0.15 * RNG.standard_normal(DRAWS)


def rounded(log_life: np.ndarray) -> np.ndarray:
    """As a file keeps it."""
    return np.exp(log_life).astype(np.float32)


@pytest.mark.parametrize("coated", [False, True])
def test_the_steel_of_each_draw_is_found_under_coating_and_maker(coated: bool) -> None:
    kinds = RNG.choice([PREHARD, HARD, STAINLESS], DRAWS, p=[0.7, 0.2, 0.1])
    effect = np.choose(np.searchsorted([PREHARD, HARD, STAINLESS], kinds), [0.0, STEEL["steel.hard"], STEEL["steel.stainless"]])
    life = rounded(13.0 + OFFSET + effect + MAKER + (COATED if coated else 0.0))
    tool = Tool(life=life, log_band=13.0, service_class=CLASSES.index("103"))
    known = {**STEEL, "class_offset.103": OFFSET, "coating.nitride": COATED, "coating.chrome": 0.1 * RNG.standard_normal(DRAWS)}
    calibration = known_calibration([tool], samples=DRAWS, coefficients=known)
    makers = np.stack([0.15 * RNG.standard_normal(DRAWS), MAKER], axis=1)
    calibration = replace(calibration, draws=replace(calibration.draws, maker=makers))
    assert np.mean(steel_drawn(calibration, 0) == kinds) > 0.995  # where two steels last alike, rounding decides


def test_the_class_of_each_draw_is_found() -> None:
    kinds = RNG.choice(5, DRAWS, p=[0.1, 0.2, 0.5, 0.15, 0.05])
    bands = (14.0, 13.5, 12.8, 11.0, 6.0, 0.0)
    offsets = 0.1 * RNG.standard_normal((DRAWS, 5))
    life = rounded(np.array(bands)[kinds] + offsets[np.arange(DRAWS), kinds])
    calibration = known_calibration(
        [Tool(life=life, service_class=-1)],
        samples=DRAWS,
        coefficients={f"class_offset.{c}": offsets[:, i] for i, c in enumerate(CLASSES[:5])},
    )
    calibration = replace(calibration, identity=replace(calibration.identity, log_band=bands))
    assert np.mean(class_drawn(calibration, 0) == kinds) > 0.995


def test_a_coolant_temperature_tells_all_but_what_it_leaves_unsure() -> None:
    slope, unsure = 0.6 + 0.2 * RNG.standard_normal(DRAWS), RNG.standard_normal(DRAWS)
    calibration = known_calibration(
        [Tool()], samples=DRAWS, plants=[Plant(climate=slope * (0.4 + 0.15 * unsure))], coefficients={"slope.sweating_between": slope}
    )
    at = [c.name for c in PLANT_COVARIATES].index("sweating_between")
    level, spread = (np.zeros((1, len(PLANT_COVARIATES))) for _ in range(2))
    level[0, at], spread[0, at], spread[0, 1 - at] = 0.4, 0.15, 0.2
    calibration = replace(calibration, plants=replace(calibration.plants, level=level, spread=spread))
    (record,) = open_of_plant(calibration, 0)
    assert (record.record, record.of) == ("coolant", "Heath")
    kept = (0.06 / 0.15) ** 2
    effect = slope * 0.15 * unsure
    # What is told is t = (1 - kept) e + noise: Var(t) = Cov(t, e) = (1 - kept) Var(e).
    assert np.var(record.says) == pytest.approx((1.0 - kept) * np.var(effect), rel=0.06)
    assert np.cov(record.says, effect)[0, 1] == pytest.approx((1.0 - kept) * np.var(effect), rel=0.06)


def test_a_description_tells_the_part_of_a_resin_that_filler_and_acid_make() -> None:
    own, described = 0.2 * RNG.standard_normal(DRAWS), 0.3 + 0.4 * RNG.standard_normal(DRAWS)
    calibration = known_calibration([Tool()], samples=DRAWS, resins=[Resin(wear=own + described), Resin("known")], scales={"resin": 0.2})
    calibration = replace(calibration, resins=replace(calibration.resins, described=np.array([0, 1], dtype=np.int8)))
    (record,) = open_of_resin(calibration, 0)
    assert (record.record, record.of) == ("description", "plain")
    assert open_of_resin(calibration, 1) == ()
    # Two normals drawn given their sum: the part keeps its own variance, and all of its covariance with the sum.
    assert np.var(record.says) == pytest.approx(0.16, rel=0.06)
    assert np.cov(record.says, own + described)[0, 1] == pytest.approx(0.16, rel=0.06)
