"""What a reading now would narrow, against futures simulated by hand; by when to look at a tool, against the law's own quantiles."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from known_fleet import AS_OF, GROWTH_SD, LIFE_SD, Feature, Plant, Read, Tool, day_number, known_calibration
from scipy import stats

from wearfit.calibration import Calibration
from wearfit.errors import Refusal
from wearfit.forecasts.measure import what_to_measure
from wearfit.forecasts.narrowing import share_told
from wearfit.forecasts.news import NewReading, News
from wearfit.forecasts.reading_ahead import to_be_read
from wearfit.growth import FAULT, FAULT_NOISE

Array = np.ndarray

DRAWS = 2000
RNG = np.random.default_rng(21)
SHAPE = np.exp(RNG.normal(np.log(3.0), 0.1, DRAWS))
LIFE = 1000.0 * np.exp(0.3 * RNG.standard_normal(DRAWS))
SPENT = 450.0 * np.exp(0.15 * RNG.standard_normal(DRAWS))
LEVEL = 0.1 * RNG.standard_normal(DRAWS)
GROWTH = 1.1 * np.exp(0.1 * RNG.standard_normal(DRAWS))
PER_MONTH = 25.0
SEEN = (Read(AS_OF - dt.timedelta(days=300), "flash", 0.22, 0.5), Read(AS_OF - dt.timedelta(days=100), "flash", 0.3, 0.8))
FAR = 60.0  # years, which no life of these reaches


def fleet(readings: Sequence[Read] = (), noise: float = 0.2, **given: Any) -> Calibration:
    tool = Tool(spent=SPENT, life=LIFE, stated=PER_MONTH, readings=readings, trail=((dt.date(2023, 12, 31), 0.0), (AS_OF, 1.0)))
    return known_calibration([replace(tool, **given)], shape=SHAPE, samples=DRAWS, features={"flash": Feature(LEVEL, GROWTH, noise)})


def only(calibration: Calibration, **asked: Any) -> dict[str, Any]:
    (tool,) = what_to_measure(calibration, **asked).tools
    return tool


def share_of_reading(tool: dict[str, Any]) -> float:
    """Share of the variance that the reading is told to take away."""
    (record,) = [r for r in tool["records"] if r["record"] == "reading"]
    return float(1.0 - (record["range_months"] / tool["range_months"]) ** 2)


def error_density(error: Array, noise: float) -> Array:
    sound, fault = (stats.t.pdf(error / scale, 4) / scale for scale in (noise, FAULT_NOISE))
    return np.asarray((1.0 - FAULT) * sound + FAULT * fault)


def simulated_share(readings: Sequence[Read], noise: float, futures: int = 400) -> float:
    """The same of many lives drawn by hand, weighed by their readings, and sorted by what another one shows."""
    rng = np.random.default_rng(5)
    shape, life, spent, level, growth = (np.repeat(a, futures) for a in (SHAPE, LIFE, SPENT, LEVEL, GROWTH))
    n = len(life)
    capacity = life * ((spent / life) ** shape + rng.standard_exponential(n)) ** (1.0 / shape)
    offset, slope = level + LIFE_SD * rng.standard_normal(n), growth + GROWTH_SD * rng.standard_normal(n)
    weights = np.ones(n)
    for read in readings:
        weights *= error_density(np.log(read.way) - offset - slope * np.log(float(read.share) * spent / capacity), noise)  # type: ignore[arg-type]
    if readings:
        # A draw counts as the calibration has it, which saw these readings; among its futures the readings choose.
        weights /= np.repeat(weights.reshape(DRAWS, futures).sum(axis=1), futures)
    scale = np.where(rng.random(n) < FAULT, FAULT_NOISE, noise)
    shown = offset + slope * np.log(spent / capacity) + scale * rng.standard_t(4, n)
    left = capacity - spent
    order = np.argsort(shown)
    w, left = weights[order], left[order]
    bins = np.minimum((np.cumsum(w) / w.sum() * 200).astype(int), 199)
    mass, total = np.bincount(bins, w), np.bincount(bins, w * left)
    mean = (w @ left) / w.sum()
    return float((mass @ (total / mass - mean) ** 2) / (w @ (left - mean) ** 2))


@pytest.mark.parametrize("noise", [0.05, 0.2, 0.6])
@pytest.mark.parametrize("readings", [(), SEEN], ids=["the first", "a third"])
def test_a_reading_narrows_as_simulated_lives_say(readings: Sequence[Read], noise: float) -> None:
    told = share_of_reading(only(fleet(readings, noise), horizon_years=FAR))
    # Of one future for each of 2,000 draws a share is known to some .02, two standard errors .04.
    assert told == pytest.approx(simulated_share(readings, noise), abs=0.04)


def test_a_noisier_gauge_narrows_less() -> None:
    shares = [share_of_reading(only(fleet((), noise), horizon_years=FAR)) for noise in (0.03, 0.1, 0.3, 1.0, 3.0)]
    assert shares == sorted(shares, reverse=True)
    assert shares[0] > 3.0 * shares[-1]


def test_a_coarser_gauge_narrows_less() -> None:
    calibration = fleet((), 0.05)
    capacity = LIFE * ((SPENT / LIFE) ** SHAPE + RNG.standard_exponential(DRAWS)) ** (1.0 / SHAPE)
    used, even = np.log(SPENT / capacity), np.ones(DRAWS)
    shares = []
    for step in (None, 0.1, 0.3, 0.6, 2.0):
        reading = to_be_read(calibration, "cup-1", "flash", None, used, used, step)
        shares.append(share_told(capacity - SPENT, even, reading.chances(even, np.random.default_rng(6))))
    assert shares == sorted(shares, reverse=True)
    assert shares[-1] < 0.5 * shares[0]


def test_nothing_is_to_be_read_of_a_new_surface() -> None:
    assert share_of_reading(only(fleet(spent=0.01), horizon_years=FAR)) < 0.01


def test_a_reading_since_the_calibration_leaves_less_to_be_read() -> None:
    said = NewReading("cup-1", AS_OF, "flash", float(np.log(0.45)), False, 0.0, True)
    before, after = (only(fleet(), horizon_years=FAR, news=news) for news in (News(), News((said,))))
    assert after["range_months"] < before["range_months"]
    assert share_of_reading(after) < share_of_reading(before)


def test_a_known_use_takes_the_spread_that_use_brings() -> None:
    """All but next to no luck: what is left of the range is the use's, and a plan takes all of it away."""
    recent = [0.0, 60.0] * 12
    tool = Tool(spent=400.0, life=1000.0, recent=recent)
    of_many = known_calibration([tool], shape=400.0, samples=16000)  # the share of 2,000 draws strays by .03, of these by .008
    (told,) = what_to_measure(of_many, horizon_years=FAR).tools
    (use,) = [r for r in told["records"] if r["record"] == "use"]
    assert use["narrows_months"] > 0.75 * told["range_months"]
    assert told["records"][0] == use
    stated = only(known_calibration([replace(tool, stated=30.0)], shape=400.0), horizon_years=FAR)
    assert [r["record"] for r in stated["records"]] == ["reading"]


