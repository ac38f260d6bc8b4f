"""From the sampler's coordinates to what answers need, against sums by hand."""

from dataclasses import replace

import numpy as np
import pytest
from odd_fleet import effects_of, odd_fleet
from prior_chains import at_the_centre, chains_of_priors, flat_of_priors, under_way
from small_fleet import RESINS, exposures_of

from wearfit import law, processors
from wearfit.exposures.classes import BANDED
from wearfit.model import kept_loops, posterior
from wearfit.model import likelihood as ll
from wearfit.model.clock import Clock, log_life, run_clock
from wearfit.model.data import CandidateColumns
from wearfit.model.flat_draws import flatten
from wearfit.model.layout import COEFFICIENTS, GROUPS, SHARES, Layout
from wearfit.model.posterior import log_median_capacity, summarise_rows
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors
from wearfit.model.sampler import CHAINS, VARIABLES
from wearfit.model.unknown_class import class_log_weights

Array = np.ndarray

PRIORS = read_priors()
FLEET = odd_fleet()
LAYOUT = layout_of(FLEET)
DATA = prepare(FLEET, PRIORS, LAYOUT)
LIVE = ("censored", "late", "exact", "any class", "idle", "riddle")

# --- thinning ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("draws", "most", "kept"), [(1000, 2000, 500), (1250, 2000, 500), (300, 2000, 300), (5000, 2000, 500), (1000, 10, 2)]
)
def test_chains_are_thinned_evenly_and_alike(draws: int, most: int, kept: int) -> None:
    chain, draw = np.meshgrid(np.arange(CHAINS), np.arange(draws), indexing="ij")
    numbered = np.stack([chain, draw], axis=-1).astype(float)
    chains = replace(chains_of_priors(DATA, LAYOUT, 2, seed=1), coordinates=dict.fromkeys(VARIABLES, numbered))
    flat = flatten(chains, most)
    assert flat.samples == CHAINS * kept
    for name in VARIABLES:
        values = getattr(flat, name).reshape(CHAINS, kept, 2)
        assert (values[..., 0] == np.arange(CHAINS)[:, None]).all()  # chains end to end
        assert (values[..., 1] == values[0, :, 1]).all()  # the same draws of each
        gaps = np.diff(values[0, :, 1])
        assert np.ptp(gaps) <= 1.0
        assert values[0, 0, 1] == 0.0 and values[0, -1, 1] == draws - 1.0


# --- rows of the likelihood --------------------------------------------------------------------------------------------


def test_pointwise_log_likelihood_sums_to_that_given_the_tool_effects() -> None:
    flat = flat_of_priors(DATA, LAYOUT, 230, seed=86)  # more than two chunks
    rows = summarise_rows(flat, DATA, LAYOUT, FLEET, *under_way(FLEET, LIVE), seed=4)
    p = flat.parameters(DATA, LAYOUT)
    usual = log_life(p, DATA)
    terms = ll.history_terms(p, run_clock(p, DATA), usual + rows.tool[:, FLEET.candidates.tool], DATA)
    by_candidate = ll.candidate_log_likelihood(terms, p, DATA)
    joint = by_candidate + DATA.candidate[:, CandidateColumns.log_weight]
    tool = FLEET.candidates.tool
    by_tool = [np.logaddexp.reduce(joint[:, tool == t], axis=1) for t in range(len(FLEET.tools.tool_id))]
    assert rows.log_likelihood.astype(float).sum(axis=1) == pytest.approx(np.sum(by_tool, axis=0), rel=1e-5, abs=1e-4)
    # One observation for each life of a tool of known class, one for each other tool of which the likelihood knows anything.
    tool = np.array(FLEET.tools.tool_id)[rows.observation[:, 0]]
    assert sorted(tool[rows.observation[:, 1] < 0]) == ["any class", "any class too", "riddle"]
    assert len(np.unique(rows.observation, axis=0)) == len(rows.observation) == rows.log_likelihood.shape[1]
    lives = {name: int((tool == name).sum()) for name in tool}
    assert lives["exact"] == 2 and lives["interval"] == 3 and lives["late"] == 2


