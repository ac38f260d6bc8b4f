"""Models that tests share, each compiled once: of a small layout for small fleets, and of that of the recovery fleet."""

import pytest
from one_class_fleet import Life, fleet_of
from recovery_fleet import recovery_fleet

from wearfit.model.layout import Layout
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors
from wearfit.model.sampler import Compiled, compile_model

# That of the fleets of 60 tools which tests of other rooms calibrate, whose machine code is then made once for all of them.
SMALL = Layout.fitting(plants=4, resins=4, designs=20, makers=5)


@pytest.fixture(scope="session")
def compiled() -> Compiled:
    return compile_model(prepare(fleet_of([Life(1)]), read_priors(), SMALL), SMALL)


@pytest.fixture(scope="session")
def compiled_for_recovery() -> Compiled:
    exposures = recovery_fleet().history.exposures
    layout = layout_of(exposures)
    return compile_model(prepare(exposures, read_priors(), layout), layout)
