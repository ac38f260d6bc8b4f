"""The likelihood of each candidate with its tool's effect integrated out: the one integral in a gradient.

A tool effect t ~ N(0, sigma^2) on log life is shared by all rows of a candidate, and reaches them by one factor e^x of all
their hazards, x = -k t (`law.log_hazard_factor`). With s = k sigma, u = x / s, S the hazard survived, n wear-outs that are
sure, and gains g_i of those whose day or cause is in doubt, the candidate's likelihood is

    exp(sum of the sure log hazards)  x  integral of  exp(n x - S e^x + sum_i g_i(x))  N(u; 0, 1) du.

The rule is the trapezium's with even steps, which on a smooth integrand that dies away at both ends converges faster than
any power of the step (Trefethen & Weideman 2014, SIAM Review 56): from about the mode, as far as the integrand counts. Even
steps in x also make e^x a running product. Being in u, all is smooth, and even, in s, through zero.

Derivatives are means over the integrand: d log I / d theta = E[d log integrand / d theta] (Fisher's identity), taken on the
same nodes as the value. An operation of PyTensor's, for a graph would pass over all nodes of all tools some thirty times.
"""

from math import exp, log, pi, sqrt
from typing import Final

import numpy as np
from numba.extending import register_jitable

from wearfit.model.data import EndedColumns, RowColumns

Array = np.ndarray

STEP: Final = 1.0  # of the integrand's own width; and in x, where the hazard rises by e in a step of one
WIDEST: Final = 0.75
NEGLIGIBLE: Final = 9.0  # [nat] below the highest node: what lies beyond adds 1e-4 or less
LEAST: Final = 1e-300  # likelihood of a wear-out; all but impossible, and finite
MUCH: Final = 1e100  # likelihoods are multiplied until their product, or one over it, is as large
CLOSE_TO_NONE: Final = 1e-4  # of a rise: its chance to end in a wear-out by a series, exact to 1e-13 of itself
MOST_TURNS: Final = 8
MOST_NODES: Final = 400  # each way; an end for numbers that are none

CANDIDATE: Final = RowColumns.candidate
ROW, INTERVAL, PERHAPS = EndedColumns.row, EndedColumns.interval, EndedColumns.perhaps


@register_jitable
def mode_of_sure(worn: float, survived: float, spread: float) -> float:
    """u at which exp(n x - S e^x) N(u; 0, 1) is highest, nearly: n s^2 - x = s^2 S e^x, solved by Wright's omega function."""
    if spread == 0.0 or survived <= 0.0:
        return worn * spread
    level = log(spread * spread * survived) + worn * spread * spread
    past = level - 1.0
    if level < -2.0:
        omega = exp(level)
    elif level < 4.0:  # Taylor's series about omega(1) = 1
        omega = 1.0 + past * (0.5 + past * (0.0625 - past / 192.0))
    else:
        omega = level - log(level)
    for _ in range(MOST_TURNS):  # Newton's method on omega + log(omega) = level
        short = level - log(omega) - omega
        omega *= 1.0 + short / (1.0 + omega)
        if short * short < 0.1 * abs(spread):  # what is left, about half of it, is small in u, which is in units of the spread
            break
    return worn * spread - omega / spread


@register_jitable
def doubtful(factor: float, interval: bool, rate: float, share: float) -> tuple[float, float, float, float]:
    """Likelihood of a wear-out in doubt, pi W + (1 - pi) C, and derivatives of its log by x, by log hazard or `rise`, and by pi.

    W is e^x h on a day that is known, 1 - exp(-e^x rise) within an interval, at whose start its survival ends;
    C, that it had another cause, is 1 and exp(-e^x rise). `rate` is h or `rise`.
    """
    if interval:
        rising = factor * rate
        if rising > CLOSE_TO_NONE:
            through = exp(-rising)
            missed = 1.0 - through
        else:
            missed = rising * (1.0 - rising * (0.5 - rising / 6.0))
            through = 1.0 - missed
        likelihood = max(share * missed + (1.0 - share) * through, LEAST)
        slope = (2.0 * share - 1.0) * through / likelihood
        return likelihood, rising * slope, factor * slope, (missed - through) / likelihood
    hazard = factor * rate
    likelihood = max(share * hazard + (1.0 - share), LEAST)
    worn = share * hazard / likelihood
    return likelihood, worn, worn, (hazard - 1.0) / likelihood