def test_wear_spent_is_a_sum_over_the_runs() -> None:
    """By hand from the tables of the small fleet, for plants whose conditions do not change with the month."""
    flat = flat_of_priors(DATA, LAYOUT, 40, seed=87)
    rows = summarise_rows(flat, DATA, LAYOUT, FLEET, *under_way(FLEET, LIVE), seed=5)
    effects, p = effects_of(flat, DATA, FLEET, PRIORS), flat.parameters(DATA, LAYOUT)
    setup = np.exp(p.coefficient("log_setup"))[:, 0]
    corrosive = p.coefficient("slope.corrosive_plain")[:, 0]
    heath = effects.plant[:, FLEET.plant_ids.index("Heath")] + effects.plant_climate[:, FLEET.plant_ids.index("Heath")]
    resin = {name: effects.resin[:, i] for i, name in enumerate(FLEET.resins.resin_id)}
    spent = dict(zip(LIVE, (rows.wear_spent - rows.storage_spent).T, strict=True))  # pauses are another test's

    # 60,000 shots of a corrosive resin in pre-hardened steel; a tool of class 104 pays a set-up in proportion to its band.
    band = DATA.candidate[FLEET.candidates.tool == FLEET.tools.tool_id.index("censored"), CandidateColumns.band]
    assert band < np.log(100_000)
    by_hand = np.exp(heath + resin["acid"] + corrosive) * (60_000 + setup * np.exp(band) / 100_000)
    assert spent["censored"] == pytest.approx(by_hand, rel=1e-6)

    # The life after a retool of `exact`: Heath again, 70,000 shots, of which a modification later cut a quarter new.
    by_hand = 0.75 * np.exp(heath + resin["plain"]) * (70_000 + setup)
    assert spent["exact"] == pytest.approx(by_hand, rel=1e-6)

    # Nothing ran: no wear. No one knows how old: some wear, by the age drawn, in plain resin at Heath.
    assert (spent["idle"] == 0.0).all()
    opening = rows.opening[:, LIVE.index("riddle")]
    assert (opening > 0).all() and not rows.opening[:, [i for i, name in enumerate(LIVE) if name != "riddle"]].any()
    plain = np.exp(heath + resin["plain"])
    assert (spent["riddle"] > plain * (opening + 9_000)).all()
    assert (spent["riddle"] < plain * (opening + 9_000 + 1.001 * setup)).all()


def test_a_refurbishment_takes_its_share_of_wear_before_the_records_too() -> None:
    exposures = exposures_of(
        {
            "tools": "tool_id,service_class,cavity_steel,commissioned_on,opening_life_shots\nT1,103,prehard,2015-01-02,120000",
            "runs": "tool_id,plant_id,resin_id,started_on,ended_on,shots\n"
            "T1,Heath,glass,2018-02-01,2018-05-01,90000\nT1,Heath,plain,2018-07-01,2018-09-01,80000",
            "events": "tool_id,date,event,cause\nT1,2018-06-01,refurbish,planned",
            "plants": "plant_id,coolant_temp_c,chloride_mg_m2_day,so2_mg_m2_day,conditioned\nHeath,12,2,5,1",
            "resins": RESINS,
        }
    )
    layout = layout_of(exposures)
    data = prepare(exposures, PRIORS, layout)
    flat = flat_of_priors(data, layout, 40, seed=88)
    rows = summarise_rows(flat, data, layout, exposures, *under_way(exposures, ("T1",)), seed=6)
    effects, p = effects_of(flat, data, exposures, PRIORS), flat.parameters(data, layout)
    plant, setup = effects.plant[:, 0] + effects.plant_climate[:, 0], np.exp(p.coefficient("log_setup"))[:, 0]
    resin = {name: effects.resin[:, i] for i, name in enumerate(exposures.resins.resin_id)}
    glass = np.exp(plant + resin["glass"] + 3.0 * p.coefficient("slope.filler_soft")[:, 0])
    before = glass * (120_000 + 90_000 + setup)
    by_hand = (1.0 - p.share[:, SHARES.index("refurbish")]) * before + np.exp(plant + resin["plain"]) * (80_000 + setup)
    assert rows.wear_spent[:, 0] - rows.storage_spent[:, 0] == pytest.approx(by_hand, rel=1e-6)


