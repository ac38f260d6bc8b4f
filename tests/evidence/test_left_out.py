"""A batch left out by weights against a history that never had it."""

from dataclasses import replace

import numpy as np
import pytest
from cut_histories import NUMBER, cut_at_day
from scipy.special import logsumexp

from wearfit.calibration import from_bytes
from wearfit.demo.shipped import shipped_calibration_bytes
from wearfit.evidence.backtest import common_layout
from wearfit.evidence.believed_draws import Believed, believed
from wearfit.evidence.courses import Courses, build_courses
from wearfit.evidence.left_out import Batches, leave_out
from wearfit.evidence.what_moved import with_effects
from wearfit.exposures.lives import CENSORED
from wearfit.exposures.table import Exposures
from wearfit.law import LAWS
from wearfit.model.calibrate import calibrate
from wearfit.model.clock import log_life, run_clock
from wearfit.model.layout import COEFFICIENTS, coefficient_index
from wearfit.model.likelihood import candidate_log_likelihood, cause_log_likelihood, history_terms
from wearfit.model.parameters import Parameters
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors

Array = np.ndarray
PRIORS = read_priors()
NODE = np.linspace(-7.0, 7.0, 281)


def about_the_priors(exposures: Exposures, draws: int) -> Believed:
    """Draws of anything, storage counted nothing: what stands idle on the day is seen otherwise a day later."""
    rng, layout = np.random.default_rng(9), layout_of(exposures)
    slots = 0.1 * rng.standard_normal((draws, len(COEFFICIENTS) + layout.size))
    slots[:, : len(COEFFICIENTS)] += PRIORS.loc
    slots[:, coefficient_index("log_storage")] = -50.0
    share = rng.beta(PRIORS.share_a, PRIORS.share_b, size=(draws, len(PRIORS.share_a)))
    return Believed(exposures, PRIORS, layout, prepare(exposures, PRIORS, layout), Parameters(slots, share), np.full((draws, 1), 0.3))


def by_brute_force(b: Believed) -> Array:
    """Log-likelihood of each tool by the model's own terms, its effect integrated out on a fine grid; shape (draw, tool)."""
    clock, lives = run_clock(b.parameters, b.data), log_life(b.parameters, b.data)
    at = [
        candidate_log_likelihood(history_terms(b.parameters, clock, lives + 0.3 * u, b.data, wear_law=b.wear_law), b.parameters, b.data)
        for u in NODE
    ]
    weight = -0.5 * NODE**2
    return np.asarray(logsumexp(np.stack(at) + (weight - logsumexp(weight))[:, None, None], axis=0))


def since(b: Believed, courses: Courses) -> Batches:
    """All that came after the day, as one batch."""
    e = b.exposures
    ends = np.minimum(e.episodes.worn_at, e.episodes.closes)
    return Batches("since", ("then",), np.where(courses.start > NUMBER, 0, -1), np.where(np.isfinite(ends) & (ends > NUMBER), 0, -1))


@pytest.mark.parametrize("code", [pytest.param(code, id=name) for code, name in enumerate(LAWS)])
def test_what_is_left_is_the_likelihood_of_the_records_up_to_the_day(code: int) -> None:
    cut = cut_at_day()
    b, early = (replace(about_the_priors(of, 40), wear_law=code) for of in (cut.whole, cut.before))
    assert len(cut.whole.tools.tool_id) > 50
    came = (cut.whole.episodes.ending != CENSORED).sum() - (cut.before.episodes.ending != CENSORED).sum()
    assert came >= 2
    wanted = by_brute_force(early).sum(axis=1) - by_brute_force(b).sum(axis=1)
    of_causes = cause_log_likelihood(b.parameters, early.data) - cause_log_likelihood(b.parameters, b.data)
    assert np.ptp(of_causes) > 0.1 * np.ptp(wanted)  # it is looked at, too
    wanted += of_causes
    courses = build_courses(b)
    (left,) = leave_out(b, courses, from_bytes(shipped_calibration_bytes()), [since(b, courses)], 1)
    assert left.wear_outs == came
    assert np.ptp(wanted) > 2.0
    # Shares of a life's wear are those of the middle of the draws, which lie far apart here.
    np.testing.assert_allclose(left.log_ratio, wanted, atol=0.02 * np.ptp(wanted))


@pytest.mark.slow
def test_draws_by_weight_are_those_of_a_refit_without_the_batch() -> None:
    cut = cut_at_day()
    layout = common_layout([cut.whole, cut.before])
    whole = calibrate(cut.whole, cut.whole_live, "whole", PRIORS, 3, layout=layout)
    refit = calibrate(cut.before, cut.before_live, "before", PRIORS, 4, compiled=whole.compiled, layout=layout)
    assert whole.diagnostics.passed and refit.diagnostics.passed
    b = believed(whole.calibration, cut.whole, "whole", whole.calibration.samples)
    courses = build_courses(b)
    (left,) = leave_out(b, courses, whole.calibration, [since(b, courses)], 1)
    assert left.weights.reliable
    anew = with_effects(whole.calibration, cut.whole, left)
    moved = 0.0
    for name in ("coefficient", "share", "scale", "plant", "resin", "tool"):
        before, weighed, wanted = (
            np.asarray(getattr(draws, name), dtype=float) for draws in (whole.calibration.draws, anew.draws, refit.calibration.draws)
        )
        sd = wanted.std(axis=0)
        varies = sd > 1e-9
        error = np.sqrt(left.weights.error(weighed) ** 2 + sd**2 / refit.diagnostics.ess_bulk_min)
        off = ((left.weights.mean(weighed) - wanted.mean(axis=0)) / np.where(varies, error, 1.0))[varies]
        assert np.abs(off).max() < 4.0, name  # the largest of some hundred
        assert np.sqrt(np.mean(off**2)) < 1.4, name  # some tens that are not independent
        moved = max(moved, float(np.abs((before.mean(axis=0) - wanted.mean(axis=0)) / np.where(varies, sd, 1.0))[varies].max()))
    assert moved > 0.3  # posterior standard deviations: there was something to be found
