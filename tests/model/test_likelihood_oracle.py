"""An independent library fits the same lives of the demonstration fleet as the product's likelihood does."""

from pathlib import Path

import numpy as np
import pytest
import surpyval
from scipy.optimize import minimize

from wearfit.exposures.build import build_exposures
from wearfit.exposures.lives import CENSORED, INTERVAL
from wearfit.model.clock import Clock, run_clock
from wearfit.model.coefficient_priors import NO_STORAGE
from wearfit.model.data import CandidateColumns
from wearfit.model.layout import COEFFICIENTS
from wearfit.model.likelihood import row_log_likelihood
from wearfit.model.parameters import Parameters
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors
from wearfit.records.assemble import assemble
from wearfit.records.readers.read import read

Array = np.ndarray

DEMO = Path(__file__).parents[2] / "data" / "demo"


def demo_lives() -> tuple[Clock, Array]:
    """Clocks and endings of tools of known class, every shot worth one and standing nothing, in units of each tool's band."""
    records = assemble(read(DEMO).rows)
    exposures = build_exposures(records.as_of(records.latest_day))
    layout = layout_of(exposures)
    data = prepare(exposures, read_priors(), layout)
    values = np.zeros(len(COEFFICIENTS) + layout.size)
    values[COEFFICIENTS.index("log_storage")] = NO_STORAGE
    parameters = Parameters(all=values, share=np.array([0.35, 0.7, 0.7]))
    clock = run_clock(parameters, data)
    history = exposures.history
    usable = exposures.candidates.known[history.candidate] & ~history.unstated & (clock.end > clock.entry)
    usable &= (history.ending != INTERVAL) | (clock.end > clock.good)  # not those found unusable in store, which costs nothing here
    band = np.exp(data.candidate[history.candidate, CandidateColumns.band])[usable]
    entry, good, end = (getattr(clock, name)[usable] / band for name in ("entry", "good", "end"))
    return Clock(entry, good, end, log_last=np.zeros(len(band))), history.ending[usable]


def test_same_fit_as_surpyval() -> None:
    """Right censored, exact and interval endings together, refurbished lives entering late; one Weibull law for all."""
    clock, ending = demo_lives()
    assert np.bincount(ending, minlength=3).min() >= 10  # or the test would test little
    assert np.sum(clock.entry > 0) >= 10
    lower = clock.good  # where it ended on a day that is known, that day
    upper = np.where(ending == CENSORED, np.inf, clock.end)
    entry = np.where(clock.entry > 0, clock.entry, -np.inf)
    theirs = surpyval.Weibull.fit(xl=lower, xr=upper, tl=entry)

    def negative_log_likelihood(p: Array) -> float:
        interval, wore_out, perhaps = (ending == INTERVAL).astype(float), (ending != CENSORED).astype(float), np.zeros(len(ending))
        return -float(row_log_likelihood(clock, p[0], np.exp(p[1]), np.array(0.5), interval, wore_out, perhaps).sum())

    ours = minimize(negative_log_likelihood, np.array([0.0, 0.5]), method="Nelder-Mead", options={"xatol": 1e-7, "fatol": 1e-9})
    assert np.exp(ours.x) == pytest.approx(theirs.params, rel=1e-3)
    assert ours.fun == pytest.approx(theirs.neg_ll(), abs=1e-3)
