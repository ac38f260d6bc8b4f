"""One model compiled for all tests that sample: every fleet is laid out as the largest of them."""

import pytest
from recovery_fleet import recovery_fleet

from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors
from wearfit.model.sampler import Compiled, compile_model


@pytest.fixture(scope="session")
def compiled() -> Compiled:
    exposures = recovery_fleet().history.exposures
    layout = layout_of(exposures)
    return compile_model(prepare(exposures, read_priors(), layout), layout)
