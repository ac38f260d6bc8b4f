"""From exposures to the model's arrays: what each number stands for."""

from dataclasses import fields, replace

import numpy as np
import pytest
from priors_text import changed, own_tables
from small_fleet import CLIMATE, EVENTS, PLANTS, RESINS, RUNS, TOOLS, exposures_of, small_fleet

from wearfit.errors import Refusal
from wearfit.exposures.classes import BANDED, CLASSES, STEELS, setup_share
from wearfit.exposures.table import Exposures
from wearfit.model.bands import band_offsets, class_log_band, log_band
from wearfit.model.clock import log_job, log_life, log_place
from wearfit.model.data import CandidateColumns, CellColumns, ModelData
from wearfit.model.layout import COEFFICIENTS, GROUPS, Layout
from wearfit.model.levels_seen import levels_seen
from wearfit.model.parameters import Parameters
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import parse_priors, read_priors
from wearfit.model.unknown_class import candidate_log_weights, class_log_weights, sudden_share

Array = np.ndarray

PRIORS = read_priors()
OFFSETS = band_offsets(PRIORS)
FLEET = small_fleet()
# Beside the small fleet: a plant, a resin, a design and a maker that nothing ran at, in, of or from; and a prototype.
WIDER = exposures_of(
    {
        "tools": TOOLS + "idle,103,,,urn,East,prehard,2018-01-02,,\nprototype,105,,,,,aluminium,2018-01-02,,\n",
        "runs": RUNS + "prototype,Mill,plain,2018-02-01,2018-02-02,90,\n",
        "events": EVENTS + "prototype,2018-03-01,move,,,Heath,\n",
        "plants": PLANTS + "Far,12,2,5,1\n",
        "climate": CLIMATE,
        "resins": RESINS + "new,ABS,,\n",
    }
)


def prepared(exposures: Exposures) -> tuple[ModelData, Layout]:
    layout = layout_of(exposures)
    return prepare(exposures, PRIORS, layout), layout


DATA, LAYOUT = prepared(FLEET)
WIDER_DATA, WIDER_LAYOUT = prepared(WIDER)


def test_records_that_teach_nothing_are_refused() -> None:
    tools = "tool_id,service_class,commissioned_on\nold,103,2010-01-02"
    runs = "tool_id,plant_id,resin_id,started_on,ended_on,shots\nold,Heath,plain,2018-01-10,2018-03-20,150000"
    some = exposures_of({"tools": tools, "runs": runs, "events": "tool_id,date,event"})
    nothing = np.zeros(0)
    cells = replace(some.cells, **{f.name: nothing.astype(int) for f in fields(some.cells)})
    exposures = replace(some, cells=cells)
    with pytest.raises(Refusal, match="nothing to learn from") as refusal:
        prepare(exposures, PRIORS, layout_of(exposures))
    assert refusal.value.status == 1


# --- which parameter reaches what --------------------------------------------------------------------------------------


def one_effect(layout: Layout, place: int) -> Parameters:
    """All parameters at zero but one."""
    values = np.zeros(len(COEFFICIENTS) + layout.size)
    values[place] = 1.0
    return Parameters(all=values, share=np.array([0.35, 0.7, 0.7]))


def test_life_is_made_of_band_class_steel_design_and_maker() -> None:
    """Each effect at one in turn: whose log life moves, and by how much."""
    exposures, layout, data = WIDER, WIDER_LAYOUT, WIDER_DATA
    tools, candidates = exposures.tools, exposures.candidates
    bands = log_band(exposures, PRIORS, OFFSETS)

    def moved(place: int) -> Array:
        return np.asarray(log_life(one_effect(layout, place), data) - bands)

    for name, levels, of_tool in (("design", tools.design_ids, tools.design), ("maker", tools.maker_ids, tools.maker)):
        for level in range(len(levels)):
            place = int(layout.parameter(name, np.array(level)))
            assert moved(place) == pytest.approx((of_tool == level)[candidates.tool].astype(float)), (name, level)
    for i, service_class in enumerate(CLASSES):
        assert moved(COEFFICIENTS.index(f"class_offset.{service_class}")) == pytest.approx((candidates.service_class == i).astype(float))
    for i, steel in enumerate(STEELS):
        expected = (candidates.steel == i).astype(float) - (candidates.usual_steel == i)
        assert moved(COEFFICIENTS.index(f"steel.{steel}")) == pytest.approx(expected), steel
    # A stainless tool of class 103, whose usual steel is pre-hardened.
    stainless = candidates.tool == tools.tool_id.index("interval")
    assert moved(COEFFICIENTS.index("steel.stainless"))[stainless] == 1.0
    assert moved(COEFFICIENTS.index("steel.prehard"))[stainless] == -1.0


