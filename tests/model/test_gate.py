"""The gate on synthetic chains: each limit refuses what lies beyond it, padding has no say, and what is no number does not pass."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from arviz_stats.base import array_stats
from prior_chains import chains_of_priors, under_way
from priors_text import switched_off
from scipy.signal import lfilter
from small_fleet import small_fleet

from wearfit.model.agreement import BLOCK, agreement
from wearfit.model.data import ModelData
from wearfit.model.flat_draws import flatten
from wearfit.model.gate import Diagnostics, further, judge
from wearfit.model.layout import CONTRASTED, GROUPS, Layout
from wearfit.model.levels_seen import levels_seen
from wearfit.model.looks import look_at_groups, look_at_tools, look_at_top
from wearfit.model.posterior import summarise_rows
from wearfit.model.prepare import prepare
from wearfit.model.priors import parse_priors
from wearfit.model.priors_file import own_priors_text
from wearfit.model.sampler import CHAINS, Chains

Array = np.ndarray

DRAWS = 1000
RNG_SEED = 71
STILL = np.zeros((CHAINS, DRAWS), dtype=bool)
STEPS = np.full((CHAINS, DRAWS), 15)


def independent(levels: int = 3, seed: int = RNG_SEED) -> Array:
    return np.random.default_rng(seed).standard_normal((CHAINS, DRAWS, levels))


ENERGY = independent(1)[..., 0]


def judged(
    top: Array | None = None, groups: Array | None = None, diverging: Array = STILL, energy: Array = ENERGY, steps: Array = STEPS
) -> Diagnostics:
    tops = {"coefficients": independent() if top is None else top}
    return further(judge(tops, diverging, energy, steps, tune=600), {} if groups is None else {"plant": groups})


def correlated(autocorrelation: float, seed: int = RNG_SEED) -> Array:
    """Chains whose draws remember the one before, of unit variance."""
    noise = independent(seed=seed) * math.sqrt(1.0 - autocorrelation**2)
    return np.asarray(lfilter([1.0], [1.0, -autocorrelation], noise, axis=1))


def offset_chain(shift: float) -> Array:
    """One chain lies elsewhere, in one level."""
    draws = independent()
    draws[2, :, 1] += shift
    return draws


# --- each limit --------------------------------------------------------------------------------------------------------


def test_independent_draws_pass() -> None:
    found = judged(groups=independent(seed=72))
    assert found.passed and found.reasons == ()
    assert found.rhat_max < 1.005
    assert found.ess_bulk_min == pytest.approx(CHAINS * DRAWS, rel=0.15)
    assert found.ess_tail_min == pytest.approx(CHAINS * DRAWS, rel=0.15)
    assert found.ebfmi_min == pytest.approx(2.0, rel=0.15)  # of energies without memory
    assert (found.divergences, found.draws, found.tune, found.leapfrog_mean) == (0, CHAINS * DRAWS, 600, 15.0)


def test_chains_that_disagree_do_not_pass() -> None:
    found = judged(offset_chain(0.5))
    assert not found.passed
    assert found.rhat_max > 1.01
    assert "coefficients: R-hat" in found.reasons[0] and "1.01" in found.reasons[0]


def test_group_effects_have_more_room() -> None:
    """R-hat between 1.01 and 1.02: too much for a top-level parameter, not for a group's effect."""
    draws = offset_chain(0.27)
    top, group = judged(top=draws), judged(groups=draws)
    assert 1.01 < top.rhat_max == group.rhat_max < 1.02
    assert not any("R-hat" in reason for reason in group.reasons)
    assert any("R-hat" in reason for reason in top.reasons)


@pytest.mark.parametrize("where", ["top", "groups"])
def test_too_few_effective_draws_do_not_pass(where: str) -> None:
    found = judged(**{where: correlated(0.9)})
    assert found.ess_bulk_min == pytest.approx(CHAINS * DRAWS * 0.1 / 1.9, rel=0.3)  # (1 - r) / (1 + r) of the draws
    assert any("effective draws, 400 are wanted" in reason for reason in found.reasons)


