"""What holds for every decision, on the demo's calibration."""

import datetime as dt
import json
import re

import numpy as np
import pytest

from wearfit.calibration import Calibration
from wearfit.decisions.choices import DECISIONS, decision_named
from wearfit.decisions.decision import Decision, decide
from wearfit.decisions.inputs import MONEY, fill
from wearfit.errors import Refusal
from wearfit.workflow.subjects import SUBJECTS, Asked, Heeded

TOOL = Asked(tool="T-049")
KIND = Asked(service_class="103", plant="salt-quay", resin="pp-natural", design="sand-bucket")
NEEDED = {
    "planned_shots": 300_000.0, "guaranteed_shots": 400_000.0, "shots_per_month": 9_000.0, "replacement_cost": 30_000.0,
    "units_wanted": 1_000_000.0, "days_to_launch": 90.0, "unit_value": 0.4,
}  # fmt: skip
every_decision = pytest.mark.parametrize("decision", DECISIONS, ids=lambda d: d.name)


def ahead_of(decision: Decision, calibration: Calibration):
    subject = SUBJECTS[decision.subject]
    asked = TOOL if "tool" in subject.takes else KIND
    own = Asked(**{name: getattr(asked, name) for name in subject.takes})
    return subject.ahead(Heeded(calibration, dt.date.fromisoformat(calibration.identity.as_of)), own)


def given_of(decision: Decision) -> dict[str, float]:
    return {item.name: NEEDED[item.name] for item in decision.inputs if item.default is None and item.name in NEEDED}


@every_decision
def test_the_answer_is_whole(decision: Decision, demo_calibration: Calibration):
    outcome = decide(decision, ahead_of(decision, demo_calibration), given_of(decision))
    document = json.loads(json.dumps(outcome.as_json(), allow_nan=False))
    assert {"what", "inputs", "actions", "advice", "hangs_on"} <= set(document)
    assert document["what"] == decision.name
    assert sum(a["p_best"] for a in document["actions"]) == pytest.approx(1.0)
    assert 0.0 <= document["p_best_error"] < 0.06
    for action in document["actions"]:
        assert set(action["cost"]) == {"p05", "p10", "p25", "p50", "p75", "p90", "p95"}
        assert list(action["cost"].values()) == sorted(action["cost"].values())
        assert action["expected_cost_range"][0] <= action["expected_cost_range"][1]
    assert min(document["actions"], key=lambda a: a["expected_cost"])["action"] == document["best"]
    assert document["best"] in document["advice"]
    assert document["hangs_on"].endswith(".") and document["advice"].endswith(".")
    tried = {t["name"] for t in document["tried"]}
    assert tried >= {k["label"] for k in document["inputs"] if k["likely"][0] < k["likely"][1]}


@every_decision
def test_the_same_seed_gives_the_same_answer(decision: Decision, demo_calibration: Calibration):
    first, second = (decide(decision, ahead_of(decision, demo_calibration), given_of(decision)).as_json() for _ in range(2))
    assert first == second


@every_decision
def test_the_unit_of_money_scales_costs_and_nothing_else(decision: Decision, demo_calibration: Calibration):
    ahead = ahead_of(decision, demo_calibration)
    values = fill(decision.inputs, ahead.on_record, given_of(decision))
    dearer = values
    for known in values.known:
        if known.input.unit.startswith(MONEY):
            dearer = dearer.with_value(known.input.name, 8.0 * known.value)
    one, eight = decision.costs(ahead, values), decision.costs(ahead, dearer)
    assert one.actions == eight.actions
    assert np.allclose(8.0 * one.cost, eight.cost)


@every_decision
def test_fewer_draws_ask_the_same_question(decision: Decision, demo_calibration: Calibration):
    ahead = ahead_of(decision, demo_calibration)
    values = fill(decision.inputs, ahead.on_record, given_of(decision))
    whole, some = decision.costs(ahead, values), decision.costs(ahead.thinned(np.arange(0, ahead.samples, 5)), values)
    assert some.known_as == whole.known_as
    error = whole.expected.std(axis=1) / np.sqrt(whole.expected.shape[1] / 5) + 1e-9 * whole.mean
    # Ages to replace at are shares of the draws' own median life: other draws are asked about other ages, and money goes with those.
    other_ages = np.abs(np.array([age_of(a) / age_of(b) for a, b in zip(some.actions, whole.actions, strict=True)]) - 1.0)
    assert other_ages.max() < 0.1
    assert (np.abs(some.mean - whole.mean) < 5.0 * error + other_ages * whole.mean).all()


def age_of(action: str) -> float:
    """Shots at which an action replaces a tool; one where it names none."""
    shots = re.search(r"at ([\d,]+) shots", action)
    return float(shots[1].replace(",", "")) if shots else 1.0


@every_decision
def test_an_impossible_input_is_refused_with_its_name(decision: Decision, demo_calibration: Calibration):
    ahead = ahead_of(decision, demo_calibration)
    for item in decision.inputs:
        with pytest.raises(Refusal) as refused:
            decide(decision, ahead, {**given_of(decision), item.name: -1.0})
        assert item.option in refused.value.problem
        assert refused.value.status == 2


def test_a_choice_that_is_none_is_refused_with_those_that_are():
    with pytest.raises(Refusal, match=r"replace, replacement-age"):
        decision_named("scrap-heap")


@pytest.mark.parametrize("decision", [d for d in DECISIONS if "tool" in SUBJECTS[d.subject].takes], ids=lambda d: d.name)
def test_the_use_on_record_of_a_tool_that_is_hardly_used_is_taken(decision: Decision, demo_calibration: Calibration):
    """T-039 made 14 shots in 24 months: less than one a month is a use, too; which months it runs is drawn, so that it is known to .03."""
    subject = SUBJECTS[decision.subject]
    ahead = subject.ahead(Heeded(demo_calibration, dt.date.fromisoformat(demo_calibration.identity.as_of)), Asked(tool="T-039"))
    names = {item.name for item in decision.inputs} - {"shots_per_month", *ahead.on_record}
    values = fill(decision.inputs, ahead.on_record, {name: NEEDED[name] for name in names & NEEDED.keys()})
    assert all(
        k.value == pytest.approx(14 / 24, abs=0.06) for k in values.known if (k.input.name, k.mark) == ("shots_per_month", "on record")
    )
