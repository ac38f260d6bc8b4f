"""The simulated law of a life's capacity, and what renewals leave of its age.

Weibull, lognormal and log-logistic with one median and one log-standard deviation, so that a fleet under another law
differs by the form of its tails alone.
"""

import math

from scipy.special import log_ndtr, ndtri_exp

from wearfit.demo.settings import Law, WearTruth

MEDIAN_HAZARD = math.log(2.0)


def cumulative_hazard(law: Law, shape: float, ratio: float) -> float:
    """H = -log P(capacity > ratio * characteristic life).

    Parameters
    ----------
    law : {"weibull", "lognormal", "loglogistic"}
    shape : float
        Weibull shape k; the others take their log-standard deviation, pi / (k sqrt 6), from it.
    ratio : float
        Wear spent over characteristic life, >= 0.
    """
    if ratio <= 0.0:
        return 0.0
    if law == "weibull":
        return math.pow(ratio, shape)
    over_median = math.log(ratio) - math.log(MEDIAN_HAZARD) / shape
    if law == "lognormal":
        return -float(log_ndtr(-over_median * shape * math.sqrt(6.0) / math.pi))
    return math.log1p(math.exp(over_median * shape * math.sqrt(2.0)))


def ratio_at(law: Law, shape: float, hazard: float) -> float:
    """Inverse of `cumulative_hazard` in `ratio`."""
    if law == "weibull":
        return math.pow(hazard, 1.0 / shape)
    median = math.pow(MEDIAN_HAZARD, 1.0 / shape)
    if law == "lognormal":
        return median * math.exp(-float(ndtri_exp(-hazard)) * math.pi / (shape * math.sqrt(6.0)))
    return median * math.pow(math.expm1(hazard), 1.0 / (shape * math.sqrt(2.0)))


def draw_capacity(law: Law, shape: float, log_life: float, spent: float, exponential: float) -> float:
    """Capacity of a life that has spent `spent` without wearing out, in reference shots.

    `exponential` is a draw of Exp(1): H(capacity) = H(spent) + exponential.
    """
    life = math.exp(log_life)
    return life * ratio_at(law, shape, cumulative_hazard(law, shape, spent / life) + exponential)


def virtual_age(truth: WearTruth, spent: float, repeat: int) -> float:
    """Age that the `repeat`-th refurbishment (from 1) since the last retool leaves of `spent`, both in reference shots.

    Kijima's second model: the age as a whole is cut, not its last stretch. Source: Kijima 1989, J. Appl. Prob. 26.
    """
    return (1.0 - truth.rejuvenation * truth.rejuvenation_fade ** (repeat - 1)) * spent
