"""Scores against the truth, and what a benchmark of many fleets says: regret, its ratio and its bootstrap, coverage, width, bias."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

import numpy as np

from wearfit.evidence.scores import LEVELS

Array = np.ndarray

LEAST: Final = 1e-4  # no chance counts as nearer to none or to certain, whoever forecasts: kind to who is sure of himself
GRID: Final = np.concatenate([[0.0], np.logspace(-5.0, 2.0, 1401)])  # shots left at which quantiles are looked up, in lives of the band
OURS: Final = "wearfit"
BAND: Final = "class_band"
BOOTSTRAP: Final = 10_000
BOOTSTRAP_SEED: Final = 6
INTERVAL: Final = (0.025, 0.975)
AIMED_RATIO: Final = 3.0
POOLED_COVERAGE: Final = (0.78, 0.82)
KIND_COVERAGE: Final = (0.74, 0.86)
TOLERATED: Final = 2.0  # standard errors by which a kind may be worse than its best peer


def regret(truth: Array, chance: Array) -> Array:
    """Kullback-Leibler divergence of forecast chances from true ones, shape as given. [nat a run]"""
    q = np.clip(chance, LEAST, 1.0 - LEAST)
    p = np.asarray(truth, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        yes = np.where(p > 0.0, p * np.log(p / q), 0.0)
        no = np.where(p < 1.0, (1.0 - p) * np.log((1.0 - p) / (1.0 - q)), 0.0)
    return np.asarray(yes + no)


def quantile(gone_by: Callable[[Array], Array], band: float, at: Array) -> Array:
    """Shots left that a forecast exceeds with chance one less `at`, shape as `at`.

    `gone_by` gives the chance of wear-out by so many shots; the last point of GRID where the forecast never gets there.
    """
    reached = np.maximum.accumulate(np.asarray(gone_by(GRID * band)))
    rising = np.append(True, np.diff(reached) > 0.0)
    return np.asarray(np.interp(at, reached[rising], GRID[rising], right=GRID[-1]) * band)


def interval(gone_by: Callable[[Array], Array], band: float, level: int) -> tuple[float, float]:
    """Central interval of the shots left that holds so many per cent of a forecast."""
    low, high = quantile(gone_by, band, 0.5 + 0.005 * level * np.array([-1.0, 1.0]))
    return float(low), float(high)


def held(true_gone_by: Callable[[Array], Array], low: float, high: float) -> float:
    """Chance, by the true law of the shots left, that an interval holds them."""
    by_low, by_high = true_gone_by(np.array([low, high]))
    return float(by_high - by_low)


def bootstrap_ratio(ours: Array, peers: Array, kinds: Sequence[str]) -> tuple[float, float, float]:
    """Regret of the best peer over ours, pooled over fleets, and its interval when fleets are drawn anew within their kinds.

    Parameters
    ----------
    ours : array, shape (fleet,)
    peers : array, shape (peer, fleet)
        The best is chosen anew in each draw of the bootstrap.
    """
    rng, of = np.random.default_rng(BOOTSTRAP_SEED), np.asarray(kinds)
    weight = np.zeros((BOOTSTRAP, len(ours)))
    for kind in np.unique(of):
        here = np.flatnonzero(of == kind)
        weight[:, here] = rng.multinomial(len(here), np.full(len(here), 1.0 / len(here)), size=BOOTSTRAP)
    ratios = (weight @ peers.T).min(axis=1) / np.maximum(weight @ ours, 1e-12)
    low, high = np.quantile(ratios, INTERVAL)
    return float(peers.mean(axis=1).min() / ours.mean()), float(low), float(high)


def summary(fleets: Sequence[Mapping[str, Any]], peers: Sequence[str]) -> dict[str, Any]:
    """What the fleets that were scored say together, and kind by kind.

    Each fleet's figures are averages over its runs (`regret`, `chance`) or tools (`held`, `log_width`); fleets count alike, but
    coverage, which counts tools alike.
    """
    kinds = [str(f["kind"]) for f in fleets]
    table = {name: np.array([f["regret"][name] for f in fleets]) for name in (OURS, *peers)}
    ratio, low, high = bootstrap_ratio(table[OURS], np.array([table[name] for name in peers]), kinds)
    whole = _of_some(fleets, peers, OURS)
    by_kind = {k: _of_some([f for f in fleets if f["kind"] == k], peers, BAND if k == "no_events" else OURS) for k in dict.fromkeys(kinds)}
    pooled_80 = whole["held"][OURS]["80"]
    return {
        "fleets": len(fleets),
        "pooled": {**whole, "ratio": ratio, "ratio_interval": [low, high]},
        "kinds": by_kind,
        "gate_failed": [f["name"] for f in fleets if not f["gate"]["passed"]],
        "met": {
            "ratio at least 3": bool(ratio >= AIMED_RATIO),
            "80 % pooled": bool(POOLED_COVERAGE[0] <= pooled_80 <= POOLED_COVERAGE[1]),
            "80 % in each kind": [k for k, of in by_kind.items() if not KIND_COVERAGE[0] <= of["held"][OURS]["80"] <= KIND_COVERAGE[1]],
            "not worse than the best peer": [k for k, of in by_kind.items() if of["behind"] > TOLERATED * of["behind_se"]],
        },
    }


def _of_some(fleets: Sequence[Mapping[str, Any]], peers: Sequence[str], rival: str) -> dict[str, Any]:
    """Averages over some fleets; how far wearfit is behind the best peer, or behind `rival` where one is named, and how sure that is."""
    names = (OURS, *peers)
    regrets = {name: float(np.mean([f["regret"][name] for f in fleets])) for name in names}
    best = min(peers, key=lambda name: regrets[name]) if rival == OURS else rival
    behind = np.array([f["regret"][OURS] - f["regret"][best] for f in fleets])
    tools = np.array([f["tools_asked"] for f in fleets], dtype=float)
    return {
        "fleets": len(fleets),
        "tools": int(tools.sum()),
        "runs": int(sum(f["runs"] for f in fleets)),
        "regret": regrets,
        "best_peer": best,
        "ratio": regrets[best] / max(regrets[OURS], 1e-12),
        "behind": float(behind.mean()),
        "behind_se": float(behind.std(ddof=1) / np.sqrt(len(behind))) if len(behind) > 1 else float("inf"),
        "true_chance": float(np.mean([f["chance"]["truth"] for f in fleets])),
        "bias": {n: float(np.mean([f["chance"][n] for f in fleets]) / np.mean([f["chance"]["truth"] for f in fleets])) for n in names},
        "held": {n: {str(c): float(np.average([f["held"][n][str(c)] for f in fleets], weights=tools)) for c in LEVELS} for n in names},
        "log_width": {n: float(np.median([f["log_width"][n] for f in fleets])) for n in names},
        "left_out": int(sum(f["left_out"] for f in fleets)),
    }
