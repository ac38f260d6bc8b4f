"""Which class: limiting cases, and a class that no volume can wear out."""

import numpy as np
import pytest
from known_draws import known_new_tool

from wearfit.decisions.decision import decide
from wearfit.decisions.lives import MOST
from wearfit.decisions.service_class import RATIO, SERVICE_CLASS
from wearfit.errors import Refusal
from wearfit.forecasts.alternatives import Alternatives

LIVES = {"101": 20_000.0, "102": 9_000.0, "103": 4_000.0, "104": 1_000.0, "105": 4.0}


def classes(samples: int = 300) -> Alternatives:
    return Alternatives({name: known_new_tool(life, 3.0, samples=samples) for name, life in LIVES.items()}, {"price_103": 1000.0})


def test_a_handful_of_shots_buys_the_cheapest():
    outcome = decide(SERVICE_CLASS, classes(), {"planned_shots": 1.0})
    assert outcome.best == "buy a 105 tool"
    prices = [a.expected_cost for a in outcome.actions]
    assert prices[:4] == pytest.approx([1000.0 * RATIO[name] for name in ("101", "102", "103", "104")])


def test_a_large_volume_buys_the_longest_lived_and_leaves_out_what_wears_too_often():
    outcome = decide(SERVICE_CLASS, classes(), {"planned_shots": 12_000.0})
    assert outcome.best == "buy a 101 tool"
    assert [a.action for a in outcome.actions] == [f"buy a {name} tool" for name in ("101", "102", "103", "104")]
    assert any("105 (some" in note for note in outcome.notes)


def test_the_cost_is_the_price_and_the_cavity_sets_of_the_renewal_function():
    # Smith & Leadbetter 1963: k 3, M(3) = 2.924775 at three characteristic lives.
    given = {"planned_shots": 12_000.0, "discount_rate": 0.0, "stop_cost": 100.0, "gap_cost_per_week": 10.0, "retool_weeks": 5.0}
    outcome = decide(SERVICE_CLASS, classes(3000), given)
    each = 0.55 * 1000.0 + 100.0 + 50.0
    found = next(a for a in outcome.actions if a.action == "buy a 103 tool").expected_cost
    assert abs(found - (1000.0 + 2.924775 * each)) < 4.0 * 0.6 * each / np.sqrt(3000 * 40)


def test_a_volume_that_no_class_can_make_is_refused():
    with pytest.raises(Refusal, match="wear out more than 20 cavity sets of any class"):
        decide(SERVICE_CLASS, classes(), {"planned_shots": 1e7})
    assert MOST / 3.0 == 20.0


def test_a_dearer_class_never_gains():
    shares = []
    for price in (1500.0, 2000.0, 3000.0):
        outcome = decide(SERVICE_CLASS, classes(), {"planned_shots": 6_000.0, "price_101": price})
        shares.append(outcome.actions[0].p_best)
    assert shares[0] >= shares[1] >= shares[2]
