"""First-year loss of carbon steel, its categories and its validity, against ISO 9223:2012; time of wetness against ISO 9223:1992."""

import numpy as np
import pytest

from wearfit.exposures.corrosivity import VALID_RANGES, carbon_steel_loss, corrosivity_category
from wearfit.exposures.humidity import wetness_class

# Function of ISO 9223:2012, seen; the values computed from it. [degC, %, mg/(m2 d), mg/(m2 d), um/a]
POINTS = [
    (10.0, 80.0, 20.0, 10.0, 50.517, "C4"),
    (5.0, 75.0, 40.0, 1.5, 27.417, "C3"),
    (20.0, 75.0, 3.95, 3.5, 15.308, "C2"),
    (10.0, 70.0, 10.0, 3.0, 26.797, "C3"),
]


@pytest.mark.parametrize(("temp_c", "rh_pct", "so2", "chloride", "loss_um", "category"), POINTS)
def test_loss_of_carbon_steel(temp_c: float, rh_pct: float, so2: float, chloride: float, loss_um: float, category: str) -> None:
    loss = carbon_steel_loss(temp_c, rh_pct, so2, chloride)
    assert loss.loss_um == pytest.approx([loss_um], abs=1e-3)
    assert not loss.clipped.any()
    assert corrosivity_category(loss.loss_um) == (category,)


# ISO 9223:2012, table 2, carbon steel, seen. [um/a]
@pytest.mark.parametrize(
    ("category", "low", "high"),
    [("C1", 0.0, 1.3), ("C2", 1.3, 25.0), ("C3", 25.0, 50.0), ("C4", 50.0, 80.0), ("C5", 80.0, 200.0), ("CX", 200.0, 700.0)],
)
def test_categories(category: str, low: float, high: float) -> None:
    inside = np.array([np.nextafter(low, np.inf), 0.5 * (low + high), high])
    assert corrosivity_category(inside) == (category, category, category)


def test_validity() -> None:
    """ISO 9223:2012, seen."""
    assert [(r.low, r.high) for r in VALID_RANGES] == [(-17.1, 28.7), (34.0, 93.0), (0.7, 150.4), (0.4, 760.5)]


# ISO 9223:1992, class limits from memory. [h/a]
@pytest.mark.parametrize(
    ("wetness", "low", "high"),
    [("tau1", 0.0, 10.0), ("tau2", 10.0, 250.0), ("tau3", 250.0, 2500.0), ("tau4", 2500.0, 5500.0), ("tau5", 5500.0, 8766.0)],
)
def test_wetness_classes(wetness: str, low: float, high: float) -> None:
    assert {wetness_class(hours) for hours in (np.nextafter(low, np.inf), 0.5 * (low + high), high)} == {wetness}
