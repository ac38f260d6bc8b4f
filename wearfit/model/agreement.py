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
    levels, count, n = chains.shape
    covariance = array_stats.autocov(chains, axis=2).mean(axis=1)
    variance = covariance[:, 0] + chains.mean(axis=2).var(axis=1, ddof=1)
    correlation = 1.0 - (covariance[:, :1] * n / (n - 1.0) - covariance) / variance[:, None]
    correlation[:, 0] = 1.0
    spread = -1.0 + _sum_of_correlations(correlation[:, : n - 2 + n % 2].reshape(levels, -1, 2))
    found = count * n / np.maximum(spread, 1.0 / log10(count * n))
    still = np.ptp(chains.reshape(levels, -1), axis=1) < RESOLUTION
    return np.where(still, float(count * n), found)


def _sum_of_correlations(pairs: Array) -> Array:
    """Twice the sum of correlations at lags from zero on, shape (level,), given them by pairs of lags, (level, pair, 2).

    Pairs count as long as their sums are positive, and none for more than the least before it (Geyer 1992, Stat. Sci. 7); of the pair
    that ends them the even lag counts once where it is positive, which makes what alternates come out right.
    """
    level, sums = np.arange(len(pairs)), pairs.sum(axis=2)
    ends = sums <= 0.0
    end = np.where(ends.any(axis=1), ends.argmax(axis=1), sums.shape[1] - 1)
    counted = np.where(np.arange(sums.shape[1]) < end[:, None], np.minimum.accumulate(sums, axis=1), 0.0)
    even = pairs[level, end, 0]
    return np.asarray(2.0 * counted.sum(axis=1) + np.where((even > 0.0) | (sums[level, end] >= 0.0), even, 0.0))
