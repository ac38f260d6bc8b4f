"""The one list of covariates, and the tables that each takes its values from."""

import numpy as np
import pytest
from histories import exposures_of, run

from wearfit.exposures.classes import STEEL_GROUPS
from wearfit.exposures.covariates import (
    COVARIATES,
    JOB_COVARIATES,
    MONTH_COVARIATES,
    PLANT_COVARIATES,
    Covariate,
    Jobs,
    Months,
    PlantLevels,
    columns,
    spreads,
)
from wearfit.exposures.places import SWEATING_STEP, YEARLY_MEAN, calendar_months, plant_levels, recorded_places, unknown_plant

N = 8
JOBS = Jobs(
    resin=np.array([0, 0, 0, 1, 1, -1, 1, 2]),
    steel_group=np.array(
        [STEEL_GROUPS.index(g) for g in ("soft", "hard", "stainless", "soft", "stainless", "hard", "soft_plated", "hard_plated")]
    ),
    modifications=np.array([0, 1, 2, 3, 0, 0, 0, 0]),
    speed=np.array([0.0, 1.0, -1.0, 0.5, 0.0, 0.0, 0.0, 0.0]),
    filler=np.array([3.0, 3.0, 3.0, 0.0, 0.0, 0.0, 2.0, 2.0]),
    corrosive=np.array([0.0, 0.0, 0.0, 1.0, 1.0, 0.0, 1.0, 1.0]),
)
LEVELS = PlantLevels(np.linspace(0, 1, N), np.full(N, 0.1), np.linspace(0, 2, N), np.full(N, 0.2))
MONTHS = Months(np.linspace(-0.3, 0.3, N))
TABLES = {"plant": (LEVELS, PLANT_COVARIATES), "month": (MONTHS, MONTH_COVARIATES), "job": (JOBS, JOB_COVARIATES)}


@pytest.mark.parametrize("covariate", COVARIATES, ids=lambda c: c.name)
def test_every_covariate_gives_one_finite_value_a_row_of_its_table(covariate: Covariate) -> None:
    table, of_table = TABLES[covariate.table]
    values = np.asarray(covariate.values(table), dtype=float)
    assert values.shape == (N,)
    assert np.isfinite(values).all()
    assert np.ptp(values) > 0
    np.testing.assert_array_equal(columns(table)[:, of_table.index(covariate)], values)
    assert covariate.meaning
    assert covariate.per
    if covariate.spread is not None:
        assert covariate.table == "plant"
        assert (covariate.spread(LEVELS) > 0).all()


def test_names_are_unique_and_each_covariate_belongs_to_one_table() -> None:
    assert len({c.name for c in COVARIATES}) == len(COVARIATES)
    assert sorted([*PLANT_COVARIATES, *MONTH_COVARIATES, *JOB_COVARIATES], key=COVARIATES.index) == list(COVARIATES)


def test_the_reference_is_zero_in_every_covariate() -> None:
    """An unfilled resin that does not corrode, unmodified at the usual speed, in a conditioned hall."""
    nothing = np.zeros(1, dtype=np.int64)
    for table in (
        PlantLevels(nothing, nothing, nothing, nothing),
        Months(nothing),
        Jobs(nothing - 1, nothing, nothing, nothing, nothing, nothing),
    ):
        assert not columns(table).any()


def value(name: str) -> list[float]:
    return columns(JOBS)[:, [c.name for c in JOB_COVARIATES].index(name)].tolist()


def test_filler_and_corrosion_go_to_the_steel_that_meets_them() -> None:
    assert value("filler_soft") == [3, 0, 0, 0, 0, 0, 2, 0]
    assert value("filler_hard") == [0, 3, 3, 0, 0, 0, 0, 2]
    assert value("corrosive_plain") == [0, 0, 0, 1, 0, 0, 0, 0]
    assert value("corrosive_stainless") == [0, 0, 0, 0, 1, 0, 0, 0]
    assert value("corrosive_plated") == [0, 0, 0, 0, 0, 0, 1, 1]


def test_spreads_are_those_of_the_covariates_that_have_one() -> None:
    expected = np.stack([np.zeros(N) if c.spread is None else c.spread(LEVELS) for c in PLANT_COVARIATES], axis=1)
    np.testing.assert_array_equal(spreads(LEVELS), expected)
    assert (spreads(LEVELS) > 0).any()


# Places.

AIR = [{"plant_id": "Salt Quay", "month": f"2019-{m:02d}", "temp_c": str(5 + 2 * m), "rh_pct": "80"} for m in range(1, 13)]
SITES = [{"plant_id": "Heath", "conditioned": "1"}, {"plant_id": "Salt Quay", "coolant_temp_c": "15"}]


def test_level_and_departure_of_a_month_are_its_sweating() -> None:
    runs = [run("2020-01-06", "2020-04-15", plant_id="Salt Quay"), run("2020-05-06", "2020-05-15")]
    exposures = exposures_of(runs, climate=AIR, plants=SITES)
    climate, places = exposures.climate, exposures.places
    month = np.array([600, 601, 602, 603])
    first = int(climate.months[0].astype(np.int64))
    at_quay = places.plant == exposures.plant_ids.index("Salt Quay")
    level = plant_levels(climate).sweating[1]
    assert places.months.sweating[at_quay] + level == pytest.approx(climate.sweating[1, month - first], abs=SWEATING_STEP / 2)
    assert np.ptp(places.months.sweating[at_quay]) > 2 * SWEATING_STEP
    assert set(places.months.sweating[~at_quay]) == {0.0}


def test_the_months_of_a_year_depart_from_its_mean_by_nothing_in_all() -> None:
    climate = exposures_of([run("2020-01-06", "2020-01-15", plant_id="Salt Quay")], climate=AIR, plants=SITES).climate
    by_plant = calendar_months(climate).sweating.reshape(2, 12)
    assert by_plant.sum(axis=1) == pytest.approx([0, 0], abs=1e-12)
    assert plant_levels(climate).sweating[:, None] + by_plant == pytest.approx(climate.sweating_season)


def test_the_yearly_mean_departs_by_nothing() -> None:
    climate = exposures_of([run("2020-01-06", "2020-01-15", plant_id="Salt Quay")], climate=AIR, plants=SITES).climate
    assert recorded_places(np.array([1, 1]), np.array([YEARLY_MEAN, 600]), climate).months.sweating[0] == 0.0


def test_a_plant_of_which_nothing_is_known_is_that_of_a_plant_without_records() -> None:
    exposures = exposures_of([run("2020-01-06", "2020-01-15", plant_id="Nowhere")])
    nowhere = exposures.plant_ids.index("Nowhere")
    levels, unknown = plant_levels(exposures.climate), unknown_plant()
    for name in ("sweating", "sweating_sd", "log_corrosivity", "log_corrosivity_sd"):
        assert getattr(levels, name)[nowhere] == pytest.approx(getattr(unknown, name)[0])