def test_wear_is_made_of_plant_resin_and_what_is_not_known_of_them() -> None:
    exposures, layout, data = WIDER, WIDER_LAYOUT, WIDER_DATA
    jobs, places = exposures.jobs, exposures.places
    constant = log_job(Parameters(np.zeros(len(COEFFICIENTS) + layout.size), np.zeros(3)), data)
    described = np.append(exposures.resins.described, True)[jobs.resin]
    assert constant == pytest.approx(np.where(described, 0.0, 0.2))
    for level in range(len(exposures.resins.resin_id)):
        at = one_effect(layout, int(layout.parameter("resin", np.array(level))))
        assert log_job(at, data) - constant == pytest.approx((jobs.resin == level).astype(float))
        at = one_effect(layout, int(layout.parameter("resin_error", np.array(level))))
        assert log_job(at, data) - constant == pytest.approx(np.where((jobs.resin == level) & ~described, 0.4, 0.0))
    for level in range(len(exposures.plant_ids)):
        at = one_effect(layout, int(layout.parameter("plant", np.array(level))))
        assert log_place(at, data) == pytest.approx((places.plant == level).astype(float))


# --- levels never seen -------------------------------------------------------------------------------------------------


def test_levels_that_no_row_rests_on_are_not_seen() -> None:
    seen, tools = levels_seen(WIDER), WIDER.tools
    assert dict(zip(WIDER.plant_ids, seen.plant, strict=True)) == {"Far": False, "Heath": True, "Mill": True, "Quay": True}
    assert dict(zip(WIDER.resins.resin_id, seen.resin, strict=True)) == {
        **dict.fromkeys(("acid", "bare", "glass", "plain"), True),
        "new": False,
    }
    assert dict(zip(tools.design_ids, seen.design, strict=True)) == {"cup": True, "lid": True, "tray": True, "urn": False}
    assert dict(zip(tools.maker_ids, seen.maker, strict=True)) == {"East": False, "North": True, "South": True}


def test_a_level_not_seen_has_no_effect_in_the_graph() -> None:
    """It is drawn from its population after sampling; effects of those seen sum to zero."""
    layout, contrast = WIDER_LAYOUT, WIDER_DATA.contrast
    seen = levels_seen(WIDER)
    for name in ("plant", "resin", "design", "maker"):
        span, levels = layout.block(name), getattr(seen, name)
        block = contrast[span, span]
        assert not block[: len(levels)][~levels].any()
        assert np.abs(block[: len(levels)][levels]).sum() > 0.0
        outside = contrast[span].copy()
        outside[:, span] = 0.0
        assert not outside.any()
        directions = block.any(axis=0)
        assert directions.sum() == levels.sum() - 1  # as many as levels, less the one that their sum takes away


# --- tools of unknown class --------------------------------------------------------------------------------------------


def test_shares_of_the_classes_follow_priors_and_fleet() -> None:
    counts = np.array([1, 1, 3, 1, 0])  # service classes that the small fleet names; one more tool has a band, two are unknown
    prior = np.array([own_tables()["class_share"]["share"][c] for c in CLASSES[:BANDED]])
    expected = (counts + 10.0 * prior / prior.sum()) / (counts.sum() + 10.0)
    assert np.exp(class_log_weights(FLEET, PRIORS)) == pytest.approx(expected)
    unknown = ~FLEET.candidates.known
    assert np.exp(DATA.candidate[unknown, CandidateColumns.log_weight]) == pytest.approx(np.tile(expected, 2))  # of the two
    assert not DATA.candidate[~unknown, CandidateColumns.log_weight].any()


def test_a_class_that_an_owner_rules_out_is_next_to_impossible_and_finite() -> None:
    priors = parse_priors(changed((("class_share", "share", "105"), 0)))
    weights = prepare(FLEET, priors, LAYOUT).candidate[~FLEET.candidates.known, CandidateColumns.log_weight].reshape(2, BANDED)
    assert np.isfinite(weights).all()
    assert np.exp(weights[:, 4]).max() < 1e-9
    assert np.exp(weights).sum(axis=1) == pytest.approx(1.0)


def test_candidates_lie_with_their_tool() -> None:
    assert np.array_equal(DATA.candidate[:, CandidateColumns.tool], FLEET.candidates.tool)
    unknown = np.isin(FLEET.candidates.tool, [FLEET.tools.tool_id.index(name) for name in ("any class", "any class too")])
    assert np.array_equal(FLEET.candidates.known, ~unknown)


# --- sudden stops and set-ups ------------------------------------------------------------------------------------------