# --- tools of unknown class --------------------------------------------------------------------------------------------


def class_frequencies(log_life: Array, tool: str) -> Array:
    """How often each class's characteristic life was drawn, without effects of any kind, shape (BANDED,)."""
    candidate = FLEET.candidates.tool == FLEET.tools.tool_id.index(tool)
    bands = DATA.candidate[candidate, CandidateColumns.band]
    nearest = np.abs(log_life[:, None] - bands).argmin(axis=1)
    assert log_life == pytest.approx(bands[nearest], rel=1e-5)
    return np.bincount(nearest, minlength=BANDED) / len(log_life)


def test_the_class_of_a_tool_is_drawn_by_its_weight_given_its_history() -> None:
    """`any class` wore out after 210,000 shots and has made 140,000 since: more than a prototype, less than a floor of a million."""
    draws = 8000
    flat = at_the_centre(DATA, LAYOUT, draws)
    rows = summarise_rows(flat, DATA, LAYOUT, FLEET, *under_way(FLEET, LIVE), seed=7)
    history, tool = FLEET.history, FLEET.tools.tool_id.index("any class")
    p = flat.parameters(DATA, LAYOUT, slice(0, 1))
    clock, lives = run_clock(p, DATA), log_life(p, DATA)
    log_weight = class_log_weights(FLEET, PRIORS).copy()
    spent = np.zeros(BANDED)
    for row in np.flatnonzero(FLEET.candidates.tool[history.candidate] == tool):
        service_class = FLEET.candidates.service_class[history.candidate[row]]
        alone = Clock(*(getattr(clock, part)[0, row : row + 1] for part in ("entry", "good", "end", "log_last")))
        wore_out = np.array([float(history.ending[row] > 0)])
        shape = np.exp(p.coefficient("log_shape"))[0]
        log_weight[service_class] += ll.row_log_likelihood(
            alone, lives[0, history.candidate[row]], shape, np.array(0.7), np.zeros(1), wore_out, np.zeros(1)
        )[0]
        spent[service_class] = alone.end[0]  # of the last episode
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    assert np.sort(weight)[-2] > 0.05  # or the test would test little
    i = LIVE.index("any class")
    frequency = class_frequencies(rows.log_life[:, i], "any class")
    assert frequency == pytest.approx(weight, abs=4.0 * float(np.sqrt(weight * (1.0 - weight) / draws).max()))
    # What it has spent is the drawn class's too: the steels differ, and with them what a filler does.
    assert set(np.unique(rows.wear_spent[:, i])) <= set(spent.astype(np.float32))
    candidate = rows.candidate[i]
    assert FLEET.candidates.tool[candidate] == tool
    assert FLEET.candidates.service_class[candidate] == weight.argmax()


def test_draws_do_not_depend_on_how_many_work_on_them(monkeypatch: pytest.MonkeyPatch) -> None:
    flat, found = flat_of_priors(DATA, LAYOUT, 530, seed=91), []  # six chunks, the last of them short
    for threads in (1, 2, 4):
        # More than there are processors here, too.
        for module in (processors, kept_loops):
            monkeypatch.setattr(module, "processors", lambda threads=threads: threads)
        found.append(summarise_rows(flat, DATA, LAYOUT, FLEET, *under_way(FLEET, LIVE), seed=11))
    first, *others = found
    for other in others:
        for name in ("tool", "log_likelihood", "wear_spent", "recorded_share", "storage_spent", "log_life", "opening", "candidate"):
            np.testing.assert_array_equal(getattr(other, name), getattr(first, name))
        for one, same in zip(first.reads, other.reads, strict=True):
            np.testing.assert_array_equal(same.left.log_likelihood, one.left.log_likelihood)
        for kind, moved in first.moved.items():
            np.testing.assert_array_equal(other.moved[kind], moved)