def tool_marginals(
    survived: Array, exact: Array, rise: Array, share: Array, spread: Array, candidate: Array, row: Array, ended: Array
) -> tuple[Array, Array, Array, Array, Array, Array]:
    """Log-likelihood of each candidate, its tool's effect integrated out, and its derivatives.

    Parameters
    ----------
    survived : (row,)
        Log-probability of the row's survival without a tool effect, zero or less.
    exact, rise : (ended,)
        Log hazard at the end, and cumulative hazard from the last good day to the end (> 0), without a tool effect.
    share, spread : (1,)
        Of renewals of unstated cause, those by wear; and k sigma, of either sign.
    candidate, row, ended
        Tables of `ModelData`; rows in order of candidates, ended rows in order of rows.

    Returns
    -------
    value, of_survived, of_spread, of_share : (candidate,)
        The log-likelihood, and its derivatives by the `survived` of any of the candidate's rows, by spread and by share.
    of_exact, of_rise : (ended,)
        Derivatives of the row's candidate.
    """
    n, s, pi_wear = len(candidate), spread[0], share[0]
    value, of_survived, of_spread, of_share = np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n)
    of_exact, of_rise = np.zeros(len(ended)), np.zeros(len(ended))
    hazards = np.zeros(n)
    for r in range(len(row)):
        hazards[int(row[r, CANDIDATE])] -= survived[r]
    # Of the doubtful rows of one candidate: which ended row each is, its hazard or rise, derivatives at a node, sums over the nodes.
    in_doubt, rate = np.zeros(len(ended), dtype=np.int64), np.zeros(len(ended))
    by_term, by_share, sums = np.zeros(len(ended)), np.zeros(len(ended)), np.zeros(len(ended))
    at = 0
    for c in range(n):
        hazard, worn, known, expected, doubts = hazards[c], 0.0, 0.0, 0.0, 0
        while at < len(ended) and int(row[int(ended[at, ROW]), CANDIDATE]) == c:
            if ended[at, INTERVAL] > 0.0 or ended[at, PERHAPS] > 0.0:
                in_doubt[doubts], sums[doubts] = at, 0.0
                rate[doubts] = rise[at] if ended[at, INTERVAL] > 0.0 else exp(exact[at])
                doubts += 1
                expected += pi_wear if ended[at, PERHAPS] > 0.0 else 1.0
            else:
                known += exact[at]
                worn += 1.0
                of_exact[at] = 1.0
            at += 1
        if hazard == 0.0 and worn + doubts == 0.0:
            continue  # nothing is known of it
        centre = mode_of_sure(worn + expected, hazard, s)
        at_centre = exp(s * centre)
        step = min(STEP / sqrt(1.0 + s * s * (hazard * at_centre + expected)), WIDEST / max(abs(s), 1e-3))
        mass, of_factor, of_s, of_pi, height, top = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
        grown, stride = exp(s * step), step
        factor, u = at_centre, centre
        for _ in range(2):
            for _ in range(MOST_NODES):
                slope = worn - hazard * factor
                here = (worn * s - 0.5 * u) * u - hazard * factor
                product = 1.0  # one logarithm for many
                for i in range(doubts):
                    e = in_doubt[i]
                    sure = pi_wear if ended[e, PERHAPS] > 0.0 else 1.0
                    likelihood, by_x, by_term[i], by_share[i] = doubtful(factor, ended[e, INTERVAL] > 0.0, rate[i], sure)
                    product *= likelihood
                    slope += by_x
                    if not 1.0 / MUCH < product < MUCH:
                        here += log(product)
                        product = 1.0
                if doubts > 0:
                    here += log(product)
                if mass == 0.0:
                    height, top = here, here
                if not here >= top - NEGLIGIBLE:
                    break
                top = max(top, here)
                weight = exp(here - height)
                mass += weight
                of_factor += weight * factor
                of_s += weight * u * slope
                for i in range(doubts):
                    sums[i] += weight * by_term[i]
                    if ended[in_doubt[i], PERHAPS] > 0.0:
                        of_pi += weight * by_share[i]
                factor *= grown
                u += stride
            grown, stride = 1.0 / grown, -step  # and to the left, where the centre counts no second time
            factor, u = at_centre * grown, centre + stride
        if not 0.0 < mass < np.inf:
            value[c] = -np.inf  # hazards that are no numbers
            continue
        value[c] = known + height + log(mass * step / sqrt(2.0 * pi))
        of_survived[c], of_spread[c], of_share[c] = of_factor / mass, of_s / mass, of_pi / mass
        for i in range(doubts):
            if ended[in_doubt[i], INTERVAL] > 0.0:
                of_rise[in_doubt[i]] = sums[i] / mass
            else:
                of_exact[in_doubt[i]] = sums[i] / mass
    return value, of_survived, of_spread, of_share, of_exact, of_rise
