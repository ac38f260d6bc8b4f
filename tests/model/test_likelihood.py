"""What each kind of ending adds to the log-likelihood, against the Weibull distribution of scipy."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import weibull_min

from wearfit.model.clock import Clock
from wearfit.model.layout import SHARES
from wearfit.model.likelihood import cause_log_likelihood, row_log_likelihood
from wearfit.model.parameters import Parameters

Array = np.ndarray

ETA = 400_000.0  # [reference shots]
SHAPES = np.array([0.8, 1.0, 3.0, 6.0])
ENTRY = np.array([0.0, 0.0, 50_000.0, 250_000.0])[:, None]  # by case; shapes lie along the other axis
GOOD = np.array([10_000.0, 300_000.0, 50_000.0, 420_000.0])[:, None]
END = np.array([20_000.0, 390_000.0, 330_000.0, 600_000.0])[:, None]
LOG_LAST = np.array([0.0, 0.4, -0.7, 1.3])[:, None]
LIFE = weibull_min(SHAPES, scale=ETA)
WEAR_SHARE = 0.7
REFERENCE = np.log(2.0 / 300_000.0)  # hazard against which causes are weighed
NEAR = 1e-8  # absolute: a life of no wear enters at law.LEAST_SPENT rather than at zero


def log_likelihood(
    good: Array | None = None,
    interval: float = 0.0,
    wore_out: float = 0.0,
    perhaps: float = 0.0,
    wear_share: float = WEAR_SHARE,
    log_eta: float = np.log(ETA),
) -> Array:
    """By case and shape; good up to the end but where a wear-out lies in an interval, or where `good` says so."""
    good = (GOOD if interval else END) if good is None else good
    flags = {"interval": interval, "wore_out": wore_out, "perhaps": perhaps}
    by_case = {name: np.full_like(END, flag) for name, flag in flags.items()}
    clock = Clock(ENTRY, good, END, LOG_LAST)
    return np.asarray(row_log_likelihood(clock, log_eta, SHAPES, np.array(wear_share), log_reference=REFERENCE, **by_case))


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
    """Two rates compete, and both are densities by machine shot: that of wear, and that of renewals for other causes, even over a life.

    The latter is such that `wear_share` of the renewals are by wear where wear has the reference hazard. Over this rate the density of
    a renewal of either kind is what is looked for.
    """
    others = np.exp(REFERENCE) * (1.0 - WEAR_SHARE) / WEAR_SHARE
    hazard = LIFE.pdf(END) / LIFE.sf(END) * np.exp(LOG_LAST)
    either = (hazard + others) * LIFE.sf(END) / LIFE.sf(ENTRY)
    assert log_likelihood(perhaps=1.0) == pytest.approx(np.log(either / others * (1.0 - WEAR_SHARE)), abs=1e-6)


def test_a_cause_not_stated_lies_between_the_two_it_may_be() -> None:
    almost_sure, almost_never = (log_likelihood(perhaps=1.0, wear_share=share) for share in (1.0 - 1e-15, 1e-15))
    assert almost_sure == pytest.approx(log_likelihood(wore_out=1.0) - REFERENCE, abs=1e-3)
    assert almost_never == pytest.approx(log_likelihood(), abs=1e-3)
    again = log_likelihood(good=END, perhaps=1.0)
    assert again == pytest.approx(log_likelihood(perhaps=1.0), abs=NEAR)


@pytest.mark.parametrize("longer", [-0.5, 0.01, 0.8])
def test_a_cause_not_stated_tells_of_the_life_what_its_wear_share_of_a_wear_out_tells(longer: float) -> None:
    """Were no other causes to be expected, as much as a stated wear-out; none of it may be lost to what the causes are weighed by."""
    other = np.log(ETA) + longer
    told = log_likelihood(perhaps=1.0, wear_share=1.0 - 1e-15, log_eta=other) - log_likelihood(perhaps=1.0, wear_share=1.0 - 1e-15)
    stated = log_likelihood(wore_out=1.0, log_eta=other) - log_likelihood(wore_out=1.0)
    assert told == pytest.approx(stated, abs=1e-3)


def test_causes_compete_at_the_rates_of_wear_and_of_the_rest() -> None:
    """Rows and causes together are the likelihood of competing risks with some causes unstated, whatever the share, up to a constant."""
    stated_others, lives, unstated = 4, 12.0, len(END)
    data = SimpleNamespace(causes=np.array([-(unstated + stated_others), stated_others, lives * np.exp(REFERENCE) * ETA]))
    hazard = (LIFE.pdf(END) / LIFE.sf(END) * np.exp(LOG_LAST))[:, 1]
    apart = []
    for share in (0.2, 0.5, 0.7, 0.99):
        p = Parameters(np.zeros((1, 1)), np.full((1, len(SHARES)), share))
        ours = float(log_likelihood(perhaps=1.0, wear_share=share)[:, 1].sum() + cause_log_likelihood(p, data)[0])
        rate = np.exp(REFERENCE) * (1.0 - share) / share
        survived = (LIFE.logsf(END) - LIFE.logsf(ENTRY))[:, 1].sum() - rate * lives * ETA
        apart.append(ours - float(survived + stated_others * np.log(rate) + np.log(hazard + rate).sum()))
    assert apart == pytest.approx(np.full(4, apart[0]), abs=1e-6)


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
