"""How much narrower a range of days would be, were something known that is not.

A record that may come is held as what it may say: how likely each outcome is in each draw. Each outcome leaves the draws other weights,
and over all of them the variance splits: what their means differ by is what the record explains, the rest is what it leaves
(preposterior analysis: Raiffa & Schlaifer 1961, Applied Statistical Decision Theory).
"""

from typing import Final

import numpy as np

from wearfit.forecasts.quantiles import weighted_quantiles

Array = np.ndarray

ENDS: Final = (0.1, 0.9)  # of the range that holds 8 in 10
LEAST: Final = 1e-300


def share_told(values: Array, weights: Array, chances: Array) -> float:
    """Share of the variance that the outcome of a record would take away, on average; 0 to 1.

    Parameters
    ----------
    values, weights : arrays, shape (sample,)
        Weights are not negative and not all zero.
    chances : array, shape (sample, outcome)
        Of each outcome in each draw; they sum to one.

    Notes
    -----
    Less what the same chances would seem to explain of values that have nothing to do with them, as `hangs_on` does for bins.
    """
    if np.ptp(values) == 0.0:
        return 0.0
    weights = weights / weights.sum()
    about = values - weights @ values
    variance = float(weights @ about**2)
    joint = weights[:, None] * chances
    likely = np.maximum(joint.sum(axis=0), LEAST)
    explained = float(((about @ joint) ** 2 / likely).sum()) / variance
    seeming = float(((joint**2).sum(axis=0) / likely).sum() - weights @ weights)
    return float(np.clip((explained - seeming) / max(1.0 - seeming, LEAST), 0.0, 1.0))


def range_now(days: Array, weights: Array) -> float:
    """Days between the ends of the range that holds 8 in 10."""
    low, high = weighted_quantiles(days[:, None], weights[:, None], ENDS)[:, 0]
    return float(high - low)


def range_left(now: float, share: float) -> float:
    """The range that is left where a share of the variance is gone: it goes with the standard deviation."""
    return now * float(np.sqrt(1.0 - share))
