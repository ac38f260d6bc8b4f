"""The density of a tool's effect at its nodes, and what is asked of it: its mass, and an effect drawn from it. Loops over draws.

A draw's candidates have 40 nodes each: kept all at once they are far more than a processor's own memory holds, and to go over them
there, a dozen times, took twelve times as long as to reckon those of one candidate, ask them, and forget them. Letters are those of
`tool_marginal`.
"""

from math import exp, log, pi

import numpy as np
from numba.extending import register_jitable

from wearfit.even_nodes import part_of_step
from wearfit.model.tool_marginal import MUCH, doubtful

Array = np.ndarray

register_jitable(part_of_step)  # compiled for numbers, as it is written for arrays


@register_jitable
def log_mass_of(nodes: Array, step: float) -> float:
    """Log of what lies under a log-density at even nodes."""
    top, total = -np.inf, 0.0
    for value in nodes:
        top = max(top, value)
    for value in nodes:
        total += exp(value - top)
    return top + log(total * step)


@register_jitable
def place_of(nodes: Array, probability: float) -> float:
    """Place among the nodes, in steps, below which a part `probability` of the mass lies, the density straight between them.

    A log-density is given; the density is left in its place.
    """
    top, total, n = -np.inf, 0.0, len(nodes)
    for value in nodes:
        top = max(top, value)
    for k in range(n):
        nodes[k] = exp(nodes[k] - top)
    for k in range(n - 1):
        total += 0.5 * (nodes[k + 1] + nodes[k])
    wanted, below, k = probability * total, 0.0, 0
    while k < n - 2:
        step = 0.5 * (nodes[k + 1] + nodes[k])
        if not below + step < wanted:
            break
        below += step
        k += 1
    return k + part_of_step(nodes[k], nodes[k + 1], wanted - below)


@register_jitable
def fill_nodes(
    worn: float, hazard: float, known: float, s: float, share: float, start: float, step: float, rate: Array, interval: Array,
    perhaps: Array, first: int, stop: int, nodes: Array,
) -> None:  # fmt: skip
    """Log-density of u of one candidate at even nodes, with the mass that makes it the candidate's likelihood.

    Parameters
    ----------
    worn, hazard, known
        Wear-outs that are sure, n; hazard survived, S; the sum of their log hazards.
    s, share
        k sigma >= 0; of renewals of unstated cause, those by wear.
    rate, interval, perhaps : (doubt,)
        Of endings in doubt, as `tool_marginal.doubtful` takes them; those of this candidate are `first` to `stop`.
    """
    factor, grown = exp(s * start), exp(s * step)
    for k in range(len(nodes)):
        u = start + step * k
        nodes[k] = (worn * s - 0.5 * u) * u - hazard * factor + known - 0.5 * log(2.0 * pi)
        if first < stop:
            product = 1.0  # one logarithm for many
            for e in range(first, stop):
                product *= doubtful(factor, interval[e], rate[e], share if perhaps[e] else 1.0)[0]
                if not 1.0 / MUCH < product < MUCH:
                    nodes[k] += log(product)
                    product = 1.0
            nodes[k] += log(product)
        factor *= grown


def masses_of_terms(
    worn: Array, hazard: Array, known: Array, s: Array, share: Array, start: Array, step: Array, rate: Array, interval: Array,
    perhaps: Array, first: Array, count: int, wanted: Array,
) -> Array:  # fmt: skip
    """Log-likelihood of some candidates, the tool's effect integrated out, shape (draw, wanted).

    Parameters
    ----------
    worn : (candidate,)
    hazard, known, start, step : (draw, candidate)
    s, share : (draw,)
    rate : (draw, doubt); interval, perhaps : (doubt,)
    first : (candidate + 1,)
        Where the doubts of each candidate begin.
    count
        How many nodes.
    wanted : (wanted,)
        Candidates.
    """
    out, nodes = np.empty((len(s), len(wanted))), np.empty(count)
    for d in range(len(s)):
        for i in range(len(wanted)):
            c = wanted[i]
            fill_nodes(
                worn[c], hazard[d, c], known[d, c], s[d], share[d], start[d, c], step[d, c], rate[d], interval, perhaps, first[c],
                first[c + 1], nodes,
            )  # fmt: skip
            out[d, i] = log_mass_of(nodes, step[d, c])
    return out


def drawn_of_terms(
    worn: Array, hazard: Array, known: Array, s: Array, share: Array, start: Array, step: Array, rate: Array, interval: Array,
    perhaps: Array, first: Array, count: int, chosen: Array, probability: Array,
) -> Array:  # fmt: skip
    """u below which a part `probability` of the mass lies, of the candidate that each tool is, `chosen`; both (draw, tool)."""
    out, nodes = np.empty(chosen.shape), np.empty(count)
    for d in range(len(s)):
        for t in range(chosen.shape[1]):
            c = chosen[d, t]
            fill_nodes(
                worn[c], hazard[d, c], known[d, c], s[d], share[d], start[d, c], step[d, c], rate[d], interval, perhaps, first[c],
                first[c + 1], nodes,
            )  # fmt: skip
            out[d, t] = start[d, c] + step[d, c] * place_of(nodes, probability[d, t])
    return out


def masses_of_nodes(start: Array, step: Array, log_density: Array, wanted: Array) -> Array:
    """As `masses_of_terms`, of log-densities (draw, candidate, node) that are there already."""
    out = np.empty((len(step), len(wanted)))
    for d in range(len(step)):
        for i in range(len(wanted)):
            out[d, i] = log_mass_of(log_density[d, wanted[i]], step[d, wanted[i]])
    return out


def drawn_of_nodes(start: Array, step: Array, log_density: Array, chosen: Array, probability: Array) -> Array:
    """As `drawn_of_terms`, of log-densities (draw, candidate, node) that are there already."""
    out, nodes = np.empty(chosen.shape), np.empty(log_density.shape[2])
    for d in range(len(step)):
        for t in range(chosen.shape[1]):
            c = chosen[d, t]
            nodes[:] = log_density[d, c]
            out[d, t] = start[d, c] + step[d, c] * place_of(nodes, probability[d, t])
    return out
