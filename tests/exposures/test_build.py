"""What a tool had behind it when its records begin, and the classes, bands and steels that it may be of."""

import numpy as np
import pytest
from histories import event, exposures_of, run, shots_by_life, tool

from wearfit.exposures.classes import BANDED, CLASSES, HARD_FROM_HRC, OWN_BAND, POSSIBLE_STEELS, STEEL_GROUPS, STEELS, USUAL_STEEL
from wearfit.exposures.past import OPENINGS
from wearfit.exposures.table import Exposures
from wearfit.records.coatings import COATINGS

FIRST = run("2020-03-01", "2020-03-10", 1000)  # 60 days after commissioning


def entry(*events, first: str = "2020-03-01", **of_tool: str) -> float:
    exposures = exposures_of([run(first, "2020-12-31", 1000)], events, [tool(**of_tool)])
    return float(exposures.tools.entry_shots[0])


def test_a_first_run_within_sixty_days_of_commissioning_starts_at_zero() -> None:
    assert entry(first="2020-03-01") == 0
    assert np.isnan(entry(first="2020-03-02"))


@pytest.mark.parametrize(
    ("stated", "expected"),
    [
        ({"opening_life_shots": "800"}, 800),
        ({"opening_life_shots": "0"}, 0),
        ({"opening_shots": "0"}, 0),
        ({"opening_shots": "5000", "opening_life_shots": "800"}, 800),
        ({"opening_shots": "5000", "history_from": "2020-01-01"}, 5000),
        ({"opening_shots": "5000", "history_from": "2020-01-02"}, np.nan),
        ({"opening_shots": "5000"}, np.nan),
        ({"history_from": "2019-01-01"}, np.nan),
    ],
)
@pytest.mark.parametrize("first", ["2020-06-01", "2020-02-01"])
def test_what_is_stated_of_the_opening_holds_and_the_rest_is_unknown_never_zero(
    stated: dict[str, str], expected: float, first: str
) -> None:
    if first == "2020-02-01" and not stated.keys() & {"opening_shots", "opening_life_shots"}:
        expected = 0
    assert entry(first=first, **stated) == pytest.approx(expected, nan_ok=True)


def test_a_recorded_renewal_before_the_first_run_parts_the_two_counts() -> None:
    stated = {"opening_shots": "5000", "history_from": "2020-01-01"}
    assert np.isnan(entry(event("2020-02-01", "retool", cause="wear"), first="2020-06-01", **stated))
    assert np.isnan(entry(event("2020-02-01", "modify", renewed_share="0.5"), first="2020-06-01", **stated))
    assert entry(event("2020-02-01", "modify"), first="2020-06-01", **stated) == 5000
    assert entry(event("2020-07-01", "retool", cause="wear"), first="2020-06-01", **stated) == 5000
    other = exposures_of(
        [run("2020-06-01", "2020-06-02"), run("2020-06-01", "2020-06-02", tool_id="T2")],
        [event("2020-02-01", "retool", cause="wear", tool_id="T2")],
        [tool(**stated), tool("T2", **stated)],
    )
    assert other.tools.entry_shots == pytest.approx([5000, np.nan], nan_ok=True)


def test_a_tool_that_has_not_run_is_new_within_sixty_days_of_its_commissioning() -> None:
    tools = [tool(), tool("T2", commissioned_on="2020-10-01"), tool("T3", commissioned_on="2020-12-01")]
    assert exposures_of([FIRST], tools=tools, as_of="2020-12-31").tools.entry_shots == pytest.approx([0, np.nan, 0], nan_ok=True)


def test_an_unknown_opening_is_weighed() -> None:
    exposures = exposures_of([run("2020-06-01", "2020-06-10")], tools=[tool()])
    assert exposures.known_entry.tolist() == [False]
    assert exposures.candidates.opening.tolist() == list(range(OPENINGS))
    assert shots_by_life(exposures) == [1001] * OPENINGS  # one shot stands for those that the model weighs


# Classes, bands and steels.


def candidates(**of_tool: str) -> Exposures:
    return exposures_of([FIRST], tools=[tool(**of_tool)])


@pytest.mark.parametrize("service_class", CLASSES[:BANDED])
def test_a_tool_of_known_class_and_steel_is_one_candidate(service_class: str) -> None:
    usual = USUAL_STEEL[CLASSES.index(service_class)]
    c = candidates(service_class=service_class, cavity_steel=usual).candidates
    assert c.service_class.tolist() == [CLASSES.index(service_class)]
    assert (c.steel.tolist(), c.usual_steel.tolist(), c.known.tolist()) == ([STEELS.index(usual)], [STEELS.index(usual)], [True])


@pytest.mark.parametrize("corrosive", [False, True])
@pytest.mark.parametrize("service_class", CLASSES[:BANDED])
def test_a_tool_of_unknown_steel_may_be_of_each_that_its_class_is_cut_in(service_class: str, corrosive: bool) -> None:
    """Stainless only where a corrosive resin ran: elsewhere it wears as hardened steel does."""
    resins = [{"resin_id": "R1", "family": "PVC" if corrosive else "ABS"}]
    c = exposures_of([FIRST], tools=[tool(service_class=service_class, cavity_steel="")], resins=resins).candidates
    possible = {s for s in POSSIBLE_STEELS[CLASSES.index(service_class)] if corrosive or s != "stainless"}
    assert {STEELS[s] for s in c.steel} == possible and len(c.steel) == len(possible)
    assert {STEELS[s] for s in c.usual_steel} == {USUAL_STEEL[CLASSES.index(service_class)]}
    assert USUAL_STEEL[CLASSES.index(service_class)] in possible


