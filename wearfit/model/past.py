"""Ages at entry that are weighed for lives whose beginning nobody recorded, by quadrature.

The clock of such a tool has run for N shots since it last surely stood at zero: those on record, and the rest of the time at
the usual pace, lognormal. Where a renewal in that time might not be on record, the life under way is N old with the chance
S(N) that none was needed, S the prior predictive survival of a tool of its class and steel in its first conditions; else its
age x lies in (0, N) with a density proportional to S(x), the age of a renewal process that has run for long (Cox 1962, Renewal
Theory, ch. 5, from memory). Never zero. The chance to have come so far is in these weights: the likelihood then takes each age
as given, with survival counted from it.
"""

from typing import Final

import numpy as np
from scipy.special import ndtri

from wearfit.exposures.table import Exposures
from wearfit.model.bands import BandOffsets
from wearfit.model.priors import Priors

Array = np.ndarray

TOTALS: Final = 15  # equally likely values of N
STEPS: Final = 80  # ages below each of them, evenly spaced in their logarithms
YOUNGEST: Final = 1e-4  # of N
LEAST_SHOTS: Final = 1.0
LEAST_WEIGHT: Final = 1e-12


def opening_ages(exposures: Exposures, priors: Priors, bands: Array, offsets: BandOffsets, log_wear: Array) -> tuple[Array, Array]:
    """Shots that each candidate's life had behind it at entry, and their log weights, shape (candidate,) each.

    Parameters
    ----------
    bands : array, shape (candidate,)
        Log band, with the shift that the steel brings at its prior location.
    log_wear : array, shape (candidate,)
        Log wear per shot of the opening at the priors' centre.

    Returns
    -------
    shots, log_weight : arrays
        One shot and a log weight of zero where the age at entry is not weighed; else weights of a candidate's ages sum to one.
    """
    candidates, past = exposures.candidates, exposures.past
    shots, log_weight = np.ones(len(bands)), np.zeros(len(bands))
    kept = 1.0 - priors.share_a[0] / (priors.share_a[0] + priors.share_b[0])  # by a refurbishment
    group = np.cumsum(candidates.opening <= 0)
    counts = np.bincount(group)
    for first in np.flatnonzero(candidates.opening == 0):
        tool, nodes = candidates.tool[first], int(counts[group[first]])
        sd = priors.past_use_log_sd[past.pace[tool]] * (past.days[tool] > 0)
        total = total_shots(past.counted[tool], past.days[tool], past.per_day[tool], sd)
        total = total * (1.0 - past.refurbished[tool] * (1.0 - kept))
        age, weight = ages(total, bool(past.hidden[tool]), offsets.spread[candidates.service_class[first]], bands[first] - log_wear[first])
        log_age, share = gauss(np.log(age), weight, nodes)
        shots[first : first + nodes] = np.exp(log_age)
        log_weight[first : first + nodes] = np.log(np.maximum(share, LEAST_WEIGHT))
    return shots, log_weight


def total_shots(counted: float, days: float, per_day: float, log_sd: float) -> Array:
    """Equally likely numbers of shots since the clock's zero, shape (TOTALS,)."""
    z = ndtri((np.arange(TOTALS) + 0.5) / TOTALS)
    return np.maximum(counted + days * per_day * np.exp(log_sd * z), LEAST_SHOTS)


def ages(total: Array, hidden: bool, spread: Array, log_band: float) -> tuple[Array, Array]:
    """Possible ages of the life under way and their probabilities, shape (age,) each. [shots]

    Parameters
    ----------
    total : array, shape (total,)
        Equally likely numbers of shots since the clock's zero.
    hidden : bool
        Whether a renewal since then might not be on record.
    spread : array, shape (draw,)
        Sorted draws of log life less the band.
    log_band : float
        Log band in shots of the first conditions.
    """
    if not hidden:
        return total, np.full(len(total), 1.0 / len(total))

    def survival(shots: Array) -> Array:
        return np.asarray(1.0 - np.searchsorted(spread, np.log(shots) - log_band) / (len(spread) + 1.0))

    alone = survival(total)
    between = np.maximum(total[:, None] * YOUNGEST ** ((np.arange(STEPS) + 0.5) / STEPS), LEAST_SHOTS)
    density = survival(between) * between  # in the logarithm
    renewed = (1.0 - alone)[:, None] * density / density.sum(axis=1, keepdims=True)
    weight = np.concatenate([alone, renewed.ravel()]) / len(total)
    return np.concatenate([total, between.ravel()]), weight


def gauss(values: Array, weights: Array, nodes: int) -> tuple[Array, Array]:
    """Nodes and weights of the Gauss rule of a discrete measure, shape (node,) each.

    Moments up to the (2 node - 1)th are those of the measure. By Stieltjes' recurrence and the eigenvalues of Jacobi's matrix
    (Golub & Welsch 1969, Math. Comp. 23). A measure with next to no width has all its weight at one node.
    """
    centre, weights = float(weights @ values), weights / weights.sum()
    width = float(np.sqrt(weights @ (values - centre) ** 2))
    if width < 1e-9:
        return np.full(nodes, centre), np.append(1.0, np.zeros(nodes - 1))
    x = (values - centre) / width
    diagonal, off = np.zeros(nodes), np.zeros(nodes)
    before, here, norm = np.zeros_like(x), np.ones_like(x), 1.0
    for k in range(nodes):
        diagonal[k] = weights @ (x * here * here) / norm
        following = (x - diagonal[k]) * here - off[k] * before
        risen = float(weights @ (following * following))
        if k + 1 < nodes:
            off[k + 1] = risen / norm
        before, here, norm = here, following, max(risen, 1e-300)
    matrix = np.diag(diagonal) + np.diag(np.sqrt(off[1:]), 1) + np.diag(np.sqrt(off[1:]), -1)
    at, vectors = np.linalg.eigh(matrix)
    return centre + width * at, vectors[0] ** 2