def test_tails_count_as_much_as_the_bulk() -> None:
    """Draws that now and then stay far out for long, on either side: the bulk mixes, the tails do not."""
    rng = np.random.default_rng(73)
    draws = np.clip(rng.standard_normal((CHAINS, DRAWS, 1)), -1.5, 1.5)
    for at in range(0, DRAWS, 500):
        draws[:, at : at + 60] = rng.choice([-3.0, 3.0], (CHAINS, 60, 1)) + 0.1 * rng.standard_normal((CHAINS, 60, 1))
    found = judged(draws)
    assert found.ess_bulk_min > 400.0 > found.ess_tail_min
    assert not found.passed


def test_one_divergence_in_a_thousand_is_let_pass() -> None:
    few, many = STILL.copy(), STILL.copy()
    few.flat[:4] = True
    many.flat[:5] = True
    assert judged(diverging=few).passed
    found = judged(diverging=many)
    assert not found.passed and found.divergences == 5
    assert found.reasons == ("5 of 4000 draws diverged",)


def test_a_sampler_that_cannot_change_its_energy_does_not_pass() -> None:
    slow = ENERGY.copy()
    slow[1] = np.cumsum(slow[1])  # one chain's energy wanders
    found = judged(energy=slow)
    assert found.ebfmi_min < 0.3 and not found.passed
    assert "E-BFMI" in found.reasons[0]


@pytest.mark.parametrize("draws", [1000, 999])
def test_agreement_is_what_the_library_says(draws: int) -> None:
    """Of draws with and without memory, with repeats as of steps refused, and of chains that disagree; odd numbers of draws too."""
    rounded = np.round(correlated(0.5, seed=77), 1)
    values = np.concatenate([independent(seed=78), correlated(0.9, seed=79), rounded, offset_chain(0.3)], axis=2)[:, :draws]
    found = agreement(values)
    for i in range(values.shape[2]):
        one = values[..., i]
        assert found.rhat[i] == pytest.approx(array_stats.rhat(one, chain_axis=0, draw_axis=1), rel=1e-12)
        assert found.bulk[i] == pytest.approx(array_stats.ess(one, chain_axis=0, draw_axis=1, method="bulk"), rel=1e-9)
        tail = array_stats.ess(one, chain_axis=0, draw_axis=1, method="tail", prob=(0.05, 0.95))
        assert found.tail[i] == pytest.approx(tail, rel=1e-9)


@pytest.mark.parametrize("threads", ["1", "2"])
def test_each_level_is_judged_by_itself(monkeypatch: pytest.MonkeyPatch, threads: str) -> None:
    """Of many levels and of one alone, and whoever works on them."""
    monkeypatch.setenv("OMP_NUM_THREADS", threads)
    values = np.concatenate([independent(levels=BLOCK + 5, seed=80), correlated(0.9, seed=81)], axis=2)
    found = agreement(values)
    for i in (0, BLOCK - 1, BLOCK, values.shape[2] - 1):
        alone = agreement(values[..., i : i + 1])
        assert (found.rhat[i], found.bulk[i], found.tail[i]) == (alone.rhat[0], alone.bulk[0], alone.tail[0])


def test_nothing_is_told_of_a_handful_of_draws() -> None:
    assert np.isnan(agreement(independent()[:, :6]).bulk).all()


# --- what is no number -------------------------------------------------------------------------------------------------


def stuck(level: Any, *chains: int) -> Array:
    """Chains that stand still, each at a place of its own."""
    draws = independent()
    for chain in chains:
        draws[chain, :, level] = 0.1 * chain
    return draws


@pytest.mark.parametrize("where", ["top", "groups"])
@pytest.mark.parametrize("chains", [(1,), (0, 1, 2, 3)], ids=["one chain", "all chains"])
def test_a_stuck_chain_does_not_pass(where: str, chains: tuple[int, ...]) -> None:
    assert not judged(**{where: stuck(1, *chains)}).passed


