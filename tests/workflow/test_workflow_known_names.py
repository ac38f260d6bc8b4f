"""Names in questions, as the calibration has them."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import pytest

from wearfit.calibration import Calibration
from wearfit.records.choices import Choices
from wearfit.workflow.known_names import known_tool


@pytest.mark.parametrize(
    ("asked", "levels", "chosen", "known"),
    [
        ("t104", ["T-104", "T-105"], {}, "T-104"),
        ("T-104", ["T-104", "t 104"], {}, "T-104"),
        ("t104", ["T-104", "t 104"], {}, "t104"),  # two that it may be
        ("T-106", ["T-104"], {}, "T-106"),
        ("T-1-04", ["T-104"], {}, "T-1-04"),
        ("press 4", ["T-104"], {"Press-4": "T-104"}, "T-104"),
        ("press 4", ["T-104"], {"Press-4": "t 104"}, "T-104"),
        ("heath", ["Heath"], {"heath": "heath"}, "heath"),  # by the choices it is another
        ("T 104", ["T1", "T2"], {"T-104": "T1", "T 104": "T2"}, "T2"),
        ("HTH", ["Heath", "heath"], {"HTH": "Heath"}, "Heath"),
        ("heath", ["Heath", "HEATH"], {"heath": "Heath"}, "Heath"),
    ],
)
def test_a_name_is_known_as(demo_calibration: Calibration, asked: str, levels: Sequence[str], chosen: Mapping[str, str], known: str):
    calibration = replace(demo_calibration, levels=replace(demo_calibration.levels, tool=np.array(levels, dtype=object)))
    assert known_tool(asked, calibration, Choices(names={"tool_id": dict(chosen)})) == known
