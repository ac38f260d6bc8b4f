"""Forecasts and outcomes of a fleet whose chances are known, without a calibration."""

import numpy as np
from scipy.stats import weibull_min

from wearfit.evidence.backtest import FORECASTERS, POINTS, Marks

Array = np.ndarray
DAYS = (19_000.0, 19_400.0)  # days since 1970: in January 2022 and in February 2023


def marks_of_law(seed: int, off: tuple[float, ...], tools: int = 150, runs: int = 4) -> Marks:
    """Tools whose chances every forecaster knows up to a factor on their log odds, and lives known up to one on their length.

    Parameters
    ----------
    off : one number a forecaster
        What its log odds and its log lives are off by; 0 is right.
    """
    rng = np.random.default_rng(seed)
    names = np.array([f"T{i:03d}" for i in range(tools)], dtype=object)
    n = tools * runs
    odds = rng.normal(-2.5, 1.2, n)
    chances = np.array([1.0 / (1.0 + np.exp(-(odds + by))) for by in off])
    true = 1.0 / (1.0 + np.exp(-odds))
    worn = (rng.random(n) < true).astype(float)
    stopped = np.maximum(worn, (rng.random(n) < 0.02).astype(float))
    scale = np.exp(rng.normal(-0.3, 0.4, tools))
    ended, lost = weibull_min(2.5, scale=scale).rvs(tools, random_state=rng), rng.uniform(0.1, 1.2, tools)
    seen = np.minimum(ended, lost)
    by_end = np.array([weibull_min(2.5, scale=scale * np.exp(by)).cdf(seen) for by in off])
    curve = np.array([weibull_min(2.5, scale=(scale * np.exp(by))[:, None]).cdf(POINTS[None, :]) for by in off])
    assert len(off) == len(FORECASTERS)
    return Marks(
        run_day=np.repeat(DAYS, n // 2),
        run_tool=np.tile(names, runs),
        run_chance=chances,
        run_worn=worn,
        shared=np.zeros(2),
        stop_chance=1.0 - (1.0 - chances[0]) * 0.98,
        run_stopped=stopped,
        life_day=np.repeat(DAYS, tools // 2),
        life_tool=names,
        life_low=seen,
        life_high=seen,
        life_worn=(ended <= lost).astype(float),
        life_by_low=by_end,
        life_by_high=by_end,
        life_curve=curve,
        unplaced=np.array([1, 0]),
        gate=np.array([True, True]),
        day=np.array(DAYS),
        wear_outs=np.array([11, 30]),
    )
