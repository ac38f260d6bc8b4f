"""Storage on the wear clock, against arithmetic by hand; and what it is when there is none, or when it is switched off."""

from dataclasses import replace

import numpy as np
import pytest
from priors_text import switched_off
from small_fleet import exposures_of, prior_draws, small_fleet

from wearfit.exposures.table import Exposures
from wearfit.model.bands import band_offsets, class_log_band
from wearfit.model.clock import Clock, log_life, run_clock
from wearfit.model.data import CellColumns, RowColumns
from wearfit.model.layout import COEFFICIENTS, SHARES
from wearfit.model.levels_seen import levels_seen
from wearfit.model.likelihood import history_terms
from wearfit.model.parameters import Parameters, build_parameters
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import parse_priors, read_priors
from wearfit.model.storage import moved_by_storage, only_storage, storage_share, storage_spent

Array = np.ndarray

SHARE, PRESERVED, EXPONENT, RHO = 0.04, -0.7, 0.5, 0.4
TOOLS = "tool_id,service_class,cavity_steel,commissioned_on\nT1,103,prehard,2018-01-02"
RUNS = """
tool_id,plant_id,resin_id,started_on,ended_on,shots,setups
T1,Heath,plain,2018-01-10,2018-01-19,100000,0
T1,Heath,plain,2019-04-10,2019-04-19,60000,0
"""
STAY = "T1,2018-02-01,store,,,Shed,1\nT1,2019-04-01,take_out,,,,\n"  # 424 days
# Two plants, so that both have an effect; only one has ever run the tool.
PLANTS = "plant_id,conditioned,chloride_mg_m2_day,so2_mg_m2_day\nHeath,1,,\nShed,0,40,10"
CLIMATE = "plant_id,month,temp_c,rh_pct\n" + "\n".join(f"Shed,2018-{m:02d},15,75" for m in range(1, 13))
RESINS = "resin_id,family\nplain,ABS"
BAND = float(np.exp(class_log_band(read_priors(), band_offsets(read_priors()))[2]))  # of class 103


def exposed(events: str, runs: str = RUNS) -> Exposures:
    header = "tool_id,date,event,cause,last_good_on,plant_id,preserved\n"
    tables = {"tools": TOOLS, "runs": runs, "events": header + events, "plants": PLANTS, "climate": CLIMATE, "resins": RESINS}
    return exposures_of(tables)


def parameters(size: int, plant: float = 0.0) -> Parameters:
    values = np.zeros(len(COEFFICIENTS) + size)
    for name, value in (("log_storage", np.log(SHARE)), ("storage.preserved", PRESERVED), ("storage.corrosivity", EXPONENT)):
        values[COEFFICIENTS.index(name)] = value
    values[len(COEFFICIENTS) : len(COEFFICIENTS) + 2] = plant
    return Parameters(values, np.array([{"refurbish": RHO}.get(name, 0.7) for name in SHARES]))


def clock_of(exposures: Exposures, plant: float = 0.0) -> Clock:
    layout = layout_of(exposures)
    return run_clock(parameters(layout.size, plant), prepare(exposures, read_priors(), layout))


def of_stay(exposures: Exposures, days: float, preserved: float = 1.0) -> float:
    shed, hall = (exposures.climate.corrosivity_um[exposures.plant_ids.index(name)] for name in ("Shed", "Heath"))
    ratio = shed / hall
    return float(SHARE * np.exp(PRESERVED * preserved) * ratio**EXPONENT * days / 365.25 * BAND)


def test_a_stay_costs_its_share_of_a_reference_life() -> None:
    exposures = exposed(STAY)
    assert exposures.climate.corrosivity_um[exposures.plant_ids.index("Shed")] > 20.0
    answer = clock_of(exposures)
    assert answer.end == pytest.approx([160_000.0 + of_stay(exposures, 424)], rel=1e-9)
    assert answer.good == pytest.approx(answer.end)


def test_a_plants_care_is_not_its_stores() -> None:
    """A plant's effect and its resin's are of shots alone."""
    exposures = exposed(STAY)
    careful = clock_of(exposures, plant=np.log(2.0))
    assert careful.end == pytest.approx([320_000.0 + of_stay(exposures, 424)], rel=1e-9)


def test_idle_time_costs_what_goes_beyond_sixty_days_at_the_plant() -> None:
    days = (np.datetime64("2019-04-10") - np.datetime64("2018-01-19")).astype(int) - 60
    answer = clock_of(exposed(""))  # in a conditioned hall, not preserved
    assert answer.end == pytest.approx([160_000.0 + SHARE * days / 365.25 * BAND], rel=1e-9)


