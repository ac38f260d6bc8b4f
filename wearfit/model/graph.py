"""The PyMC model: the sampler's coordinates, and the likelihood of `likelihood` on PyTensor."""

from dataclasses import dataclass
from types import SimpleNamespace

import pymc as pm
import pytensor
import pytensor.tensor as pt

from wearfit.model import likelihood as ll
from wearfit.model.data import ModelData
from wearfit.model.layout import COEFFICIENTS, GROUPS, SHARES, Layout
from wearfit.model.mixture_op import mixed_log_likelihood
from wearfit.model.readings import told_by_readings
from wearfit.model.tool_marginal_op import candidate_marginals

# With fast-math on, draws depend on whether the compiler's cache was warm.
pytensor.config.numba__fastmath = False


@dataclass(frozen=True)
class Graph:
    """A PyMC model and the layout it was built for."""

    model: pm.Model
    layout: Layout


def build_graph(data: ModelData, layout: Layout) -> Graph:
    """The wear clock as a PyMC model; `data` can be exchanged for any other of the same layout.

    Free variables: `z` (coefficient,), `share` (share,), `w` (group,), `slot` (slot,); `likelihood.build_parameters`
    turns them into parameters; and `read` (read,), the capacities of lives with readings, which have no prior of their own
    but the law's. Tool effects are integrated out.
    """
    with pm.Model(check_bounds=False) as model:
        d = SimpleNamespace(**{name: pm.Data(name, value, shape=data.static_shape(name, value)) for name, value in data.as_dict().items()})
        share = pm.Beta("share", d.share_prior[0], d.share_prior[1], shape=len(SHARES))
        w = pm.Normal("w", 0.0, 1.0, shape=len(GROUPS))
        slot = pm.Normal("slot", -ll.slot_middles(w, d, layout, pt), ll.slot_scales(w, d, layout, pt), shape=layout.size)
        z = pm.Normal("z", ll.leaning(ll.slot_effects(w, slot, d, layout, pt), d, layout), 1.0, shape=len(COEFFICIENTS))
        read = pm.Normal("read", 0.0, 1.0, shape=layout.reads)
        pm.Potential("capacities_by_the_law", 0.5 * (read**2 * (1.0 - d.unread)).sum())
        parameters = ll.build_parameters(z, share, w, slot, d, layout, pt)
        clock = ll.run_clock(parameters, d, pt)
        told = told_by_readings(parameters, clock, read, d, layout, pt)
        terms = ll.history_terms(parameters, clock, ll.log_life(parameters, d), d, pt, told)
        by_candidate = candidate_marginals(terms, parameters, ll.tool_spread(parameters, w, d, pt), d)
        pm.Potential("tools", mixed_log_likelihood(by_candidate, d).sum())
        pm.Potential("sudden_stops", ll.sudden_log_likelihood(parameters, d, layout, pt).sum())
        pm.Potential("stated_causes", ll.cause_log_likelihood(parameters, d, pt))
    return Graph(model, layout)
