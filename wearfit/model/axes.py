"""Axes of the coefficients along which wear-outs tell least to most, for a sampler that takes its steps an axis at a time.

Coefficients are loc + root @ z with z standard normal, and root @ V, V orthogonal, is another root of the same prior. The V
chosen holds the eigenvectors of what the wear-outs tell about z, so that posterior correlations of z are mostly gone.
"""

from typing import Final

import numpy as np

from wearfit.model.data import CandidateColumns, EndedColumns, ModelData, RowColumns
from wearfit.model.layout import COEFFICIENTS, GROUPS, Layout
from wearfit.model.likelihood import Parameters, log_life, run_clock

Array = np.ndarray

STEP: Final = 0.01  # in prior standard deviations
LEAST_WEAR: Final = 1.0  # [reference shots] stands for none, in a logarithm


def turned_root(d: ModelData, layout: Layout) -> Array:
    """A root of the coefficients' prior covariance on those axes, shape (coefficient, coefficient).

    Notes
    -----
    A wear-out tells log(D / eta) with variance pi^2 / (6 k^2) + sigma_tool^2: that of a Weibull
    log life (Johnson, Kotz & Balakrishnan 1994, ch. 21, from memory) and of the tool. The gradient of log(D / eta) is taken
    at the prior centre, all group effects at zero. Of a tool that may be several things only what it is more likely than not counts.
    """
    n = len(COEFFICIENTS)
    z = STEP * np.concatenate([np.eye(n), -np.eye(n)])
    coefficients = d.coefficient_loc + z @ d.coefficient_root.T
    a, b = d.share_prior[:2]
    p = Parameters(np.concatenate([coefficients, np.zeros((2 * n, layout.size))], axis=1), np.tile(a / (a + b), (2 * n, 1)))
    row = d.ended[d.ended[:, EndedColumns.capacity] == 0.0, EndedColumns.row].astype(int)
    candidate = d.row[row, RowColumns.candidate].astype(int)
    ratio = np.log(np.maximum(run_clock(p, d).end[:, row], LEAST_WEAR)) - log_life(p, d)[:, candidate]
    likely = np.exp(d.candidate[candidate, CandidateColumns.log_weight])
    slope = (ratio[:n] - ratio[n:]) / (2.0 * STEP) * np.sqrt(np.where(likely > 0.5, likely, 0.0))
    shape = np.exp(d.coefficient_loc[COEFFICIENTS.index("log_shape")])
    tool = (d.group_prior[0] * d.group_prior[1])[GROUPS.index("tool")]
    told, untold = np.flatnonzero(slope.any(axis=1)), np.flatnonzero(~slope.any(axis=1))
    axes = np.zeros((n, n))
    axes[untold, np.arange(len(untold))] = 1.0  # of what wear-outs do not tell each keeps its own axis
    _, axes[told, len(untold) :] = np.linalg.eigh(slope[told] @ slope[told].T / (np.pi**2 / (6.0 * shape**2) + tool**2))
    largest = np.take_along_axis(axes, np.abs(axes).argmax(axis=0)[None], axis=0)
    return np.asarray(d.coefficient_root @ (axes * np.sign(largest)))  # an eigenvector's sign is the library's whim
