"""What a resin brings to the wear of a steel."""

import numpy as np
import pytest
from histories import Cells, exposures_of, run

from wearfit.exposures.resins import DEFAULT_FILLER_SHARE, MINERAL_SHARE, Resins, filler_equivalent, is_corrosive

ONE_RUN = [run("2020-01-06", "2020-01-15", resin_id="R")]


def described(**cells: str) -> Resins:
    return exposures_of(ONE_RUN, resins=[{"resin_id": "R", **cells}]).resins


@pytest.mark.parametrize("kind", ["GF", "gf", "GF30", "G", "GB", "GM", "GX", "CF", "C", "GF+MF"])
def test_glass_in_any_form_and_carbon_fibre_wear_in_full(kind: str) -> None:
    assert filler_equivalent(30.0, kind) == pytest.approx(3.0)


@pytest.mark.parametrize("kind", ["T", "M", "MF", "MD20", "talc", "K", "CD"])
def test_minerals_wear_less(kind: str) -> None:
    assert filler_equivalent(20.0, kind) == pytest.approx(2.0 * MINERAL_SHARE)


@pytest.mark.parametrize("kind", ["", "  ", "30"])
def test_a_filler_of_no_stated_kind_lies_between(kind: str) -> None:
    assert filler_equivalent(20.0, kind) == pytest.approx(2.0 * DEFAULT_FILLER_SHARE)
    assert MINERAL_SHARE < DEFAULT_FILLER_SHARE < 1.0


def test_no_share_stated_is_no_filler() -> None:
    assert filler_equivalent(np.nan, "GF") == 0.0
    assert described(family="PP").filler.tolist() == [0.0]


@pytest.mark.parametrize(
    ("family", "corrosive"),
    [
        ("PVC", True),
        ("PVC-P", True),
        ("pvc-u", True),
        ("POM", True),
        ("POM-C", True),
        ("PVDC", True),
        ("ABS", False),
        ("PP", False),
        ("PVCX", False),
    ],
)
def test_families_that_attack_steel(family: str, corrosive: bool) -> None:
    assert is_corrosive(family) is corrosive


@pytest.mark.parametrize(("flag", "expected"), [("", 1.0), ("0", 0.0), ("1", 1.0)])
def test_what_the_owner_says_comes_before_the_family(flag: str, expected: float) -> None:
    assert described(family="POM", corrosive=flag).corrosive.tolist() == [expected]


def test_a_resin_that_nothing_describes_is_marked() -> None:
    exposures = exposures_of([*ONE_RUN, run("2020-02-01", "2020-02-02", resin_id="S")], resins=[{"resin_id": "S", "family": "PVC"}])
    assert exposures.resins.resin_id == ("R", "S")
    assert exposures.resins.described.tolist() == [False, True]
    assert exposures.resins.corrosive.tolist() == [0.0, 1.0]


def test_resins_reach_the_jobs_by_name_whatever_the_order_of_rows() -> None:
    resins: list[Cells] = [
        {"resin_id": "Z", "family": "PA66", "filler_pct": "30", "filler_kind": "GF"},
        {"resin_id": "A", "family": "PVC"},
        {"resin_id": "unused", "family": "PP"},
    ]
    runs = [run("2020-01-06", "2020-01-15", 10, resin_id="Z"), run("2020-01-16", "2020-01-17", 20, resin_id="A")]
    exposures = exposures_of(runs, resins=resins)
    by_shots = dict(zip(exposures.cells.shots.tolist(), exposures.cells.job.tolist(), strict=True))
    assert exposures.jobs.filler[by_shots[10]] == 3.0
    assert exposures.jobs.corrosive[by_shots[10]] == 0.0
    assert exposures.jobs.filler[by_shots[20]] == 0.0
    assert exposures.jobs.corrosive[by_shots[20]] == 1.0
