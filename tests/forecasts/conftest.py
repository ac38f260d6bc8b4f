"""The demo's calibration."""

import pytest
from in_double import in_double

from wearfit.calibration import Calibration, from_bytes
from wearfit.demo.shipped import shipped_calibration_bytes


@pytest.fixture(scope="session")
def demo_calibration() -> Calibration:
    return from_bytes(shipped_calibration_bytes())


@pytest.fixture(scope="session")
def demo_in_double(demo_calibration: Calibration) -> Calibration:
    return in_double(demo_calibration)