def test_fewer_draws_of_a_large_history_are_handled_together(monkeypatch: pytest.MonkeyPatch) -> None:
    """What they come to does not depend on it, but for the luck of what is drawn."""
    flat, sizes, with_clock = flat_of_priors(DATA, LAYOUT, 30, seed=93), [], posterior.run_clock
    effects = np.random.default_rng(94).normal(0.0, 0.2, (flat.samples, len(FLEET.tools.tool_id)))

    def noted(p: posterior.Parameters, d: posterior.ModelData) -> Clock:
        sizes.append(len(p.all))
        return with_clock(p, d)

    monkeypatch.setattr(posterior, "run_clock", noted)
    found = []
    for together in (posterior.TOGETHER, 7 * len(DATA.row)):
        monkeypatch.setattr(posterior, "TOGETHER", together)
        found.append(summarise_rows(flat, DATA, LAYOUT, FLEET, *under_way(FLEET, LIVE), seed=11, known_effects=effects))
    assert sorted(sizes) == sorted([30, 7, 7, 7, 7, 2])
    np.testing.assert_allclose(found[1].log_likelihood, found[0].log_likelihood, rtol=1e-6, atol=1e-6)
    np.testing.assert_allclose(found[1].features.log_life, found[0].features.log_life, rtol=1e-12)


def test_half_of_the_tools_reach_their_median_capacity() -> None:
    flat = flat_of_priors(DATA, LAYOUT, 30, seed=89)
    rows = summarise_rows(flat, DATA, LAYOUT, FLEET, *under_way(FLEET, LIVE), seed=9)
    shape = np.exp(flat.parameters(DATA, LAYOUT).coefficient("log_shape"))[:, 0]
    capacity = np.exp(log_median_capacity(rows, shape))
    spent, log_life = rows.wear_spent.astype(float), rows.log_life.astype(float)
    survived = law.survival(capacity, log_life, shape[:, None]) / law.survival(spent, log_life, shape[:, None])
    assert survived == pytest.approx(np.full((30, len(LIVE)), 0.5), rel=1e-6)


def test_levels_of_the_layout_do_not_matter() -> None:
    """Draws of effects are the same in a larger layout, given the same coordinates of the levels."""
    large = Layout(16, 16, 16, 16)
    data = prepare(FLEET, PRIORS, large)
    small = flat_of_priors(DATA, LAYOUT, 20, seed=90)
    n = len(COEFFICIENTS)
    slot, z = np.zeros((20, large.scaled)), np.zeros((20, n + large.unscaled))
    z[:, :n] = small.z[:, :n]
    for name, slots in LAYOUT.blocks:
        start, span = large.block(name).start, LAYOUT.block(name)
        if name in GROUPS:
            slot[:, start : start + slots] = small.slot[:, span]
        else:
            here, there = n + span.start - LAYOUT.scaled, n + start - large.scaled
            z[:, there : there + slots] = small.z[:, here : here + slots]
    live = under_way(FLEET, LIVE)
    here = summarise_rows(small, DATA, LAYOUT, FLEET, *live, seed=10)
    there = summarise_rows(replace(small, z=z, slot=slot), data, large, FLEET, *live, seed=10)
    assert there.wear_spent == pytest.approx(here.wear_spent, rel=1e-6, nan_ok=True)
    assert there.log_likelihood == pytest.approx(here.log_likelihood, rel=1e-5, abs=1e-5)
