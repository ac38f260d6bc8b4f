"""The calibration that ships is the one that this code would make of the demo's records."""

import numpy as np
import pytest

from wearfit.calibration import FORMAT_VERSION, MODEL_VERSION, MOST_DRAWS, Calibration, from_bytes
from wearfit.demo.shipped import shipped_calibration_bytes
from wearfit.model.bands import band_offsets, class_log_band
from wearfit.model.gate import LEAST_EBFMI, LEAST_ESS, MOST_DIVERGENT, RHAT_GROUP
from wearfit.model.layout import COEFFICIENTS, GROUPS, SHARES
from wearfit.model.priors import read_priors
from wearfit.model.priors_file import own_priors_text
from wearfit.workflow.history import History
from wearfit.workflow.rebuild_demo import SHIPPED, demo_history
from wearfit.workflow.settings import SEED

REBUILD = "rebuild it: python -m wearfit.workflow.rebuild_demo"
LARGEST_BYTES = 3_500_000  # of which readings .3 MB


@pytest.fixture(scope="module")
def shipped() -> Calibration:
    return from_bytes(shipped_calibration_bytes())


@pytest.fixture(scope="module")
def history() -> History:
    return demo_history()


def test_it_is_small() -> None:
    assert SHIPPED.read_bytes() == shipped_calibration_bytes()
    assert len(shipped_calibration_bytes()) < LARGEST_BYTES


def test_versions_seed_and_priors_are_those_of_the_code(shipped: Calibration) -> None:
    identity = shipped.identity
    assert (identity.format_version, identity.model_version) == (FORMAT_VERSION, MODEL_VERSION), REBUILD
    assert identity.priors == own_priors_text(), REBUILD
    assert identity.seed == SEED.default, REBUILD


def test_records_are_the_demos(shipped: Calibration, history: History) -> None:
    identity = shipped.identity
    assert (identity.fingerprint, identity.as_of) == (history.fingerprint, str(history.day)), REBUILD
    assert (identity.lives, identity.wear_outs) == (history.exposures.lives, history.exposures.wear_outs), REBUILD
    assert tuple(shipped.levels.tool) == history.exposures.tools.tool_id
    assert tuple(shipped.levels.plant) == history.exposures.plant_ids
    assert np.array_equal(shipped.live.tool, history.live.tool)


def test_parameters_and_bands_are_those_of_the_code(shipped: Calibration) -> None:
    """Renamed, added or re-ordered, they would be read as one another."""
    levels, priors = shipped.levels, read_priors()
    assert (tuple(levels.coefficient), tuple(levels.share), tuple(levels.group)) == (COEFFICIENTS, tuple(SHARES), GROUPS), REBUILD
    assert shipped.identity.log_band == pytest.approx(class_log_band(priors, band_offsets(priors))), REBUILD


def test_the_gate_was_passed(shipped: Calibration) -> None:
    found = shipped.identity.diagnostics
    assert found["passed"] and not found["reasons"]
    assert found["rhat_max"] <= RHAT_GROUP
    assert min(found["ess_bulk_min"], found["ess_tail_min"]) >= LEAST_ESS
    assert found["divergences"] <= MOST_DIVERGENT * found["draws"]
    assert found["ebfmi_min"] > LEAST_EBFMI
    assert LEAST_ESS < shipped.samples <= MOST_DRAWS


def test_draws_are_numbers(shipped: Calibration) -> None:
    draws, live = shipped.draws, shipped.live
    for name in ("coefficient", "share", "scale", "plant", "plant_climate", "resin", "design", "maker", "tool", "log_likelihood"):
        assert np.isfinite(getattr(draws, name)).all(), name
    assert ((draws.share > 0.0) & (draws.share < 1.0)).all()
    assert (draws.scale >= 0.0).all()
    assert (draws.characteristic_life > 0.0).all()
    aged = ~np.isnan(draws.wear_spent[0])
    assert np.isfinite(draws.wear_spent[:, aged]).all() and np.isnan(draws.wear_spent[:, ~aged]).all()
    assert np.array_equal(np.isnan(live.shots_this_life), ~aged)
