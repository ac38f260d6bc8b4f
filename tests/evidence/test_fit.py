"""The whole look at the fit, on small fleets with one of everything."""

import json

import pytest
from small_fleet import plated_fleet, read_fleet, small_fleet
from test_left_out import about_the_priors

from wearfit.evidence.fit import fit_report
from wearfit.exposures.table import Exposures
from wearfit.workflow.fit_in_words import sentences


@pytest.mark.parametrize("exposures", [small_fleet(), read_fleet(), plated_fleet()], ids=["small", "read", "plated"])
def test_every_kind_of_life_is_counted_once(exposures: Exposures) -> None:
    document = fit_report(about_the_priors(exposures, 40), 1)
    json.dumps(document, allow_nan=False)
    whole, parts = document["checks"][0], document["checks"][1:]
    for by in ("class", "year", "month"):
        for number in ("observed", "expected"):
            assert sum(c[number] for c in parts if c["by"] == by) == pytest.approx(whole[number], abs=1e-3)
    counted = document["counted"]
    assert counted["lives"] + counted["left_out"] == exposures.lives
    known = exposures.wear_outs
    assert known - 0.01 <= whole["observed"] <= known + counted["unstated"] + 0.01
    assert all(0.0 < c["p"] <= 1.0 and c["low"] <= c["high"] for c in document["checks"])
    assert sentences(document)[0]