def test_sudden_stops_and_handlings_are_conserved() -> None:
    for exposures, data in ((FLEET, DATA), (WIDER, WIDER_DATA)):
        by_plant = [np.bincount(exposures.sudden.plant, weights=w, minlength=data.sudden.shape[2]) for w in
                    (exposures.sudden.stops, exposures.sudden.handlings)]  # fmt: skip
        assert data.sudden[0].sum(axis=0) == pytest.approx(by_plant[0], rel=1e-12)
        assert data.sudden[2].sum(axis=0) == pytest.approx(by_plant[1], rel=1e-12)
    assert DATA.sudden[0].sum() == 1.0  # the one that EVENTS records


def share_of_sudden(exposures: Exposures) -> Array:
    log_weight = candidate_log_weights(exposures, PRIORS, np.zeros(len(exposures.candidates.tool)))
    return sudden_share(exposures, PRIORS, log_weight, log_band(exposures, PRIORS, OFFSETS), OFFSETS)


def test_reference_lives_by_hand() -> None:
    """Shots over exp(mu) by class and plant; those of a tool of unknown class by the shares of the classes it may be of."""
    mu = class_log_band(PRIORS, OFFSETS)
    heath, mill = FLEET.plant_ids.index("Heath"), FLEET.plant_ids.index("Mill")
    share = share_of_sudden(FLEET).reshape(-1)
    ids = np.array(FLEET.tools.tool_id)[FLEET.candidates.tool]
    third = CLASSES.index("103")
    known = (150_000 + 70_000 + 90_000) / np.exp(mu[third])
    perhaps = 210_000 / np.exp(mu[third]) * share[(ids == "any class") & (FLEET.candidates.service_class == third)][0]
    assert DATA.sudden[1, third, heath] == pytest.approx(known + perhaps, rel=1e-12)
    first = CLASSES.index("101")
    perhaps = 40_000 / np.exp(mu[first]) * share[(ids == "any class too") & (FLEET.candidates.service_class == first)][0]
    assert DATA.sudden[1, first, mill] == pytest.approx(900_000 / np.exp(mu[first]) + perhaps, rel=1e-12)


def test_shots_of_a_production_tool_are_not_lives_of_a_prototype() -> None:
    """An unknown tool of 350,000 shots would be a thousand lives of class 105, and outweigh all that is known of sudden stops."""
    share = share_of_sudden(FLEET)
    assert np.bincount(FLEET.candidates.tool, weights=share) == pytest.approx(np.ones(len(FLEET.tools.tool_id)))
    assert (share[FLEET.candidates.known] == 1.0).all()
    assert DATA.sudden[1, CLASSES.index("105")].sum() < 0.1
    # Lives of 90 shots, of which a tool of any class makes that many, leave the classes as they were.
    few = exposures_of(
        {
            "tools": "tool_id,service_class,commissioned_on\nT1,,2018-01-02",
            "runs": "tool_id,plant_id,resin_id,started_on,ended_on,shots\nT1,Heath,plain,2018-01-10,2018-01-12,90",
            "events": "tool_id,date,event,cause\nT1,2018-02-01,retool,planned",
        }
    )
    assert share_of_sudden(few) == pytest.approx(np.exp(class_log_weights(few, PRIORS)), rel=0.05)


def test_a_set_up_costs_a_short_lived_tool_less() -> None:
    assert setup_share(np.log([400.0, 50_000.0, 100_000.0, 1e6])) == pytest.approx([0.004, 0.5, 1.0, 1.0])
    mu = class_log_band(PRIORS, OFFSETS)[CLASSES.index("105")]
    tool = WIDER.candidates.tool[WIDER.history.candidate[WIDER.cells.episode]]
    made = WIDER.cells.years == 0
    prototype = made & (tool == WIDER.tools.tool_id.index("prototype"))
    assert WIDER_DATA.cell[prototype, CellColumns.setups] == pytest.approx([np.exp(mu) / 100_000.0], rel=1e-12)
    exact = tool == WIDER.tools.tool_id.index("exact")
    assert WIDER_DATA.cell[exact, CellColumns.setups].sum() == 3.0  # of three runs, each of another resin or month
    assert np.array_equal(WIDER_DATA.cell[made, CellColumns.shots], WIDER.cells.shots[made])


def test_groups_switched_off_stay_in_the_layout() -> None:
    """So that one compiled model serves an owner's priors as well as the package's own."""
    priors = parse_priors(changed((("group", "maker", "off"), True)))
    off = prepare(FLEET, priors, LAYOUT)
    assert off.group_prior[1].tolist() == [0.0 if g == "maker" else 1.0 for g in GROUPS]
    for name, array in DATA.as_dict().items():
        assert off.as_dict()[name].shape == array.shape
