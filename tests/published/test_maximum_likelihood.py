"""Maximum likelihood of published lives, one kind of censoring after another, against published fits.

"seen" = the value was read in the text named; "memory" = quoted from memory, and recomputed by other software.
"""

import csv

import numpy as np
import pytest
from published_lives import DATA, Lives, WeibullFit, fit_weibull, inspected, maximise, nist_lives, observed
from scipy.integrate import quad
from surpyval.datasets import load_bearing_failures, load_rossi_static

from wearfit import law

PARAMETER = 1e-3  # relative
LOG_LIKELIHOOD = 1e-3  # absolute


def assert_fit(fit: WeibullFit, shape: float, eta: float, log_likelihood: float | None = None) -> None:
    assert fit.shape == pytest.approx(shape, rel=PARAMETER)
    assert fit.eta == pytest.approx(eta, rel=PARAMETER)
    if log_likelihood is not None:
        assert fit.log_likelihood == pytest.approx(log_likelihood, abs=LOG_LIKELIHOOD)


def test_right_censored() -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods 8.4.1.2-3, seen. [h]"""
    fit = fit_weibull(nist_lives())
    assert_fit(fit, shape=1.7208, eta=606.528, log_likelihood=-75.135)
    mean = quad(lambda t: law.survival(t, np.log(fit.eta), fit.shape), 0.0, np.inf)[0]
    second = quad(lambda t: 2.0 * t * law.survival(t, np.log(fit.eta), fit.shape), 0.0, np.inf)[0]
    assert mean == pytest.approx(540.737, rel=PARAMETER)
    assert np.sqrt(second - mean**2) == pytest.approx(323.806, rel=PARAMETER)


def test_complete() -> None:
    """23 ball bearings: Lieblein & Zelen 1956, J. Res. NBS 57, seen. [million revolutions]"""
    millions = load_bearing_failures()["Cycles to Failure (millions)"].to_numpy()
    fit = fit_weibull(observed(millions, np.ones(23)))
    assert_fit(fit, shape=2.10185, eta=81.8746, log_likelihood=-113.692)
    b10, b50 = law.wear_at(-np.log1p(-np.array([0.1, 0.5])), np.log(fit.eta), fit.shape)
    assert (b10, b50) == pytest.approx((28.065, 68.773), rel=PARAMETER)


def test_found_by_inspection() -> None:
    """167 turbine wheels: Nelson 1982, Applied Life Data Analysis, p. 415; data seen, fit from memory. [100 h]"""
    lower, upper, count = np.loadtxt(DATA / "nelson_turbine_cracks.csv", delimiter=",", skiprows=1, unpack=True)
    assert count.sum() == 167
    assert_fit(fit_weibull(inspected(lower, upper, count)), shape=1.48537, eta=71.6904, log_likelihood=-309.6684)


def test_interval_and_exact_mixed() -> None:
    """731 diabetics: documentation of lifelines 0.30, recomputed. [months]"""
    with (DATA / "interval_diabetes.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    lower, upper = (np.array([float(row[side]) for row in rows]) for side in ("left", "right"))
    assert (len(rows), int(np.sum(lower == upper))) == (731, 595)
    assert_fit(fit_weibull(inspected(lower, upper)), shape=2.82349, eta=18.85649, log_likelihood=-2028.5661)


def late_entry(counted: bool) -> Lives:
    """78 men of the Multicenter AIDS Cohort, as lifelines ships them; entry left out where not `counted`. [years]"""
    listing = np.genfromtxt(DATA / "multicenter_aids_cohort.tsv", names=True)
    return observed(listing["T"], listing["D"], entry=listing["W"] if counted else 0.0)


def test_late_entry() -> None:
    """Recomputed with lifelines and scipy."""
    assert_fit(fit_weibull(late_entry(counted=True)), shape=1.07924, eta=5.45763, log_likelihood=-73.3348)


def test_late_entry_ignored() -> None:
    """The wrong answer that entry prevents. Recomputed with lifelines and scipy."""
    assert_fit(fit_weibull(late_entry(counted=False)), shape=1.27294, eta=6.56093)


def test_accelerated_failure_time() -> None:
    """432 convicts, Rossi et al.: documentation of lifelines, seen. [weeks]"""
    expected = {
        "fin": 0.27217, "age": 0.04071, "race": -0.22481, "wexp": 0.10655, "mar": 0.31126, "paro": 0.05882, "prio": -0.06582,
    }  # fmt: skip
    table = load_rossi_static()
    x = table[list(expected)].to_numpy(dtype=float)
    centre, scale = x.mean(axis=0), x.std(axis=0)  # so that the search is well conditioned
    lives = observed(table["week"].to_numpy(), table["arrest"].to_numpy())
    design = np.column_stack([np.ones(len(x)), (x - centre) / scale])
    fit = maximise(lambda p: lives.log_likelihood(design @ p[:-1], np.exp(p[-1])), np.array([5.0, *np.zeros(7), 0.0]))
    slopes = fit.at[1:-1] / scale
    assert dict(zip(expected, slopes, strict=True)) == pytest.approx(expected, rel=PARAMETER)
    assert fit.at[0] - centre @ slopes == pytest.approx(3.99012, rel=PARAMETER)
    assert fit.at[-1] == pytest.approx(0.33910, rel=PARAMETER)
    assert fit.log_likelihood == pytest.approx(-679.91656, abs=LOG_LIKELIHOOD)


def test_power_law_of_a_stress() -> None:
    """76 breakdowns of an insulating fluid: Nelson 1990, Accelerated Testing, ch. 3; shape and exponent from memory,
    the log-likelihood as R's survreg gives it in the tests of surpyval 0.25, seen. [min]
    """
    kilovolts, minutes = np.loadtxt(DATA / "nelson_insulating_fluid.csv", delimiter=",", skiprows=1, unpack=True)
    assert len(minutes) == 76
    lives = observed(minutes, np.ones(76))
    stress = np.log(kilovolts / 33.0)  # relative to a typical voltage, so that the search is well conditioned
    fit = maximise(lambda p: lives.log_likelihood(p[0] + p[1] * stress, np.exp(p[2])), np.array([2.0, -10.0, 0.0]))
    assert np.exp(fit.at[2]) == pytest.approx(0.77655, rel=PARAMETER)
    assert fit.at[1] == pytest.approx(-17.730, rel=PARAMETER)
    assert fit.at[0] - fit.at[1] * np.log(33.0) == pytest.approx(64.847, rel=PARAMETER)
    assert fit.log_likelihood == pytest.approx(-300.81764, abs=LOG_LIKELIHOOD)
