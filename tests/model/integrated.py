"""Tool effects integrated out by brute force: the likelihood given an effect, on a fine grid of effects."""

from typing import Any

import numpy as np

from wearfit.model import likelihood as ll
from wearfit.model.clock import log_life, run_clock
from wearfit.model.data import CandidateColumns, ModelData
from wearfit.model.layout import Layout
from wearfit.model.parameters import build_parameters
from wearfit.model.readings import told_by_readings

Array = np.ndarray

# In standard deviations of the effect: a tool tried in a class far too short-lived has its mass at a hundred of them.
GRID = np.linspace(-160.0, 160.0, 32_001)


def log_mean(log_values: Array, spacing: float) -> Array:
    """Log of the integral over evenly spaced nodes along the first axis."""
    top = log_values.max(axis=0)
    return np.asarray(top + np.log(np.exp(log_values - top).sum(axis=0) * spacing))


def by_candidate(at: Any, d: ModelData, layout: Layout) -> Array:
    """Log-likelihood of each candidate at one draw, its tool's effect integrated out, shape (candidate,)."""
    p = build_parameters(at.z, at.share, at.w, at.slot, d, layout)
    scale = ll.tool_spread(p, at.w, d) / np.exp(p.coefficient("log_shape"))
    usual, clock = log_life(p, d), run_clock(p, d)
    told = told_by_readings(p, clock, at.read, d, layout)
    with np.errstate(over="ignore"):  # effects beyond belief
        terms = ll.history_terms(p, clock, usual + (scale * GRID)[:, None], d, told=told)
        given = ll.candidate_log_likelihood(terms, p, d)
    density = -0.5 * (GRID**2 + np.log(2.0 * np.pi))
    return log_mean(given + density[:, None], GRID[1] - GRID[0])


def log_likelihood(at: Any, d: ModelData, layout: Layout) -> float:
    """Summed log-likelihood at one draw, tool effects integrated out."""
    p = build_parameters(at.z, at.share, at.w, at.slot, d, layout)
    values = by_candidate(at, d, layout)
    tools = 0.0
    for tool in np.unique(d.candidate[:, CandidateColumns.tool]):
        own = d.candidate[:, CandidateColumns.tool] == tool
        tools += np.logaddexp.reduce(values[own] + d.candidate[own, CandidateColumns.log_weight])
    sudden = ll.sudden_log_likelihood(p, d, layout).sum()
    return float(tools + sudden + ll.cause_log_likelihood(p, d))
