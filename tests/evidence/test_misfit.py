"""Wear-outs against what was expected: how often honest histories are told of a misfit, and that one is found."""

import numpy as np
import pytest
from scipy.stats import binom, kstest, poisson

from wearfit.evidence.expected import Expected
from wearfit.evidence.looked_at import Parting
from wearfit.evidence.misfit import ALL, LEVEL, check, two_sided

PLANTS = Parting("plant", tuple("abcdefgh"), np.repeat(np.arange(8), 50))
MONTHS = Parting("month", tuple(str(i + 1) for i in range(12)), np.arange(400) % 12)
RATE = np.tile(np.linspace(0.02, 0.3, 50), 8)


def history(rng: np.random.Generator, factor: np.ndarray | float = 1.0) -> Expected:
    worn = rng.random(400) < 1.0 - np.exp(-RATE * factor)
    # What was expected of a piece in which it wore out ends there: an exponential draw cut at the piece's end.
    reached = np.where(worn, -np.log1p(-rng.random(400) * -np.expm1(-RATE)), RATE)
    return Expected(np.tile(reached, (20, 1)).astype(np.float32), np.tile(worn, (20, 1)))


def test_lives_that_all_ran_until_worn_give_uniform_chances() -> None:
    """What was expected is then a sum of exponentials, and one tail exactly its gamma law."""
    rng = np.random.default_rng(1)
    for lives in (1, 4, 30):
        means = rng.standard_exponential((4000, lives)).sum(axis=1)
        assert kstest(np.asarray(poisson.sf(lives - 1, means)), "uniform").pvalue > 0.01


def test_both_tails_of_a_known_count() -> None:
    # P(N >= 9) with mean 5.1 is .0731 by the series, twice that to either side.
    tail = 1.0 - sum(np.exp(-5.1) * 5.1**k / np.prod(np.arange(1, k + 1)) for k in range(9))
    assert float(two_sided(np.array(9.0), np.array(5.1))) == pytest.approx(2.0 * tail)
    assert float(two_sided(np.array(5.0), np.array(5.1))) == 1.0


def test_honest_histories_are_told_of_something_no_more_often_than_asked() -> None:
    rng = np.random.default_rng(2)
    told = sum(any(c.told for c in check(history(rng), (PLANTS, MONTHS), seed).checks) for seed in range(100))
    assert told <= binom.ppf(0.999, 100, LEVEL)
    assert told >= 1  # it can


def test_a_plant_that_wears_faster_is_told_and_the_others_are_not() -> None:
    rng = np.random.default_rng(3)
    factor = np.where(PLANTS.index == 2, 3.0, 1.0)
    found = [[c for c in check(history(rng, factor), (PLANTS, MONTHS), seed).checks if c.told] for seed in range(40)]
    assert sum(any((c.by, c.name) == ("plant", "c") for c in told) for told in found) >= 32
    assert sum(any(c.by == "plant" and c.name != "c" for c in told) for told in found) <= 6


def test_parts_add_up_to_the_whole() -> None:
    checks = check(history(np.random.default_rng(4)), (PLANTS, MONTHS), 1).checks
    assert (checks[0].by, checks[0].name) == (ALL, "")
    for by in ("plant", "month"):
        parts = [c for c in checks if c.by == by]
        assert sum(c.observed for c in parts) == pytest.approx(checks[0].observed)
        assert sum(c.expected for c in parts) == pytest.approx(checks[0].expected)
