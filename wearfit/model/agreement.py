"""How well chains agree: R-hat, and effective draws of bulk and tails (Vehtari et al. 2021, Bayesian Analysis 16), of many levels at once.

As `arviz_stats` has it, which goes level by level: of a large history that took as long as a twentieth of all sampling.
"""

from dataclasses import dataclass, fields
from math import log10
from typing import Final

import numpy as np
from arviz_stats.base import array_stats
from scipy.special import ndtri

from wearfit.model.kept_loops import kept
from wearfit.processors import at_once

Array = np.ndarray

TAILS: Final = (0.05, 0.95)  # probabilities whose quantiles must be sure enough
BLOCK: Final = 64  # levels looked at together: their arrays stay near the processor
FEWEST: Final = 4  # draws of a chain of which anything can be told
RESOLUTION: Final = float(np.finfo(float).resolution)


@dataclass(frozen=True)
class Agreement:
    """R-hat, and effective draws of bulk and tails, of each level. Arrays of shape (level,)."""

    rhat: Array
    bulk: Array
    tail: Array


def agreement(values: Array) -> Agreement:
    """How well chains agree: rank-normalised split R-hat and the ESS of bulk and tails.

    Parameters
    ----------
    values : array, shape (chain, draw, level)
    """
    blocks = [values[..., low : low + BLOCK] for low in range(0, values.shape[-1], BLOCK)]
    found = at_once(_of_block, blocks)
    return Agreement(*(np.concatenate([np.zeros(0), *(getattr(part, f.name) for part in found)]) for f in fields(Agreement)))


def _of_block(values: Array) -> Agreement:
    each = np.ascontiguousarray(np.moveaxis(values, -1, 0))
    half = each.shape[2] // 2
    split = np.concatenate([each[..., :half], each[..., -half:]], axis=1)
    low, high = np.quantile(each, TAILS, axis=(1, 2), keepdims=True)
    with np.errstate(divide="ignore", invalid="ignore"):  # chains that each stand still: what is then no number does not pass the gate
        scores = _normal_scores(split)
        folded = _normal_scores(np.abs(split - np.median(split, axis=(1, 2), keepdims=True)))
        return Agreement(
            rhat=np.maximum(_rhat(scores), _rhat(folded)),
            bulk=effective_draws(scores),
            tail=np.minimum(effective_draws((split <= low).astype(float)), effective_draws((split <= high).astype(float))),
        )


def _normal_scores(split: Array) -> Array:
    """Normal scores of the ranks of each level, all chains together (Blom's offset); what is equal shares its mean rank."""
    flat = split.reshape(len(split), -1)
    n = flat.shape[1]
    of_rank = ndtri((np.arange(2.0, 2.0 * n + 1.0) / 2.0 - 0.375) / (n + 0.25))  # 1, 1.5, .. n
    return np.asarray(_in_order(flat, np.argsort(flat, axis=1), of_rank)).reshape(split.shape)


@kept
def _in_order(values: Array, order: Array, of_rank: Array) -> Array:
    """Scores of values, shape (level, draw), whose `order` is given, by their ranks in halves; ties share the mean of theirs."""
    out, n = np.empty(values.shape), values.shape[1]
    for level in range(len(values)):
        first = 0
        while first < n:
            last = first
            while last + 1 < n and values[level, order[level, last + 1]] == values[level, order[level, first]]:
                last += 1
            for i in range(first, last + 1):
                out[level, order[level, i]] = of_rank[first + last]
            first = last + 1
    return out


def _rhat(split: Array) -> Array:
    draws = split.shape[2]
    between = draws * split.mean(axis=2).var(axis=1, ddof=1)
    within = split.var(axis=2, ddof=1).mean(axis=1)
    return np.asarray(np.sqrt((between / within + draws - 1) / draws))


def effective_draws(chains: Array) -> Array:
    """Effective draws for the mean of each level, shape (level,), of two chains or more, (level, chain, draw)."""
    if chains.shape[2] < FEWEST:
        return np.full(len(chains), np.nan)
    covariance = array_stats.autocov(chains, axis=2).mean(axis=1)
    between = chains.mean(axis=2).var(axis=1, ddof=1)
    found = np.asarray(_by_covariance(covariance, between, chains.shape[1]))
    still = np.ptp(chains.reshape(len(chains), -1), axis=1) < RESOLUTION
    return np.where(still, float(chains[0].size) if len(chains) else 0.0, found)


@kept
def _by_covariance(covariance: Array, between: Array, chains: int) -> Array:
    """Effective draws by the mean autocovariances within chains, (level, lag), and the variance between them, (level,).

    Sums of correlations at pairs of lags count as far as they are positive, and no more than those before them (Geyer 1992, Stat. Sci. 7).
    """
    levels, n = covariance.shape
    out, rho = np.empty(levels), np.empty(n)
    for level in range(levels):
        within = covariance[level, 0] * n / (n - 1.0)
        variance = covariance[level, 0] + between[level]
        rho[:] = 0.0
        even = 1.0
        odd = 1.0 - (within - covariance[level, 1]) / variance
        rho[0], rho[1] = even, odd
        t = 1
        while t < n - 3 and even + odd > 0.0:
            even = 1.0 - (within - covariance[level, t + 1]) / variance
            odd = 1.0 - (within - covariance[level, t + 2]) / variance
            if even + odd >= 0.0:
                rho[t + 1], rho[t + 2] = even, odd
            t += 2
        most = t - 2
        if even > 0.0:
            rho[most + 1] = even
        t = 1
        while t <= most - 2:
            if rho[t + 1] + rho[t + 2] > rho[t - 1] + rho[t]:
                rho[t + 1] = (rho[t - 1] + rho[t]) / 2.0
                rho[t + 2] = rho[t + 1]
            t += 2
        total = -1.0
        for i in range(most + 1):
            total += 2.0 * rho[i]
        size = float(chains * n)
        out[level] = size / max(total + rho[most + 1], 1.0 / log10(size))
        if np.isnan(rho).any():
            out[level] = np.nan
    return out
