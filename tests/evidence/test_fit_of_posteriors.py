"""How often a misfit is told of honest fleets, each held against its own posterior: what is believed has seen the outcomes."""

import numpy as np
import pytest
from prior_design import DESIGNS, FEATURES, MAKERS, PLANTS, RESINS
from prior_fleet import simulate
from scipy.stats import binom

from wearfit.evidence.believed_draws import Believed
from wearfit.evidence.courses import build_courses
from wearfit.evidence.expected import expect
from wearfit.evidence.looked_at import look_at
from wearfit.evidence.misfit import LEVEL, check
from wearfit.model.flat_draws import flatten
from wearfit.model.layout import GROUPS, Layout
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors
from wearfit.model.sampler import compile_model, sample

FLEETS = 20
MOST_READ = 60


@pytest.mark.slow
def test_honest_fleets_are_told_of_something_no_more_often_than_asked() -> None:
    priors = read_priors()
    layout = Layout.fitting(len(PLANTS), len(RESINS), len(DESIGNS), len(MAKERS), len(FEATURES), MOST_READ)
    compiled, told, chances, worn = None, 0, [], 0
    fleets = (simulate(priors, seed, 24, 24) for seed in range(900, 960))
    fitting = (fleet for fleet in fleets if layout_of(fleet.exposures).reads <= layout.reads)
    for seed, fleet in zip(range(FLEETS), fitting, strict=False):
        data = prepare(fleet.exposures, priors, layout)
        compiled = compiled or compile_model(data, layout)
        flat = flatten(sample(compiled, data, seed, 100), 200)
        scale = flat.scales(data)[:, GROUPS.index("tool")][:, None]
        b = Believed(fleet.exposures, priors, layout, data, flat.parameters(data, layout), scale)
        courses = build_courses(b)
        x = expect(b, courses, seed)
        checks = check(x, look_at(b, courses, x.expected.mean(axis=0)), seed).checks
        told += any(c.told for c in checks)
        chances.append(checks[0].p)
        worn += fleet.exposures.wear_outs
    print(f"{told} of {FLEETS} told, {worn} wear-outs, chances of the whole {np.sort(chances).round(3)}")
    assert worn > 400
    assert told <= binom.ppf(0.99, FLEETS, LEVEL)
    assert np.mean(np.array(chances) < 0.2) <= binom.ppf(0.99, FLEETS, 0.2) / FLEETS