def test_the_day_to_look_by_is_the_laws_quantile() -> None:
    tool = Tool(spent=300.0, life=1000.0, stated=PER_MONTH, due=day_number(AS_OF) + 30.0)
    calibration = known_calibration([tool], shape=3.0, samples=4000)
    law = stats.weibull_min(3.0, scale=1000.0)
    for unnoticed in (0.02, 0.05, 0.2):
        worn = law.ppf(1.0 - (1.0 - unnoticed) * law.sf(300.0))
        months = (worn - 300.0) / PER_MONTH
        said = only(calibration, unnoticed=unnoticed)
        assert said["inspect_for"] == "wear"
        ahead = (dt.date.fromisoformat(said["inspect_by"]) - AS_OF).days
        assert ahead == pytest.approx(months * 365.25 / 12.0, abs=3.0)


def test_an_order_day_that_is_earlier_sets_the_day_two_weeks_before() -> None:
    tool = Tool(spent=300.0, life=1000.0, stated=PER_MONTH)
    calibration = known_calibration([tool], shape=3.0, samples=4000, lead_weeks=20.0)
    said = only(calibration, tolerance=0.05)
    law = stats.weibull_min(3.0, scale=1000.0)
    months = (law.ppf(1.0 - 0.95 * law.sf(300.0)) - 300.0) / PER_MONTH
    assert said["inspect_for"] == "order"
    ahead = (dt.date.fromisoformat(said["inspect_by"]) - AS_OF).days
    assert ahead == pytest.approx(months * 365.25 / 12.0 - 7.0 * 20.0 - 14.0, abs=3.0)
    late = only(known_calibration([tool], shape=3.0, lead_weeks=100.0))
    assert late["inspect_by"] == AS_OF.isoformat()


