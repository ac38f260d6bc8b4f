"""The demo's calibration, and draws made by hand whose answers have closed forms."""

import pytest

from wearfit.calibration import Calibration, from_bytes
from wearfit.demo.shipped import shipped_calibration_bytes


@pytest.fixture(scope="session")
def demo_calibration() -> Calibration:
    return from_bytes(shipped_calibration_bytes())
