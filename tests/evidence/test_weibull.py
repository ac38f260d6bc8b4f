"""The rivals' law against published fits, and what it makes of entries, covariates and causes that nobody stated."""

import numpy as np
import pytest
from published_lives import DATA, nist_lives
from scipy.optimize import minimize_scalar
from scipy.stats import weibull_min
from surpyval.datasets import load_bearing_failures, load_rossi_static

from wearfit.evidence.weibull import Lives, fit_weibull

PARAMETER = 1e-3  # relative
LOG_LIKELIHOOD = 1e-3  # absolute


def lives_of(end: np.ndarray, worn: np.ndarray, entry: np.ndarray | None = None) -> Lives:
    none = np.zeros(len(end), dtype=bool)
    return Lives(np.zeros(len(end)) if entry is None else entry, end, end, none, np.asarray(worn, dtype=bool), none)


def test_right_censored() -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods 8.4.1.2, seen. [h]"""
    listing = nist_lives()
    count = listing.count.astype(int)
    fit = fit_weibull(lives_of(np.repeat(listing.clock.end, count), np.repeat(listing.wore_out, count)))
    assert (fit.shape, np.exp(fit.log_scale)) == pytest.approx((1.7208, 606.528), rel=PARAMETER)
    assert fit.log_likelihood == pytest.approx(-75.135, abs=LOG_LIKELIHOOD)


def test_complete() -> None:
    """23 ball bearings: Lieblein & Zelen 1956, J. Res. NBS 57, seen. [million revolutions]"""
    millions = load_bearing_failures()["Cycles to Failure (millions)"].to_numpy()
    fit = fit_weibull(lives_of(millions, np.ones(23)))
    assert (fit.shape, np.exp(fit.log_scale)) == pytest.approx((2.10185, 81.8746), rel=PARAMETER)
    assert fit.log_likelihood == pytest.approx(-113.692, abs=LOG_LIKELIHOOD)


def test_found_by_inspection() -> None:
    """167 turbine wheels: Nelson 1982, Applied Life Data Analysis, p. 415; data seen, fit from memory. [100 h]"""
    lower, upper, count = np.loadtxt(DATA / "nelson_turbine_cracks.csv", delimiter=",", skiprows=1, unpack=True)
    lower, upper = np.repeat(lower, count.astype(int)), np.repeat(upper, count.astype(int))
    found = np.isfinite(upper)
    none = np.zeros(len(lower), dtype=bool)
    fit = fit_weibull(Lives(np.zeros(len(lower)), lower, np.where(found, upper, lower), found, found, none))
    assert (fit.shape, np.exp(fit.log_scale)) == pytest.approx((1.48537, 71.6904), rel=PARAMETER)


def test_late_entry() -> None:
    """78 men of the Multicenter AIDS Cohort, as lifelines ships them; recomputed with lifelines and scipy. [years]"""
    listing = np.genfromtxt(DATA / "multicenter_aids_cohort.tsv", names=True)
    fit = fit_weibull(lives_of(listing["T"], listing["D"], listing["W"]))
    assert (fit.shape, np.exp(fit.log_scale)) == pytest.approx((1.07924, 5.45763), rel=PARAMETER)
    assert fit.log_likelihood == pytest.approx(-73.3348, abs=LOG_LIKELIHOOD)


def test_covariates() -> None:
    """432 convicts, Rossi et al.: documentation of lifelines, seen. [weeks]"""
    expected = {
        "fin": 0.27217, "age": 0.04071, "race": -0.22481, "wexp": 0.10655, "mar": 0.31126, "paro": 0.05882, "prio": -0.06582,
    }  # fmt: skip
    table = load_rossi_static()
    fit = fit_weibull(
        lives_of(table["week"].to_numpy(dtype=float), table["arrest"].to_numpy()), table[list(expected)].to_numpy(dtype=float)
    )
    assert dict(zip(expected, fit.slopes, strict=True)) == pytest.approx(expected, rel=PARAMETER)
    assert fit.log_scale == pytest.approx(3.99012, rel=PARAMETER)
    assert np.log(fit.shape) == pytest.approx(0.33910, rel=PARAMETER)
    assert fit.log_likelihood == pytest.approx(-679.91656, abs=LOG_LIKELIHOOD)


def test_an_offset_and_a_unit_move_the_scale_alone() -> None:
    rng = np.random.default_rng(1)
    times, offset = rng.weibull(2.0, 60), rng.normal(8.0, 1.0, 60)
    plain = fit_weibull(lives_of(times, np.ones(60)))
    moved = fit_weibull(lives_of(1000.0 * times * np.exp(offset), np.ones(60)), offset=offset)
    assert moved.shape == pytest.approx(plain.shape, rel=1e-4)
    assert moved.log_scale == pytest.approx(plain.log_scale + np.log(1000.0), abs=1e-4)


def test_a_column_that_never_changes_has_no_slope_and_changes_nothing() -> None:
    rng = np.random.default_rng(2)
    lives = lives_of(rng.weibull(2.0, 40), np.ones(40))
    x = rng.normal(size=(40, 1))
    with_constant = fit_weibull(lives, np.column_stack([x, np.full(40, 7.0)]))
    assert with_constant.slopes[1] == 0.0
    assert with_constant.slopes[0] == pytest.approx(fit_weibull(lives, x).slopes[0], abs=1e-5)


def test_a_ridge_pulls_slopes_to_nothing() -> None:
    rng = np.random.default_rng(3)
    x = rng.normal(size=(40, 1))
    lives = lives_of(rng.weibull(2.0, 40) * np.exp(0.8 * x[:, 0]), np.ones(40))
    free, held = fit_weibull(lives, x), fit_weibull(lives, x, ridge=1e6)
    assert free.slopes[0] > 0.5
    assert abs(held.slopes[0]) < 0.01


def test_a_cause_that_nobody_stated_is_a_mixture() -> None:
    """The scale that is best for exponential-like lives of a known shape, by a search of its own over the mixture's likelihood."""
    rng = np.random.default_rng(4)
    times = rng.weibull(1.5, 50)
    worn, unstated = rng.random(50) < 0.6, np.zeros(50, dtype=bool)
    unstated[np.flatnonzero(~worn)[:8]] = True
    fit = fit_weibull(Lives(np.zeros(50), times, times, np.zeros(50, dtype=bool), worn | unstated, unstated, wear_share=0.7))

    def loss(log_scale: float) -> float:
        law = weibull_min(fit.shape, scale=np.exp(log_scale))
        by_cause = np.where(worn, law.logpdf(times), law.logsf(times))
        # Renewals for other causes have a rate, such that 7 in 10 are by wear where it wears out one life in the usual time.
        others = 1.0 / np.average(times, weights=times) * 0.3 / 0.7
        mixed = np.log((law.pdf(times) / law.sf(times) / others + 1.0) * 0.3) + law.logsf(times)
        return -float(np.where(unstated, mixed, by_cause).sum())

    best = minimize_scalar(loss, bounds=(-2.0, 2.0), method="bounded", options={"xatol": 1e-6})
    assert fit.log_scale == pytest.approx(best.x, abs=1e-3)
    assert fit.log_likelihood == pytest.approx(-best.fun, abs=1e-5)


def test_without_a_wear_out_there_is_no_law() -> None:
    with pytest.raises(ValueError, match="no life wore out"):
        fit_weibull(lives_of(np.arange(1.0, 21.0), np.zeros(20)))
