"""Properties of the corrosivity: direction, clipping, the conditioned hall."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearfit.exposures.corrosivity import (
    CONDITIONED_LOSS_UM,
    VALID_RANGES,
    carbon_steel_loss,
    corrosivity_category,
)

INSIDE = st.tuples(*(st.floats(r.low, r.high) for r in VALID_RANGES))


@given(INSIDE)
def test_loss_is_finite_and_positive_inside_the_validity(inputs: tuple[float, float, float, float]) -> None:
    loss = carbon_steel_loss(*inputs)
    assert np.isfinite(loss.loss_um).all()
    assert (loss.loss_um > 0.0).all()
    assert not loss.clipped.any()


@pytest.mark.parametrize("rising", [1, 2, 3])
def test_loss_rises_with_humidity_and_deposits(rising: int) -> None:
    inputs = [np.full(50, 15.0), np.full(50, 70.0), np.full(50, 10.0), np.full(50, 10.0)]
    inputs[rising] = np.linspace(VALID_RANGES[rising].low, VALID_RANGES[rising].high, 50)
    assert (np.diff(carbon_steel_loss(*inputs).loss_um) > 0.0).all()


def test_loss_is_continuous_at_10_degrees() -> None:
    below, above = carbon_steel_loss([10.0, np.nextafter(10.0, 11.0)], 75.0, 20.0, 10.0).loss_um
    assert below == pytest.approx(above, rel=1e-9)


@pytest.mark.parametrize("which", range(4))
@pytest.mark.parametrize("side", ["low", "high"])
def test_an_input_outside_is_clipped_and_flagged(which: int, side: str) -> None:
    inputs = [15.0, 70.0, 10.0, 10.0]
    limit = getattr(VALID_RANGES[which], side)
    at_limit = carbon_steel_loss(*(limit if i == which else v for i, v in enumerate(inputs)))
    beyond = limit + (-1.0 if side == "low" else 1.0)
    outside = carbon_steel_loss(*(beyond if i == which else v for i, v in enumerate(inputs)))
    assert outside.loss_um == at_limit.loss_um
    assert not at_limit.clipped.any()
    assert outside.clipped[:, 0].tolist() == [i == which for i in range(4)]


def test_a_blank_input_leaves_the_loss_and_category_blank() -> None:
    loss = carbon_steel_loss([np.nan, 10.0], 70.0, 10.0, 3.0)
    assert np.isnan(loss.loss_um).tolist() == [True, False]
    assert not loss.clipped.any()
    assert corrosivity_category(loss.loss_um) == (None, "C3")


def test_a_negative_loss_has_no_category() -> None:
    with pytest.raises(ValueError, match="-1"):
        corrosivity_category([3.0, -1.0])


def test_conditioned_hall_is_near_4_um() -> None:
    """Recomputed term by term from the judged inputs: 22 degC, 45 %, SO2 1.7, chloride 1.0."""
    sulfur = 1.77 * 1.7**0.52 * np.exp(0.020 * 45.0 - 0.054 * 12.0)
    chloride = 0.102 * np.exp(0.033 * 45.0 + 0.040 * 22.0)
    assert pytest.approx(sulfur + chloride, rel=1e-12) == CONDITIONED_LOSS_UM
    assert 3.5 < CONDITIONED_LOSS_UM < 4.5