def test_found_unusable_in_store_lies_between_the_clock_at_its_start_and_at_its_end() -> None:
    exposures = exposed("T1,2018-02-01,store,,,Shed,1\nT1,2019-04-01,worn,,,,\nT1,2019-04-01,take_out,,,,\n", RUNS.rsplit("T1", 1)[0])
    layout = layout_of(exposures)
    data, p = prepare(exposures, read_priors(), layout), parameters(layout.size)
    answer = run_clock(p, data)
    assert answer.good == pytest.approx([100_000.0], rel=1e-9)
    assert answer.end == pytest.approx([100_000.0 + of_stay(exposures, 424)], rel=1e-9)
    terms = history_terms(p, answer, log_life(p, data), data)
    shape, eta = np.exp(p.coefficient("log_shape")), np.exp(log_life(p, data))
    assert terms.rise == pytest.approx((answer.end / eta) ** shape - (answer.good / eta) ** shape)
    assert terms.survived == pytest.approx(-((100_000.0 / eta) ** shape))


def test_a_stay_that_nobody_has_ended_moves_the_clock_and_tells_nothing() -> None:
    later = exposed(STAY, RUNS.rsplit("T1", 1)[0])
    answer = clock_of(later)
    assert answer.good == pytest.approx([100_000.0], rel=1e-9)
    assert answer.end == pytest.approx([100_000.0 + of_stay(later, 424)], rel=1e-9)


def test_a_refurbishment_takes_away_what_a_stay_wore() -> None:
    exposures = exposed(STAY + "T1,2019-04-02,refurbish,planned,,,\n")
    answer = clock_of(exposures)
    first = 100_000.0 + of_stay(exposures, 424)
    assert answer.end == pytest.approx([first, (1.0 - RHO) * first + 60_000.0], rel=1e-9)
    layout = layout_of(exposures)
    data, p = prepare(exposures, read_priors(), layout), parameters(layout.size)
    alone = storage_spent(p, only_storage(data, exposures))
    assert alone == pytest.approx(np.array([1.0, 1.0 - RHO]) * of_stay(exposures, 424), rel=1e-9)


def test_storage_is_what_the_clock_is_longer_by() -> None:
    """On a fleet with one of everything, against the clock with its storage cells emptied."""
    fleet = small_fleet()
    layout = layout_of(fleet)
    data = prepare(fleet, read_priors(), layout)
    at = prior_draws(data, layout, 5, seed=3)
    p = build_parameters(at.z, at.share, at.w, at.slot, data, layout)
    emptied = data.cell.copy()
    emptied[fleet.cells.years > 0, CellColumns.shots] = 0.0
    without = run_clock(p, replace(data, cell=emptied)).end
    assert (fleet.cells.years > 0).sum() > 10
    np.testing.assert_allclose(storage_spent(p, only_storage(data, fleet)), run_clock(p, data).end - without, rtol=1e-9, atol=1e-6)


def test_switched_off_it_costs_nothing() -> None:
    fleet = small_fleet()
    layout = layout_of(fleet)
    data = prepare(fleet, parse_priors(switched_off("storage.rate")), layout)
    at = prior_draws(data, layout, 3, seed=4)
    p = build_parameters(at.z, at.share, at.w, at.slot, data, layout)
    assert storage_spent(p, only_storage(data, fleet)).max() < 1e-6  # of a shot


def test_levels_are_not_seen_by_what_stood_there() -> None:
    exposures = exposed(STAY)
    assert dict(zip(exposures.plant_ids, levels_seen(exposures).plant, strict=True)) == {"Heath": True, "Shed": False}


def test_how_far_it_moved_the_median_of_what_is_left() -> None:
    """With S = exp(-(D / eta)^k), half of the tools good at D are worn at eta ((D / eta)^k + log 2)^(1 / k)."""
    spent, stood, life, shape = 60.0, 20.0, 100.0, 2.0
    left = [life * np.sqrt((at / life) ** 2 + np.log(2.0)) - at for at in (spent, spent - stood)]
    draws = np.full((3, 2), np.nan)
    draws[:, 0] = 1.0
    moved = moved_by_storage(spent * draws, stood * draws, np.log(life) * np.ones((3, 2)), np.full(3, shape))
    assert moved[0] == pytest.approx(np.log(left[0] / left[1]))
    assert np.isnan(moved[1])


def test_the_share_is_that_of_each_draw() -> None:
    spent = np.array([[100.0, 0.0, np.nan], [50.0, 0.0, np.nan], [200.0, 0.0, np.nan]])
    stood = np.array([[10.0, 0.0, np.nan], [20.0, 0.0, np.nan], [40.0, 0.0, np.nan]])
    known, new, unknown = storage_share(spent, stood, (0.0, 0.5, 1.0))
    assert known == pytest.approx([0.1, 0.2, 0.4])
    assert new.tolist() == [0.0, 0.0, 0.0]
    assert np.isnan(unknown).all()


def test_rows_keep_their_places_without_their_shots() -> None:
    fleet = small_fleet()
    data = prepare(fleet, read_priors(), layout_of(fleet))
    alone = only_storage(data, fleet)
    others = [c for c in range(data.row.shape[1]) if not RowColumns.boundaries.start <= c < RowColumns.boundaries.stop]
    assert np.array_equal(alone.row[:, others], data.row[:, others])
    assert alone.row[-1, RowColumns.boundaries][-1] == len(alone.cell)
