"""Steel that nobody wrote down is weighed over all the lives of a tool, beside the class and never twice."""

import integrated
import numpy as np
import pytest
from prior_chains import at_the_centre, under_way
from small_fleet import Coordinates, exposures_of

from wearfit.exposures.classes import CLASSES, STEELS
from wearfit.exposures.table import Exposures
from wearfit.model.data import CandidateColumns
from wearfit.model.layout import GROUPS
from wearfit.model.posterior import summarise_rows
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors

Array = np.ndarray
PRIORS = read_priors()
LIVES = (440_000, 400_000, 120_000)  # shots; the first two ended by wear, in a filled resin: long for pre-hardened steel


def fleet(steel: str = "", resin: str = "plain", service_class: str = "103") -> Exposures:
    """A tool of which three lives are on record."""
    runs = [f"T1,Heath,{resin},20{18 + i}-02-01,20{18 + i}-10-31,{shots},0" for i, shots in enumerate(LIVES)]
    events = [f"T1,20{18 + i}-11-15,retool,wear" for i in range(len(LIVES) - 1)]
    return exposures_of(
        {
            "tools": f"tool_id,service_class,cavity_steel,commissioned_on\nT1,{service_class},{steel},2018-01-15",
            "runs": "\n".join(["tool_id,plant_id,resin_id,started_on,ended_on,shots,setups", *runs]),
            "events": "\n".join(["tool_id,date,event,cause", *events]),
            "plants": "plant_id,conditioned\nHeath,1",
            "resins": "resin_id,family,filler_pct,filler_kind\nplain,ABS,,\nacid,PVC,,\nglass,PA66,30,GF",
        }
    )


def weights(exposures: Exposures) -> dict[str, float]:
    """Prior weight of each steel."""
    data = prepare(exposures, PRIORS, layout_of(exposures))
    found = np.exp(data.candidate[:, CandidateColumns.log_weight])
    return {STEELS[s]: float(w) for s, w in zip(exposures.candidates.steel, found, strict=True)}


def test_shares_are_those_of_the_priors() -> None:
    """Where no corrosive resin ran, stainless steel wears as hard steel does, and its share counts as hard."""
    assert weights(fleet()) == pytest.approx({"prehard": 0.85, "hard": 0.15})
    assert weights(fleet(resin="acid")) == pytest.approx({"prehard": 0.85, "hard": 0.10, "stainless": 0.05})
    assert weights(fleet(service_class="101")) == pytest.approx({"hard": 1.0})
    assert weights(fleet(steel="aluminium")) == pytest.approx({"aluminium": 1.0})


def test_a_tool_is_of_one_steel_all_its_life() -> None:
    """The steel is drawn by the likelihood of all lives together, tool effect integrated out by brute force."""
    draws = 8000
    exposures = fleet(resin="glass")
    layout = layout_of(exposures)
    data = prepare(exposures, PRIORS, layout)
    flat = at_the_centre(data, layout, draws)
    flat.w[:, GROUPS.index("tool")] = 0.6
    at = Coordinates(flat.z[0], flat.share[0], flat.w[0], flat.slot[0], flat.read[0])
    joint = integrated.by_candidate(at, data, layout) + data.candidate[:, CandidateColumns.log_weight]
    expected = np.exp(joint - np.logaddexp.reduce(joint))
    assert expected.min() > 0.01 and expected[STEELS.index("hard")] > 0.5  # or the test would test little
    rows = summarise_rows(flat, data, layout, exposures, *under_way(exposures, ("T1",)), seed=3)
    # What filler does differs by steel, and so tells which steel was drawn.
    spent = np.unique(rows.wear_spent[:, 0])
    assert len(spent) == len(expected) == 2
    frequency = np.array([np.mean(rows.wear_spent[:, 0] == s) for s in spent[::-1]])  # soft steel wears faster
    assert frequency == pytest.approx(expected, abs=4.0 * np.sqrt(0.25 / draws))
    assert rows.candidate[0] == expected.argmax()
    # Taken for what is usual, it would have less left: the wear-outs say that it is hard.
    assert rows.moved["steel"][0] > 0.1 and rows.moved["past"][0] == 0.0


def test_the_class_is_not_counted_twice() -> None:
    """A steel counts by how far it lies from the usual one of the class; unknown class keeps each class's own."""
    exposures = fleet()
    c = exposures.candidates
    assert {STEELS[s] for s in c.usual_steel} == {"prehard"}
    unknown = fleet(service_class="").candidates
    assert np.array_equal(unknown.steel, unknown.usual_steel) and unknown.service_class.tolist() == list(range(len(CLASSES) - 1))
