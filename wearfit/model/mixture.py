"""The likelihood of each tool, mixed over what it may be.

A tool's candidates (service class, steel, age at entry) lie next to each other in the table of candidates, each with its log
weight; one of which all is known has a single candidate of weight one. Shapes below leave the axis of draws out.
"""

from math import exp, log
from typing import Any

import numpy as np
from numba.extending import register_jitable

from wearfit.model.data import CandidateColumns

Array = np.ndarray

TOOL, LOG_WEIGHT = CandidateColumns.tool, CandidateColumns.log_weight


def first_of_tools(candidate: Array) -> Array:
    """First candidate of each tool, shape (tool,)."""
    return np.flatnonzero(np.diff(candidate[:, TOOL], prepend=-1.0))


def single(candidate: Array) -> Array:
    """Whether a candidate is all that its tool may be, shape (candidate,)."""
    tool = candidate[:, TOOL].astype(int)
    return np.asarray(np.bincount(tool)[tool] == 1)


def joint_log_likelihood(by_candidate: Array, d: Any) -> Array:
    """Log of weight times likelihood of each candidate, shape (candidate,)."""
    return np.asarray(by_candidate + d.candidate[:, LOG_WEIGHT])


def tool_log_likelihood(joint: Array, d: Any) -> Array:
    """Log-likelihood of each tool, shape (tool,)."""
    return np.asarray(np.logaddexp.reduceat(joint, first_of_tools(d.candidate), axis=-1))


def draw_candidates(luck: Array, d: Any) -> Array:
    """What each tool is, shape (draw, tool): of a tool that may be several things the candidate with most luck.

    `luck` (draw, candidate of such a tool) is Gumbel's, and the log of how likely the candidate is.
    """
    first, several = first_of_tools(d.candidate), np.flatnonzero(~single(d.candidate))
    chosen = np.broadcast_to(first, (len(luck), len(first))).copy()
    tool = d.candidate[several, TOOL].astype(int)
    for t, start, count in zip(*np.unique(tool, return_index=True, return_counts=True), strict=True):
        chosen[:, t] += luck[:, start : start + count].argmax(axis=1)
    return chosen


@register_jitable
def mix(by_candidate: Array, candidate: Array) -> tuple[Array, Array]:
    """Summed log-likelihood of all tools, shape (1,), and its derivatives: how likely each candidate is, shape (candidate,)."""
    n = len(by_candidate)
    total, share = np.zeros(1), np.ones(n)
    start = 0
    while start < n:
        stop = start + 1
        while stop < n and candidate[stop, TOOL] == candidate[start, TOOL]:
            stop += 1
        top = by_candidate[start] + candidate[start, LOG_WEIGHT]
        if stop > start + 1:
            for c in range(start, stop):
                top = max(top, by_candidate[c] + candidate[c, LOG_WEIGHT])
            mass = 0.0
            for c in range(start, stop):
                share[c] = exp(by_candidate[c] + candidate[c, LOG_WEIGHT] - top)
                mass += share[c]
            for c in range(start, stop):
                share[c] /= mass
            top += log(mass)
        total[0] += top
        start = stop
    return total, share
