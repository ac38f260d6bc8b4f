"""Slots without a level, effects that are switched off and the exponent of partial centring change no answer."""

from collections.abc import Callable
from dataclasses import replace

import integrated
import numpy as np
import pytest
from scipy.stats import norm
from small_fleet import Coordinates, laid_anyhow, plated_fleet, prior_draws

from wearfit.model.data import ModelData, check_bounds
from wearfit.model.graph import build_graph
from wearfit.model.layout import CLASS_OFFSET, COEFFICIENTS, GROUPS, SHARES, Layout
from wearfit.model.parameters import build_parameters
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import parse_priors, read_priors
from wearfit.model.priors_file import own_priors_text

Array = np.ndarray

FLEET = plated_fleet()
SMALL, LARGE = Layout.fitting(3, 4, 3, 2), Layout(64, 64, 64, 64, 16, 32)
DRAWS = 3


def log_likelihood(at: Coordinates, data: ModelData, layout: Layout) -> Array:
    """Summed log-likelihood by draw."""
    return np.array([integrated.log_likelihood(at.draw(i), data, layout) for i in range(len(at.w))])


# --- buckets -----------------------------------------------------------------------------------------------------------


def kept_slots() -> Array:
    """Places in LARGE of the slots of SMALL, in its order."""
    return np.concatenate([LARGE.block(name).start + np.arange(slots) for name, slots in SMALL.blocks])


def kept_places() -> tuple[Array, Array]:
    """Places in the slots and in z of LARGE of those of SMALL."""
    kept, n = kept_slots(), len(COEFFICIENTS)
    return kept[kept < LARGE.scaled], np.concatenate([np.arange(n), n + kept[kept >= LARGE.scaled] - LARGE.scaled])


def moved(at: Coordinates, seed: int) -> Coordinates:
    """The same coordinates in the larger layout, its further slots anywhere."""
    rng = np.random.default_rng(seed)
    slot = rng.standard_normal((*at.slot.shape[:-1], LARGE.scaled))
    z = rng.standard_normal((*at.z.shape[:-1], len(COEFFICIENTS) + LARGE.unscaled))
    of_slot, of_z = kept_places()
    slot[..., of_slot], z[..., of_z] = at.slot, at.z
    read = np.random.default_rng([seed, 1]).standard_normal((*at.read.shape[:-1], LARGE.reads))
    read[..., : at.read.shape[-1]] = at.read
    return replace(at, z=z, slot=slot, read=read)


def test_a_larger_bucket_has_the_same_likelihood() -> None:
    assert layout_of(FLEET) == SMALL
    priors = read_priors()
    small, large = prepare(FLEET, priors, SMALL), prepare(FLEET, priors, LARGE)
    at = prior_draws(small, SMALL, DRAWS, seed=41)
    expected = log_likelihood(at, small, SMALL)
    assert np.isfinite(expected).all()
    for seed in (42, 43):
        assert log_likelihood(moved(at, seed), large, LARGE) == pytest.approx(expected, rel=1e-10)


def test_a_larger_bucket_adds_the_prior_of_its_padding_to_the_graph() -> None:
    priors = read_priors()
    small, large = prepare(FLEET, priors, SMALL), prepare(FLEET, priors, LARGE)
    before = prior_draws(small, SMALL, 1, seed=44).draw(0)
    after = moved(before, seed=45)
    of_slot, of_z = kept_places()
    padding = np.concatenate([np.delete(after.slot, of_slot), np.delete(after.z, of_z), after.read[SMALL.reads :]])

    def log_density(at: Coordinates, data: ModelData, layout: Layout) -> float:
        compiled = build_graph(data, layout).model.compile_logp(jacobian=False, mode="FAST_COMPILE")
        return float(compiled(at.point(data)))

    added = log_density(after, large, LARGE) - log_density(before, small, SMALL)
    assert added == pytest.approx(norm.logpdf(padding).sum(), abs=1e-6)


def test_effects_of_levels_are_the_same_in_a_larger_bucket() -> None:
    priors = read_priors()
    small, large = prepare(FLEET, priors, SMALL), prepare(FLEET, priors, LARGE)
    at = prior_draws(small, SMALL, DRAWS, seed=46)
    there = moved(at, seed=47)
    few = build_parameters(at.z, at.share, at.w, at.slot, small, SMALL).all[:, len(COEFFICIENTS) :]
    many = build_parameters(there.z, there.share, there.w, there.slot, large, LARGE).all[:, len(COEFFICIENTS) :]
    assert many[:, kept_slots()] == pytest.approx(few, rel=1e-12)


