"""Fleets simulated under a law of known form: the comparison speaks for it, and what was put in comes out."""

from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest

from wearfit.calibration import STACKED, from_bytes, to_bytes
from wearfit.demo.scenario import RESINS, SITES
from wearfit.demo.settings import Fleet, WearTruth
from wearfit.demo.settings import Law as SimulatedLaw
from wearfit.demo.simulate import simulate_fleet
from wearfit.demo.tables import write_tables
from wearfit.evidence.laws import Comparison, compare_laws, scores_report
from wearfit.law import LAWS, LOGNORMAL, WEIBULL
from wearfit.model.layout import Layout
from wearfit.model.priors import read_priors
from wearfit.records.assemble import assemble
from wearfit.records.readers.read import read
from wearfit.workflow.history import History, history_of

# Lives that scatter by their law much more than by what tools differ in: else no record of this length tells laws apart.
FLEET = Fleet(sites=SITES, resins=RESINS, n_tools=120, seed=12, readings_share=0.05, truth=WearTruth(shape=1.6, tool_sd=0.1))
LAYOUT = Layout.fitting(len(SITES), len(RESINS), 60, 12, 7, 24)


def history_under(law: SimulatedLaw) -> History:
    with TemporaryDirectory() as folder:
        write_tables(simulate_fleet(replace(FLEET, law=law)).tables, Path(folder))
        return history_of(assemble(read(Path(folder)).rows))


@cache
def compared(law: SimulatedLaw) -> Comparison:
    history = history_under(law)
    models = compared("weibull").compiled if law != "weibull" else None
    return compare_laws(history.exposures, history.live, history.fingerprint, read_priors(), 5, layout=LAYOUT, compiled=models)


@pytest.mark.slow
def test_a_weibull_fleet_is_not_rejected() -> None:
    c = compared("weibull")
    print(scores_report(c))
    assert all(fit.calibration.identity.diagnostics["passed"] for fit in c.fits)
    assert c.choice.chosen in (LAWS[WEIBULL], STACKED)
    assert c.choice.difference[WEIBULL] > -2.0 * c.choice.error[WEIBULL] or c.choice.best == WEIBULL


@pytest.mark.slow
def test_a_lognormal_fleet_is_told_from_a_weibull_one_and_its_shape_comes_out() -> None:
    c = compared("lognormal")
    print(scores_report(c))
    fit = c.fits[LOGNORMAL]
    assert fit.calibration.identity.diagnostics["passed"]
    elpd = [f.scores.elpd.sum() for f in c.fits]
    assert elpd[LOGNORMAL] > elpd[WEIBULL] + 2.0
    assert c.choice.weights[WEIBULL] < 0.5
    log_k = fit.calibration.coefficient("log_shape")
    assert abs(np.log(FLEET.truth.shape) - log_k.mean()) < 3.0 * log_k.std()


@pytest.mark.slow
def test_laws_stacked_are_draws_of_each_by_its_weight() -> None:
    c = compared("lognormal")
    stacked = from_bytes(to_bytes(c.stacked("No law is clearly the best.")))
    share = np.bincount(np.asarray(stacked.draws.law, dtype=int), minlength=len(LAWS)) / stacked.samples
    assert share == pytest.approx(c.choice.weights, abs=2.0 / stacked.samples)
    assert stacked.identity.wear_law == STACKED and stacked.identity.law_chosen
    for name in ("wear_spent", "tool"):
        first, heaviest = np.flatnonzero(stacked.draws.law == share.argmax())[0], c.fits[int(share.argmax())].calibration
        np.testing.assert_allclose(getattr(stacked.draws, name)[first], getattr(heaviest.draws, name)[0], rtol=2e-3, atol=1e-4)
