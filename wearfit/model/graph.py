"""The PyMC model: the sampler's coordinates, and the likelihood of `likelihood` on PyTensor."""

from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np
import pymc as pm
import pytensor
import pytensor.tensor as pt

from wearfit import law
from wearfit.model import likelihood as ll
from wearfit.model.clock import log_life, run_clock
from wearfit.model.data import ModelData
from wearfit.model.layout import COEFFICIENTS, GROUPS, SHARES, Layout
from wearfit.model.mixture_op import mixed_log_likelihood
from wearfit.model.parameters import build_parameters, slot_scales, told_apart
from wearfit.model.readings import told_by_readings
from wearfit.model.rows_marginal_op import candidate_marginals_of_law
from wearfit.model.scale_coordinates import log_stretch, of_coordinate
from wearfit.model.tool_marginal_op import candidate_marginals

# With fast-math on, draws depend on whether the compiler's cache was warm.
pytensor.config.numba__fastmath = False


@dataclass(frozen=True)
class Graph:
    """A PyMC model and the layout it was built for.

    That of a Weibull law sums up the rows of a tool before its effect is integrated out; that of the other laws takes the law as data.
    """

    model: pm.Model
    layout: Layout


def law_data(wear_law: int) -> dict[str, np.ndarray]:
    """What the graph is told of a law, by name: its place in `law.LAWS`; nothing of the Weibull law."""
    if wear_law == law.WEIBULL:
        return {}
    return {"wear_law": np.array([float(wear_law)])}


def build_graph(data: ModelData, layout: Layout, wear_law: int = law.WEIBULL) -> Graph:
    """The wear clock as a PyMC model; `data` can be exchanged for any other of the same layout.

    Free variables: `z` (coefficient and unscaled slot,), `share` (share,), `slot` (scaled slot,) and the coordinates of `w` (group,), see
    `scale_coordinates`, which `parameters.build_parameters` turns into parameters; and `read` (read,), the capacities of lives with
    readings, which have no prior of their own but the law's. Tool effects are integrated out.
    """
    with pm.Model(check_bounds=False) as model:
        d = SimpleNamespace(**{name: pm.Data(name, value, shape=data.static_shape(name, value)) for name, value in data.as_dict().items()})
        share = pm.Beta("share", d.share_prior[0], d.share_prior[1], shape=len(SHARES))
        by_logarithm = pm.Flat("w_by_logarithm", shape=len(GROUPS))
        w = pm.Deterministic("w", of_coordinate(by_logarithm, d.log_from, pt))
        stretched = log_stretch(by_logarithm, d.log_from, pt)
        pm.Potential("scales", (pm.logp(pm.Normal.dist(0.0, 1.0), w) + stretched).sum())
        slot = pm.Flat("slot", shape=layout.scaled)
        z = pm.Flat("z", shape=len(COEFFICIENTS) + layout.unscaled)
        apart = told_apart(z, w, slot, d, layout, pt)
        pm.Potential("coefficients", pm.logp(pm.Normal.dist(0.0, 1.0), apart.standard).sum())
        by_scale = pm.Normal.dist(-apart.middles, slot_scales(w, d, layout, pt))
        pm.Potential("effects", pm.logp(by_scale, slot).sum())
        read = pm.Normal("read", 0.0, 1.0, shape=layout.reads)
        pm.Potential("capacities_by_the_law", 0.5 * (read**2 * (1.0 - d.unread)).sum())
        parameters = build_parameters(z, share, w, slot, d, layout, pt)
        clock = run_clock(parameters, d, pt)
        told = told_by_readings(parameters, clock, read, d, layout, pt)
        log_eta, spread = log_life(parameters, d), ll.tool_spread(parameters, w, d, pt)
        if wear_law == law.WEIBULL:
            by_candidate = candidate_marginals(ll.history_terms(parameters, clock, log_eta, d, pt, told), parameters, spread, d)
        else:
            of_law = pm.Data("wear_law", law_data(wear_law)["wear_law"], shape=(1,))
            levels = ll.history_levels(parameters, clock, log_eta, d, pt, told)
            by_candidate = candidate_marginals_of_law(levels, parameters, spread, of_law, d)
        pm.Potential("tools", mixed_log_likelihood(by_candidate, d).sum())
        pm.Potential("sudden_stops", ll.sudden_log_likelihood(parameters, d, layout, pt).sum())
        pm.Potential("other_causes", ll.cause_log_likelihood(parameters, d, pt))
    return Graph(model, layout)
