"""Axes along which wear-outs tell least to most, for a sampler that takes its steps an axis at a time.

Coefficients are loc + root @ z with z standard normal, and root @ V, V orthogonal, is another root of the same prior. The V
chosen holds the eigenvectors of what the wear-outs tell about z, so that posterior correlations of z are mostly gone. The
effects of a group are turned in the same way, and what is told along each of their axes sets the scale of its coordinate.
"""

from typing import Final

import numpy as np

from wearfit.model.data import CandidateColumns, CellColumns, EndedColumns, JobColumns, ModelData, PlaceColumns, PlantColumns, RowColumns
from wearfit.model.layout import COEFFICIENTS, GROUPS, Layout
from wearfit.model.likelihood import Parameters, log_job, log_life, log_place, run_clock

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
    p = _about_centre(z, d, layout)
    row, root_weight = _wear_outs(d, d.ended[:, EndedColumns.capacity] == 0.0)
    ratio = np.log(np.maximum(run_clock(p, d).end[:, row], LEAST_WEAR)) - log_life(p, d)[:, d.row[row, RowColumns.candidate].astype(int)]
    slope = (ratio[:n] - ratio[n:]) / (2.0 * STEP) * root_weight
    told, untold = np.flatnonzero(slope.any(axis=1)), np.flatnonzero(~slope.any(axis=1))
    axes = np.zeros((n, n))
    axes[untold, np.arange(len(untold))] = 1.0  # of what wear-outs do not tell each keeps its own axis
    _, axes[told, len(untold) :] = np.linalg.eigh(slope[told] @ slope[told].T)
    return np.asarray(d.coefficient_root @ _signed(axes))


def turned_contrasts(d: ModelData, layout: Layout) -> tuple[Array, Array]:
    """The contrasts of `d` on those axes, and how precisely the effect along each axis is told.

    Returns
    -------
    contrast : (contrasted slot, contrasted slot)
    told : (slot,)
        A precision; of a plant's sudden stops their number, as of a Poisson rate on the log scale. Zero where nothing is told.

    Notes
    -----
    The gradient of log(D / eta) by a plant's or a resin's effect is the share of the wear that came there. What else is
    unknown of a life than its tool's effect is taken as known, so that `told` is rather too much than too little.
    A life whose capacity its readings tell counts as one that wore out.
    """
    row, root_weight = _wear_outs(d, np.ones(len(d.ended), dtype=bool))
    contrast, told = d.contrast.copy(), np.zeros(layout.size)
    for name, slope in _slopes_by_level(d, layout, row).items():
        span, weighed = layout.block(name), slope * root_weight[:, None]
        own = np.flatnonzero(contrast[span, span].any(axis=0))
        basis = contrast[span, span][:, own]
        precision, axes = np.linalg.eigh(basis.T @ (weighed.T @ weighed) @ basis)
        contrast[span, span.start + own] = _signed(basis @ axes)
        told[span.start + own] = np.maximum(precision, 0.0)
    told[layout.block("sudden_plant")] = d.sudden[0].sum(axis=0)
    return contrast, told


def _about_centre(z: Array, d: ModelData, layout: Layout) -> Parameters:
    """Parameters at the prior's centre but for the coefficients' coordinates, shape (point, ...)."""
    a, b = d.share_prior[:2]
    coefficients = d.coefficient_loc + z @ d.coefficient_root.T
    return Parameters(np.concatenate([coefficients, np.zeros((len(z), layout.size))], axis=1), np.tile(a / (a + b), (len(z), 1)))


def _wear_outs(d: ModelData, which: Array) -> tuple[Array, Array]:
    """Rows of some endings, and the root of how precisely each tells log(D / eta), shapes (ended,).

    Nothing is told by a row of a candidate that its tool is rather not.
    """
    row = d.ended[which, EndedColumns.row].astype(int)
    likely = np.exp(d.candidate[d.row[row, RowColumns.candidate].astype(int), CandidateColumns.log_weight])
    shape = np.exp(d.coefficient_loc[COEFFICIENTS.index("log_shape")])
    tool = (d.group_prior[0] * d.group_prior[1])[GROUPS.index("tool")]
    return row, np.sqrt(np.where(likely > 0.5, likely, 0.0) / (np.pi**2 / (6.0 * shape**2) + tool**2))


def _slopes_by_level(d: ModelData, layout: Layout, row: Array) -> dict[str, Array]:
    """Gradient of log(D / eta) of some rows by the effects of each contrasted group, shapes (row, slot)."""
    p = _about_centre(np.zeros((1, len(COEFFICIENTS))), d, layout)
    starts, stops = d.row[row][:, [RowColumns.boundaries.start, RowColumns.boundaries.stop - 1]].astype(int).T
    of = np.repeat(np.arange(len(row)), stops - starts)
    cell = np.arange(len(of)) - np.repeat(np.cumsum(stops - starts) - stops, stops - starts)
    place, job = d.cell[cell, CellColumns.place].astype(int), d.cell[cell, CellColumns.job].astype(int)
    amount = d.cell[cell, CellColumns.shots] + np.exp(p.coefficient("log_setup")[0]) * d.cell[cell, CellColumns.setups]
    wear = np.exp(log_place(p, d)[0, place] + log_job(p, d)[0, job]) * amount
    share = wear / np.maximum(run_clock(p, d).end[0, row], LEAST_WEAR)[of]
    of_row, candidate = np.arange(len(row)), d.row[row, RowColumns.candidate].astype(int)
    plant = d.plant[d.place[place, PlaceColumns.plant].astype(int), PlantColumns.effect]
    by_resin, by_design, by_maker = JobColumns.resin, CandidateColumns.design, CandidateColumns.maker
    slopes = {}
    for name, at, parameter, weight in (
        ("plant", of, plant, share),
        ("resin", of, d.job[job, JobColumns.index][:, by_resin], share * d.job[job, JobColumns.weight][:, by_resin]),
        ("design", of_row, d.candidate[candidate, CandidateColumns.index][:, by_design], -np.ones(len(row))),
        ("maker", of_row, d.candidate[candidate, CandidateColumns.index][:, by_maker], -np.ones(len(row))),
    ):
        span = layout.block(name)
        level = parameter.astype(int) - len(COEFFICIENTS) - span.start
        here = (level >= 0) & (level < span.stop - span.start)  # time in store is no resin's
        slopes[name] = np.zeros((len(row), span.stop - span.start))
        np.add.at(slopes[name], (at[here], level[here]), weight[here])
    return slopes


def _signed(axes: Array) -> Array:
    """Axes whose largest entry is positive: an eigenvector's sign is the library's whim."""
    return np.asarray(axes * np.sign(np.take_along_axis(axes, np.abs(axes).argmax(axis=0)[None], axis=0)))
