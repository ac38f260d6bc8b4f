"""Scores of the accuracy benchmark against closed forms."""

import math

import numpy as np
import pytest
from accuracy_parts.scores import LEAST, bootstrap_ratio, held, interval, quantile, regret, summary

PEERS = ("class_band", "cox")


def test_regret_is_nought_at_the_truth_alone():
    p = np.array([0.0, 0.001, 0.2, 0.9, 1.0])
    assert regret(p, p) == pytest.approx([LEAST, 0.0, 0.0, 0.0, LEAST], abs=2e-6)
    others = np.array([0.1, 0.002, 0.1, 0.5, 0.5])
    assert np.all(regret(p, others) > 1e-4)


def test_regret_is_what_is_lost_in_log_score():
    """By hand: a fair coin called one in four loses log 2 - log(3)/2 - ... in expectation."""
    lost = 0.5 * math.log(0.5 / 0.25) + 0.5 * math.log(0.5 / 0.75)
    assert float(regret(np.array(0.5), np.array(0.25))) == pytest.approx(lost, rel=1e-12)


def test_no_chance_is_told_nearer_to_none_than_least():
    assert float(regret(np.array(0.5), np.array(0.0))) == pytest.approx(0.5 * math.log(0.5 / LEAST) + 0.5 * math.log(0.5 / (1 - LEAST)))


@pytest.mark.parametrize("band", [400.0, 800_000.0])
def test_intervals_and_their_hold_against_the_exponential(band):
    """A forecast of mean m against a truth of mean 1: the interval's ends and what it holds, in closed form."""
    m = 1.7

    def forecast(shots):
        return -np.expm1(-shots / (m * band))

    def truth(shots):
        return -np.expm1(-shots / band)

    for level in (50, 80, 90):
        low, high = interval(forecast, band, level)
        tail = 0.5 - 0.005 * level
        assert low == pytest.approx(-m * band * math.log1p(-tail), rel=1e-3)
        assert high == pytest.approx(-m * band * math.log(tail), rel=1e-3)
        assert held(truth, low, high) == pytest.approx((1.0 - tail) ** m - tail**m, abs=1e-3)
        assert held(forecast, low, high) == pytest.approx(level / 100.0, abs=1e-3)


def test_a_forecast_that_never_gets_there_has_its_quantile_at_the_end():
    assert float(quantile(lambda shots: 0.3 * -np.expm1(-shots), 1.0, np.array(0.5))) == pytest.approx(100.0)


def test_the_ratio_is_of_the_best_peer_and_its_interval_holds_it():
    rng = np.random.default_rng(1)
    ours = rng.gamma(4.0, 0.001, 60)
    peers = np.array([3.0 * ours * rng.gamma(50.0, 0.02, 60), 5.0 * ours])
    ratio, low, high = bootstrap_ratio(ours, peers, ["a"] * 30 + ["b"] * 30)
    assert ratio == pytest.approx(peers[0].mean() / ours.mean())
    assert low < ratio < high < 3.6
    exact = bootstrap_ratio(ours, np.array([3.0 * ours]), ["a"] * 60)
    assert exact == pytest.approx((3.0, 3.0, 3.0))


def _fleet(kind: str, ours: float, band: float, held_80: float) -> dict:
    names = ("wearfit", *PEERS)
    levels = {"50": 0.5, "80": held_80, "90": 0.9}
    return {
        "name": f"{kind}-0", "kind": kind, "tools_asked": 10, "runs": 20, "left_out": 0, "gate": {"passed": kind != "ten_tools"},
        "regret": {"wearfit": ours, "class_band": band, "cox": 2.0 * band},
        "chance": {"truth": 0.1, **dict.fromkeys(names, 0.08)},
        "held": dict.fromkeys(names, levels), "log_width": dict.fromkeys(names, 1.0),
    }  # fmt: skip


def test_the_summary_tells_what_is_met_and_where_it_is_not():
    good = [_fleet("own_law", 0.01 + 0.001 * i, 0.05, 0.8) for i in range(5)]
    told = summary([*good, *(_fleet("ten_tools", 0.05, 0.04 + 0.0001 * i, 0.7) for i in range(5))], PEERS)
    assert told["pooled"]["best_peer"] == "class_band"
    assert told["kinds"]["own_law"]["ratio"] == pytest.approx(0.05 / 0.012)
    assert told["kinds"]["own_law"]["bias"]["wearfit"] == pytest.approx(0.8)
    assert told["met"]["not worse than the best peer"] == ["ten_tools"]
    assert told["met"]["80 % in each kind"] == ["ten_tools"]
    assert told["met"]["80 % pooled"] is False
    assert set(told["gate_failed"]) == {"ten_tools-0"}