@pytest.mark.parametrize("value", [np.nan, np.inf])
@pytest.mark.parametrize("where", ["top", "groups"])
def test_a_draw_that_is_no_number_does_not_pass(where: str, value: float) -> None:
    draws = independent()
    draws[3, 10, 2] = value
    found = judged(**{where: draws})
    assert not found.passed and "not finite" in found.reasons[0]


@pytest.mark.parametrize("energy", [np.full_like(ENERGY, np.nan), np.ones_like(ENERGY)], ids=["nan", "constant"])
def test_energy_that_is_no_number_does_not_pass(energy: Array) -> None:
    assert not judged(energy=energy).passed


def test_what_is_held_is_left_out() -> None:
    """A coefficient that is switched off does not move, and says nothing against the chains."""
    draws = independent()
    draws[..., 1] = math.log(3.0)
    assert judged(draws).passed
    assert judged(groups=np.zeros((CHAINS, DRAWS, 4))).passed


# --- what is judged of a calibration -----------------------------------------------------------------------------------

FLEET = small_fleet()
LAYOUT = Layout(16, 16, 16, 16)


def with_stuck_slots(chains: Chains, slots: Array) -> Chains:
    slot = chains.coordinates["slot"].copy()
    slot[..., slots] = np.arange(CHAINS)[:, None, None]
    return replace(chains, coordinates={**chains.coordinates, "slot": slot})


def diagnosed(chains: Chains, data: ModelData) -> Diagnostics:
    flat = flatten(chains, 2000)
    rows = summarise_rows(flat, data, LAYOUT, FLEET, *under_way(FLEET, ("censored", "late", "any class")), seed=1)
    return look_at_tools(look_at_groups(look_at_top(chains, data, LAYOUT), chains, data, LAYOUT, FLEET), rows)


@pytest.fixture(scope="module")
def data() -> ModelData:
    return prepare(FLEET, parse_priors(own_priors_text()), LAYOUT)


def padding() -> Array:
    """Slots without a level, and the null directions of groups whose effects sum to zero."""
    seen, slots = levels_seen(FLEET), []
    directions = {name: int(getattr(seen, name).sum()) - 1 for name in CONTRASTED}
    directions["sudden_plant"] = len(FLEET.plant_ids)
    for name, count in directions.items():
        slots.append(np.arange(LAYOUT.block(name).start + count, LAYOUT.block(name).stop))
    return np.concatenate(slots)


def test_padding_has_no_say(data: ModelData) -> None:
    chains = chains_of_priors(data, LAYOUT, DRAWS, seed=74)
    assert diagnosed(chains, data).passed
    slots = padding()
    assert len(slots) > LAYOUT.size / 3
    assert diagnosed(with_stuck_slots(chains, slots), data) == diagnosed(chains, data)


@pytest.mark.parametrize("group", [group for group in GROUPS if group != "tool"])
def test_a_group_has_its_say_unless_it_is_switched_off(group: str, data: ModelData) -> None:
    first = np.array([LAYOUT.block(group).start])
    found = diagnosed(with_stuck_slots(chains_of_priors(data, LAYOUT, DRAWS, seed=75), first), data)
    assert any(reason.startswith(f"{group}: R-hat") for reason in found.reasons)
    off = prepare(FLEET, parse_priors(switched_off(f"group.{group}")), LAYOUT)
    assert diagnosed(with_stuck_slots(chains_of_priors(off, LAYOUT, DRAWS, seed=75), first), off).passed


def test_forecasts_are_judged(data: ModelData) -> None:
    """A chain in which every coefficient lies elsewhere shows in the tools: their effects, and what is foretold."""
    chains = chains_of_priors(data, LAYOUT, DRAWS, seed=76)
    z = chains.coordinates["z"].copy()
    z[0] += 2.0
    found = diagnosed(replace(chains, coordinates={**chains.coordinates, "z": z}), data)
    assert {reason.split(":")[0] for reason in found.reasons} == {"coefficients", "tool", "forecast median"}
