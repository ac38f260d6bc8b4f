"""Effects of plants, resins, designs and makers: of those that the records speak of, and of those that they do not."""

import numpy as np
import pytest
from odd_fleet import effects_of, odd_fleet
from prior_chains import flat_of_priors
from priors_text import switched_off

from wearfit.model.layout import COEFFICIENTS, GROUPS
from wearfit.model.levels_seen import levels_seen
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import parse_priors, read_priors

PRIORS = read_priors()
FLEET = odd_fleet()
LAYOUT = layout_of(FLEET)
DATA = prepare(FLEET, PRIORS, LAYOUT)


def test_effects_of_levels_seen_are_those_of_the_graph() -> None:
    flat = flat_of_priors(DATA, LAYOUT, 50, seed=81)
    effects, seen, p = effects_of(flat, DATA, FLEET, PRIORS), levels_seen(FLEET), flat.parameters(DATA, LAYOUT)
    for name in ("plant", "design", "maker"):
        levels = np.flatnonzero(getattr(seen, name))
        drawn = getattr(effects, name)[:, levels]
        assert np.array_equal(drawn, p.all[:, LAYOUT.parameter(name, levels)]), name
        assert drawn.sum(axis=1) == pytest.approx(np.zeros(50), abs=1e-12), name
    assert np.array_equal(effects.sudden_plant, p.all[:, LAYOUT.parameter("sudden_plant", np.arange(len(FLEET.plant_ids)))])


NEVER_SEEN = [
    ("plant", FLEET.plant_ids.index("Far"), 3),
    ("resin", FLEET.resins.resin_id.index("new"), 4),
    ("design", FLEET.tools.design_ids.index("urn"), 3),
    ("maker", FLEET.tools.maker_ids.index("East"), 2),
]


@pytest.mark.parametrize(("group", "level", "seen"), NEVER_SEEN, ids=[group for group, _, _ in NEVER_SEEN])
def test_a_level_never_seen_is_drawn_from_its_population(group: str, level: int, seen: int) -> None:
    """N(0, sigma sqrt(1 + 1/J)) about the mean of the J levels seen."""
    assert getattr(levels_seen(FLEET), group).sum() == seen and not getattr(levels_seen(FLEET), group)[level]
    draws = 20_000
    flat = flat_of_priors(DATA, LAYOUT, draws, seed=82)
    drawn = getattr(effects_of(flat, DATA, FLEET, PRIORS), group)[:, level]
    sigma = np.abs(flat.w[:, GROUPS.index(group)]) * PRIORS.scale[GROUPS.index(group)]
    standard = drawn / sigma
    expected = np.sqrt(1.0 + 1.0 / seen)
    assert standard.mean() == pytest.approx(0.0, abs=4.0 * expected / np.sqrt(draws))
    assert standard.std() == pytest.approx(expected, rel=4.0 / np.sqrt(2.0 * draws))
    # The level is no other level's echo.
    others = np.delete(getattr(effects_of(flat, DATA, FLEET, PRIORS), group), level, axis=1) / sigma[:, None]
    assert np.abs(np.corrcoef(standard, others, rowvar=False)[0, 1:]).max() < 4.0 / np.sqrt(draws)


def test_a_group_switched_off_has_no_effect_at_a_new_level_either() -> None:
    priors = parse_priors(switched_off(*(f"group.{group}" for group in GROUPS)))
    data = prepare(FLEET, priors, LAYOUT)
    effects = effects_of(flat_of_priors(data, LAYOUT, 20, seed=83), data, FLEET, priors)
    for name in GROUPS:
        if name == "tool":  # drawn with the rows of the likelihood
            continue
        drawn = getattr(effects, name)
        if name == "resin":  # what is not known of a resin is another matter
            drawn = drawn[:, FLEET.resins.described]
        assert not drawn.any(), name


def test_a_resin_that_nothing_describes_is_widely_unsure() -> None:
    flat = flat_of_priors(DATA, LAYOUT, 30, seed=84)
    bare = FLEET.resins.resin_id.index("bare")
    assert not FLEET.resins.described[bare]
    p = flat.parameters(DATA, LAYOUT)
    by_hand = p.all[:, LAYOUT.parameter("resin", np.array(bare))] + 0.2 + 0.4 * p.all[:, LAYOUT.parameter("resin_error", np.array(bare))]
    assert effects_of(flat, DATA, FLEET, PRIORS).resin[:, bare] == pytest.approx(by_hand, rel=1e-12)


def test_climate_of_a_plant_is_its_conditions_by_the_slopes() -> None:
    flat = flat_of_priors(DATA, LAYOUT, 30, seed=85)
    p, climate = flat.parameters(DATA, LAYOUT), FLEET.climate
    span = LAYOUT.block("plant_error")
    error = p.all[:, len(COEFFICIENTS) + span.start : len(COEFFICIENTS) + span.stop].reshape(30, -1, 2)
    between, corrosivity = (p.all[:, COEFFICIENTS.index(f"slope.{name}")] for name in ("sweating_between", "log_corrosivity"))
    drawn = effects_of(flat, DATA, FLEET, PRIORS).plant_climate
    for i in range(len(FLEET.plant_ids)):
        sweating = climate.sweating_season[i].mean() + climate.sweating_sd[i] * error[:, i, 0]
        log_ratio = climate.log_corrosivity[i] + climate.log_corrosivity_sd[i] * error[:, i, 1]
        assert drawn[:, i] == pytest.approx(between * sweating + corrosivity * log_ratio, rel=1e-12)
