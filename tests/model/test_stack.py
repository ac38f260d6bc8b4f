"""Calibrations laid together: one beside itself says what it said alone, under the name of several laws."""

import numpy as np
import pytest

from wearfit.calibration import STACKED, from_bytes, to_bytes
from wearfit.demo.shipped import shipped_calibration_bytes
from wearfit.forecasts.fleet import forecast_fleet
from wearfit.model.stack import stack


def test_a_calibration_beside_itself_forecasts_what_it_did_alone() -> None:
    """Every second draw of each half: what is left moves by no more than half the draws are worth."""
    alone = from_bytes(shipped_calibration_bytes())
    both = from_bytes(to_bytes(stack([alone, alone], np.array([0.5, 0.5]), "for a test")))
    assert (both.identity.wear_law, both.samples) == (STACKED, alone.samples)
    before, after = (forecast_fleet(c) for c in (alone, both))
    ratio = {
        then["tool_id"]: then["remaining_shots"]["p50"] / now["remaining_shots"]["p50"]
        for now, then in zip(before.tools, after.tools, strict=True)
        if now["remaining_shots"]["p50"]
    }
    read = {alone.levels.tool[alone.live.tool[live]] for live in alone.reads.live}
    assert len(read & ratio.keys()) >= 5
    assert max(abs(np.log(ratio[tool])) for tool in read & ratio.keys()) < 0.1
    assert np.median(list(ratio.values())) == pytest.approx(1.0, abs=0.01)