@pytest.mark.parametrize("band", [{"band_low": "30000"}, {"band_high": "90000"}, {"band_low": "30000", "band_high": "90000"}])
@pytest.mark.parametrize("service_class", ["", "101"])
def test_an_own_band_overrides_the_class(band: dict[str, str], service_class: str) -> None:
    exposures = candidates(service_class=service_class, cavity_steel="hard" if service_class else "", **band)
    assert exposures.candidates.service_class.tolist() == [OWN_BAND]
    assert exposures.candidates.known.tolist() == [True]
    assert exposures.tools.band_low == pytest.approx([float(band.get("band_low", "nan"))], nan_ok=True)
    assert exposures.tools.band_high == pytest.approx([float(band.get("band_high", "nan"))], nan_ok=True)


def test_a_tool_of_neither_class_nor_band_may_be_of_any_class() -> None:
    c = candidates(service_class="", cavity_steel="").candidates
    assert c.service_class.tolist() == list(range(BANDED))
    assert [STEELS[s] for s in c.steel] == list(USUAL_STEEL)
    np.testing.assert_array_equal(c.steel, c.usual_steel)
    assert not c.known.any()


@pytest.mark.parametrize("steel", STEELS)
def test_a_recorded_steel_shifts_against_the_usual_one_of_each_class(steel: str) -> None:
    known = candidates(service_class="102", cavity_steel=steel).candidates
    assert (STEELS[known.steel[0]], STEELS[known.usual_steel[0]]) == (steel, "hard")
    unknown = candidates(service_class="", cavity_steel=steel).candidates
    assert {STEELS[s] for s in unknown.steel} == {steel}
    assert [STEELS[s] for s in unknown.usual_steel] == list(USUAL_STEEL)


@pytest.mark.parametrize("steel", ["", *STEELS])
def test_a_band_of_the_tools_own_shifts_for_no_steel_unless_its_class_is_named(steel: str) -> None:
    own = candidates(service_class="", band_high="9000", cavity_steel=steel).candidates
    np.testing.assert_array_equal(own.steel, own.usual_steel)
    named = candidates(service_class="101", band_high="9000", cavity_steel=steel).candidates
    assert STEELS[named.usual_steel[0]] == "hard"
    assert [STEELS[s] for s in named.steel] == [steel or "hard"]


@pytest.mark.parametrize(
    ("steel", "group"), [("prehard", "soft"), ("aluminium", "soft"), ("copper_alloy", "soft"), ("hard", "hard"), ("stainless", "stainless")]
)
def test_steels_wear_in_three_groups(steel: str, group: str) -> None:
    assert STEEL_GROUPS[candidates(cavity_steel=steel).candidates.steel_group[0]] == group


@pytest.mark.parametrize(
    ("stated", "expected"),
    [
        ({"hardness_hrc": str(HARD_FROM_HRC)}, "hard"),
        ({"hardness_hrc": str(HARD_FROM_HRC - 0.1)}, "prehard"),
        ({"hardness_hrc": "52", "cavity_steel": "stainless"}, "stainless"),
    ],
)
def test_a_hardness_stands_for_the_name_of_the_steel_where_there_is_none(stated: dict[str, str], expected: str) -> None:
    stated = {"cavity_steel": "", **stated}
    assert [STEELS[s] for s in candidates(service_class="104", **stated).candidates.steel] == [expected]


@pytest.mark.parametrize(
    ("steel", "coating", "group"),
    [
        ("prehard", "chrome", "soft_plated"), ("hard", "nickel", "hard_plated"), ("hard", "pvd", "hard"),
        ("stainless", "chrome", "stainless"), ("aluminium", "", "soft"), ("prehard", "teflon", "soft"),
    ],
)  # fmt: skip
def test_plating_parts_the_groups_in_corrosive_resins(steel: str, coating: str, group: str) -> None:
    c = candidates(cavity_steel=steel, coating=coating).candidates
    assert STEEL_GROUPS[c.steel_group[0]] == group
    assert c.coating.tolist() == [COATINGS.index(coating) if coating in COATINGS else -1]
    # A band written for this very tool counts its coating already.
    own = candidates(service_class="", band_high="9000", cavity_steel=steel, coating=coating).candidates
    assert own.coating.tolist() == [-1] and STEEL_GROUPS[own.steel_group[0]] == group


def test_blank_cells_are_minus_one_or_one_cavity() -> None:
    tools = exposures_of([FIRST], tools=[tool(), tool("T2", design_id="D", maker_id="M", cavities="4")]).tools
    assert (tools.design.tolist(), tools.maker.tolist(), tools.cavities.tolist()) == ([-1, 0], [-1, 0], [1, 4])


def test_plants_and_resins_are_all_that_any_table_names() -> None:
    exposures = exposures_of(
        [run("2020-03-01", "2020-03-10", plant_id="run", resin_id="ran")],
        [event("2020-05-01", "move", plant_id="moved")],
        [tool(plant_id="home")],
        plants=[{"plant_id": "described"}],
        resins=[{"resin_id": "described", "family": "PP"}],
        plan=[{"month": "2022-01", "tool_id": "T1", "shots": "5", "plant_id": "planned", "resin_id": "to run"}],
    )
    assert exposures.plant_ids == ("described", "home", "moved", "planned", "run")
    assert exposures.resins.resin_id == ("described", "ran", "to run")
    assert exposures.climate.plant_ids == exposures.plant_ids