def test_a_layout_too_small_is_refused() -> None:
    data = prepare(FLEET, read_priors(), SMALL)
    with pytest.raises(ValueError, match=r"index lies outside|has shape"):
        check_bounds(data, replace(SMALL, makers=4))


# --- effects switched off ----------------------------------------------------------------------------------------------


def off(entry: str) -> ModelData:
    """Arrays under the package's priors with one entry switched off."""
    text = own_priors_text()
    assert text.count(f"[{entry}]\n") == 1
    return prepare(FLEET, parse_priors(text.replace(f"[{entry}]\n", f"[{entry}]\noff = true\n")), SMALL)


def shifted(at: Coordinates, name: str, where: Array | slice | int) -> Coordinates:
    values = getattr(at, name).copy()
    values[..., where] = 0.5 * values[..., where] + 0.3  # still a share where it was one
    return replace(at, **{name: values})


def slope_of(name: str) -> Callable[[Coordinates], Coordinates]:
    return lambda at: shifted(at, "z", COEFFICIENTS.index(name))


def group_of(name: str) -> Callable[[Coordinates], Coordinates]:
    if name == "tool":  # its effects are integrated out
        return lambda at: shifted(at, "w", GROUPS.index(name))
    return lambda at: shifted(shifted(at, "slot", SMALL.block(name)), "w", GROUPS.index(name))


def share_of(name: str) -> Callable[[Coordinates], Coordinates]:
    return lambda at: shifted(at, "share", SHARES.index(name))


RESIN_ERROR = np.arange(SMALL.block("resin_error").start, SMALL.block("resin_error").stop) - SMALL.scaled + len(COEFFICIENTS)
SWITCHES = {
    "shape": slope_of("log_shape"),
    "setup": slope_of("log_setup"),
    "sudden.per_life": slope_of("log_sudden_per_life"),
    "sudden.per_handling": slope_of("log_sudden_per_handling"),
    "class_offset": lambda at: shifted(at, "z", CLASS_OFFSET),
    "undescribed_resin": lambda at: shifted(at, "z", RESIN_ERROR),
    **{name: slope_of(name) for name in COEFFICIENTS if name.startswith(("steel.", "slope.")) and name != "steel.prehard"},
    **{f"group.{name}": group_of(name) for name in GROUPS},
    **{name: share_of(name) for name in SHARES},
}


@pytest.mark.parametrize("entry", SWITCHES)
def test_an_effect_switched_off_has_no_effect(entry: str) -> None:
    change, on, without = SWITCHES[entry], prepare(FLEET, read_priors(), SMALL), off(entry)
    at = prior_draws(on, SMALL, DRAWS, seed=48)
    assert log_likelihood(change(at), without, SMALL) == pytest.approx(log_likelihood(at, without, SMALL), rel=1e-12)
    # The fleet has every effect, so with the switch on each of them shows.
    assert np.abs(log_likelihood(change(at), on, SMALL) - log_likelihood(at, on, SMALL)).max() > 1e-4


def test_a_group_switched_off_is_at_zero() -> None:
    at = prior_draws(off("group.design"), SMALL, DRAWS, seed=49)
    span = SMALL.block("design")
    p = build_parameters(at.z, at.share, at.w, at.slot, off("group.design"), SMALL)
    assert not p.all[:, len(COEFFICIENTS) + span.start : len(COEFFICIENTS) + span.stop].any()


# --- coordinates scaled to what is told --------------------------------------------------------------------------------


def test_the_scale_of_coordinates_leaves_the_distribution_of_effects() -> None:
    """slot ~ N(0, 1 + scale^2 told), effect = scale slot / sqrt(1 + scale^2 told): the same from the same standard normals."""
    told = laid_anyhow(prepare(FLEET, read_priors(), SMALL), SMALL)
    untold = replace(told, slot_told=np.zeros(SMALL.scaled))
    effects, slots = [], []
    for data in (told, untold):
        at = prior_draws(data, SMALL, DRAWS, seed=50)
        slots.append(at.slot)
        effects.append(build_parameters(at.z, at.share, at.w, at.slot, data, SMALL).all)
    assert np.abs(slots[0] - slots[1]).max() > 0.1
    # Slots that stand for no level may differ; what the history sees may not.
    for name, levels in (("plant", 3), ("resin", 4), ("design", 3), ("maker", 2), ("sudden_plant", 3)):
        places = SMALL.parameter(name, np.arange(levels))
        assert effects[1][:, places] == pytest.approx(effects[0][:, places], rel=1e-12), name