def test_tools_that_stand_still_or_cannot_be_dated_say_only_why() -> None:
    tools = [
        Tool("held", status="held", spent=300.0, stated=PER_MONTH), Tool("worn", status="worn", spent=300.0, stated=PER_MONTH),
        Tool("dark", spent=np.nan, stated=PER_MONTH), Tool("unused", spent=300.0),
    ]  # fmt: skip
    held, worn, dark, unused = what_to_measure(known_calibration(tools)).tools
    for still in (held, worn):
        assert (still["records"], still["inspect_by"], still["range_months"]) == ([], None, None)
    for wanting, record in ((dark, "opening"), (unused, "use")):
        assert [r["record"] for r in wanting["records"]] == [record]
        assert wanting["range_months"] is None
        assert wanting["problem"]
    assert dark["inspect_by"] is None


def test_a_plants_record_counts_for_every_tool_there() -> None:
    slope = 1.5
    climate = slope * (0.4 + 0.15 * RNG.standard_normal(DRAWS))
    tools = [Tool(f"cup-{i}", spent=SPENT * np.exp(climate), life=LIFE, stated=PER_MONTH, plant=i // 2) for i in range(3)]
    calibration = known_calibration(
        tools, shape=SHAPE, samples=DRAWS, plants=[Plant(climate=climate), Plant("Moor")], coefficients={"slope.sweating_between": slope}
    )
    spread, level = calibration.plants.spread.copy(), calibration.plants.level.copy()
    spread[:, 1], spread[0, 0], level[0, 0] = 0.2, 0.15, 0.4
    calibration = replace(calibration, plants=replace(calibration.plants, spread=spread, level=level))
    found = what_to_measure(calibration)
    (of_plant,) = found.plants
    assert (of_plant["record"], of_plant["of"], of_plant["tools"]) == ("coolant", "Heath", 2)
    each = [r["narrows_months"] for tool in found.tools for r in tool["records"] if r["record"] == "coolant"]
    assert len(each) == 2
    assert min(each) > 0.0
    assert of_plant["narrows_months"] == pytest.approx(sum(each))
    assert found.resins == ()


@pytest.mark.parametrize("unnoticed", [0.0, 1.0, -0.1])
def test_a_risk_that_is_none_is_refused(unnoticed: float) -> None:
    with pytest.raises(Refusal):
        what_to_measure(known_calibration([Tool()]), unnoticed=unnoticed)


def test_the_answer_of_a_tool_does_not_depend_on_what_else_is_asked() -> None:
    tools = [Tool(f"cup-{i}", spent=SPENT, life=LIFE, stated=PER_MONTH) for i in range(3)]
    calibration = known_calibration(tools, shape=SHAPE, samples=DRAWS)
    assert what_to_measure(calibration, tools=["cup-1"]).tools[0] == what_to_measure(calibration).tools[1]
