"""What each kind of ending adds to the log-likelihood, against the Weibull distribution of scipy."""

import numpy as np
import pytest
from scipy.stats import weibull_min

from wearfit.model.clock import Clock
from wearfit.model.likelihood import row_log_likelihood

Array = np.ndarray

ETA = 400_000.0  # [reference shots]
SHAPES = np.array([0.8, 1.0, 3.0, 6.0])
ENTRY = np.array([0.0, 0.0, 50_000.0, 250_000.0])[:, None]  # by case; shapes lie along the other axis
GOOD = np.array([10_000.0, 300_000.0, 50_000.0, 420_000.0])[:, None]
END = np.array([20_000.0, 390_000.0, 330_000.0, 600_000.0])[:, None]
LOG_LAST = np.array([0.0, 0.4, -0.7, 1.3])[:, None]
LIFE = weibull_min(SHAPES, scale=ETA)
WEAR_SHARE = 0.7
NEAR = 1e-8  # absolute: a life of no wear enters at law.LEAST_SPENT rather than at zero


def log_likelihood(
    good: Array | None = None, interval: float = 0.0, wore_out: float = 0.0, perhaps: float = 0.0, wear_share: float = WEAR_SHARE
) -> Array:
    """By case and shape; good up to the end but where a wear-out lies in an interval, or where `good` says so."""
    good = (GOOD if interval else END) if good is None else good
    flags = {"interval": interval, "wore_out": wore_out, "perhaps": perhaps}
    by_case = {name: np.full_like(END, flag) for name, flag in flags.items()}
    clock = Clock(ENTRY, good, END, LOG_LAST)
    return np.asarray(row_log_likelihood(clock, np.log(ETA), SHAPES, np.array(wear_share), **by_case))


def test_right_censored() -> None:
    assert log_likelihood() == pytest.approx(LIFE.logsf(END) - LIFE.logsf(ENTRY), abs=NEAR)


def test_right_censored_where_nobody_has_looked_since() -> None:
    """A tool that has stood since its last shot: its clock has gone on, and tells nothing."""
    assert log_likelihood(good=GOOD) == pytest.approx(LIFE.logsf(GOOD) - LIFE.logsf(ENTRY), abs=NEAR)


def test_exact_wear_out_is_a_density_per_machine_shot() -> None:
    assert log_likelihood(wore_out=1.0) == pytest.approx(LIFE.logpdf(END) + LOG_LAST - LIFE.logsf(ENTRY), abs=NEAR)


def test_found_worn_between_two_days() -> None:
    between = np.log(LIFE.sf(GOOD) - LIFE.sf(END)) - LIFE.logsf(ENTRY)
    assert log_likelihood(interval=1.0, wore_out=1.0) == pytest.approx(between, abs=NEAR)


def test_a_narrow_interval_is_a_density_times_its_width() -> None:
    """Whatever the wear per shot: an interval is one of wear, a density one of machine shots."""
    width = 1.0
    inside = log_likelihood(good=END - width, interval=1.0, wore_out=1.0)
    assert inside == pytest.approx(log_likelihood(wore_out=1.0) - LOG_LAST + np.log(width), abs=1e-3)


def test_renewed_for_a_cause_not_stated() -> None:
    """Found so within an interval: a wear-out with the probability `wear_share`, censored otherwise."""
    worn, censored = log_likelihood(interval=1.0, wore_out=1.0), log_likelihood()
    mixed = np.log(WEAR_SHARE * np.exp(worn) + (1.0 - WEAR_SHARE) * np.exp(censored))
    assert log_likelihood(interval=1.0, perhaps=1.0) == pytest.approx(mixed, abs=NEAR)


def test_renewed_on_a_known_day_for_a_cause_not_stated() -> None:
    """Two rates compete, and both are densities: that of wear, and that of renewals for other causes, even over a life.

    The latter is such that at the characteristic life `wear_share` of the renewals are by wear. Over this rate the density of a
    renewal of either kind is what is looked for, whatever the wear of a shot.
    """
    at_life = SHAPES / ETA  # hazard of a Weibull law at its scale
    others = at_life * (1.0 - WEAR_SHARE) / WEAR_SHARE
    hazard = LIFE.pdf(END) / LIFE.sf(END)
    either = (hazard + others) * LIFE.sf(END) / LIFE.sf(ENTRY)
    assert log_likelihood(perhaps=1.0) == pytest.approx(np.log(either / others * (1.0 - WEAR_SHARE)), abs=1e-6)


def test_a_cause_not_stated_lies_between_the_two_it_may_be() -> None:
    almost_sure, almost_never = (log_likelihood(perhaps=1.0, wear_share=share) for share in (1.0 - 1e-15, 1e-15))
    relative = LIFE.logpdf(END) - LIFE.logsf(ENTRY) - np.log(SHAPES / ETA)
    assert almost_sure == pytest.approx(relative, abs=1e-3)
    assert almost_never == pytest.approx(log_likelihood(), abs=1e-3)
    again = log_likelihood(good=END, perhaps=1.0)
    assert again == pytest.approx(log_likelihood(perhaps=1.0), abs=NEAR)


def test_delayed_entry_is_conditional_on_having_lived_so_long() -> None:
    """Lives that enter at an age and end one way or the other: all their endings together are certain."""
    ends = np.linspace(ENTRY[:, 0], 3_000_000.0, 4001)  # (end, case), the case of its entry
    edges = Clock(entry=ENTRY.T, good=ends[:-1], end=ends[1:], log_last=np.zeros(1))
    for shape in SHAPES[1:]:
        worn = row_log_likelihood(edges, np.array(np.log(ETA)), shape, np.array(0.5), np.ones(1), np.ones(1), np.zeros(1))
        last = Clock(entry=ENTRY.T, good=ends[-1:], end=ends[-1:], log_last=np.zeros(1))
        running = row_log_likelihood(last, np.array(np.log(ETA)), shape, np.array(0.5), np.zeros(1), np.zeros(1), np.zeros(1))
        assert np.exp(worn).sum(axis=0) + np.exp(running[0]) == pytest.approx(1.0, abs=1e-9)


def test_an_interval_without_wear_is_all_but_impossible_and_finite() -> None:
    """So that one such row in an owner's records cannot stop the sampler."""
    inside = log_likelihood(good=END, interval=1.0, wore_out=1.0)
    assert np.isfinite(inside).all()
    assert (inside < -500.0).all()
