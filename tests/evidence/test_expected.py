"""What was expected of each life: against quadrature, and over fleets whose truth is known."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from prior_fleet import PriorFleet, simulate
from ranks import true_parameters
from scipy.integrate import simpson
from scipy.stats import fisk, kstest, lognorm, norm, weibull_min

from wearfit.calibration import from_bytes
from wearfit.demo.shipped import scenario_folder, shipped_calibration_bytes
from wearfit.evidence.believed_draws import Believed, believed
from wearfit.evidence.courses import build_courses
from wearfit.evidence.expected import expect
from wearfit.evidence.looked_at import look_at
from wearfit.evidence.misfit import check, two_sided
from wearfit.exposures.lives import CENSORED, EXACT
from wearfit.law import LAWS, WEIBULL
from wearfit.model.clock import log_life, run_clock
from wearfit.model.parameters import Parameters
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors
from wearfit.records.assemble import assemble
from wearfit.records.readers.read import read
from wearfit.workflow.history import History, history_of

Array = np.ndarray
PRIORS = read_priors()


def knows(fleet: PriorFleet, draws: int = 4) -> Believed:
    """Who knows every parameter of a simulated fleet, but no tool's own effect; so many draws alike."""
    layout = layout_of(fleet.exposures)
    true = true_parameters(fleet, layout)
    alike = Parameters(np.tile(true.all, (draws, 1)), np.tile(true.share, (draws, 1)))
    scale = np.full((draws, 1), fleet.truth.scale["tool"])
    return Believed(fleet.exposures, PRIORS, layout, prepare(fleet.exposures, PRIORS, layout), alike, scale)


def ignoring_plant(b: Believed, plant: int, log_factor: float) -> Believed:
    """The same who believes tools at one plant to wear slower than they do."""
    wrong = b.parameters.all.copy()
    wrong[:, b.layout.parameter("plant", np.array([plant]))] -= log_factor
    return Believed(b.exposures, b.priors, b.layout, b.data, Parameters(wrong, b.parameters.share), b.tool_scale)


@pytest.fixture(scope="module")
def fleets() -> list[PriorFleet]:
    return [simulate(PRIORS, seed, 30, 30) for seed in range(500, 524)]


@pytest.fixture(scope="module")
def demo() -> tuple[Believed, History]:
    history = history_of(assemble(read(scenario_folder()).rows))
    return believed(from_bytes(shipped_calibration_bytes()), history.exposures, history.fingerprint, 60), history


def test_courses_hold_the_shots_of_the_cells(demo: tuple[Believed, History]) -> None:
    b, history = demo
    e, courses = history.exposures, build_courses(b)
    n = 3 * len(e.episodes.tool)
    first = np.unique(e.history.source, return_index=True)[1]
    cells = np.isin(e.cells.episode, first) & (e.cells.part > 0)
    of_cells = e.history.source[e.cells.episode[cells]] * 3 + e.cells.part[cells]
    wanted = np.bincount(of_cells, weights=e.cells.shots[cells], minlength=n)
    np.testing.assert_allclose(np.bincount(courses.episode * 3 + courses.part, weights=courses.shots, minlength=n), wanted, atol=0.01)
    ends = np.append(np.diff(courses.episode * 3 + courses.part) != 0, True)
    np.testing.assert_allclose(courses.share[ends], 1.0)
    assert (np.diff(courses.share)[~ends[:-1]] >= -1e-12).all()


def test_draws_laid_out_give_the_wear_that_was_saved(demo: tuple[Believed, History]) -> None:
    b, history = demo
    calibration, e = from_bytes(shipped_calibration_bytes()), history.exposures
    kept = np.linspace(0, calibration.samples - 1, 60).round().astype(int)
    clock, lives = run_clock(b.parameters, b.data), log_life(b.parameters, b.data)
    looked = 0
    for i, (tool, episode) in enumerate(zip(history.live.tool, history.live.episode, strict=True)):
        row = np.flatnonzero(e.history.source == episode)
        if len(row) != 1:
            continue  # what it is was drawn
        np.testing.assert_allclose(clock.end[:, row[0]], calibration.draws.wear_spent[kept, i], rtol=2e-3)
        life = lives[:, e.history.candidate[row[0]]] + calibration.draws.tool[kept, tool]
        np.testing.assert_allclose(np.exp(life), calibration.draws.characteristic_life[kept, i], rtol=3e-3)
        looked += 1
    assert looked > 50


def law_of_scipy(code: int, k: float, eta: Any) -> Any:
    """With the median and the spread of log life of a Weibull law."""
    median, sd = eta * np.log(2.0) ** (1.0 / k), np.pi / np.sqrt(6.0) / k
    return (weibull_min(k, scale=eta), fisk(np.pi / np.sqrt(3.0) / sd, scale=median), lognorm(sd, scale=median))[code]


def second_life_by_quadrature(b: Believed, first: int, code: int) -> float:
    """-log of the chance that a tool came through its second life, its effect as the first life, worn out, leaves it."""
    clock, h = run_clock(b.parameters, b.data), b.exposures.history
    eta = float(log_life(b.parameters, b.data)[0, h.candidate[first]])
    k, scale = float(np.exp(b.parameters.coefficient("log_shape")[0, 0])), float(b.tool_scale[0, 0])
    entry, end, again, good = (
        max(float(at[0, row]), 1e-6)
        for at, row in ((clock.entry, first), (clock.end, first), (clock.entry, first + 1), (clock.good, first + 1))
    )

    def after(u: Array, through: bool) -> Array:
        life = law_of_scipy(code, k, np.exp(eta - scale * u))
        told = life.logpdf(end) - life.logsf(entry) + (life.logsf(good) - life.logsf(again) if through else 0.0)
        return np.asarray(norm.pdf(u) * np.exp(told - law_of_scipy(code, k, np.exp(eta)).logpdf(end)))

    u = np.linspace(-9.0, 9.0, 4001)
    return float(-np.log(simpson(after(u, True), u) / simpson(after(u, False), u)))


@pytest.mark.parametrize("code", [pytest.param(code, id=name) for code, name in enumerate(LAWS)])
def test_what_was_expected_of_a_second_life_heeds_the_first(fleets: list[PriorFleet], code: int) -> None:
    found = 0
    for fleet in fleets if code == WEIBULL else fleets[:12]:
        b, h = replace(knows(fleet, 1), wear_law=code), fleet.exposures.history
        courses = build_courses(b)
        x = expect(b, courses, 1)
        begins = np.append(-1, h.candidate[:-1]) != h.candidate
        follows = np.append(h.candidate[1:] == h.candidate[:-1], False) & np.append(h.ending[1:] == CENSORED, False)
        for first in np.flatnonzero((h.ending == EXACT) & ~h.unstated & begins & follows):
            got = x.expected[0, courses.episode == h.source[first + 1]].sum()
            assert got == pytest.approx(second_life_by_quadrature(b, int(first), code), rel=1e-4, abs=1e-5)
            found += 1
    assert found >= (10 if code == WEIBULL else 3)


def test_on_honest_fleets_as_many_wear_out_as_were_expected(fleets: list[PriorFleet]) -> None:
    """Those who know every parameter: events less what was expected are nothing on average, and their number is Poisson's."""
    chances, observed, expected = [], 0.0, 0.0
    rng = np.random.default_rng(5)
    for fleet in fleets:
        b = knows(fleet, 1)
        x = expect(b, build_courses(b), int(rng.integers(1 << 30)))
        n, mean = float(x.worn.sum()), float(x.expected.sum())
        observed, expected = observed + n, expected + mean
        chances.append(float(two_sided(np.array(n), np.array(mean))))
    assert observed > 200
    assert abs(observed - expected) < 3.0 * np.sqrt(expected)
    # Never too small: the chances of a law of counts lie above uniform ones.
    assert kstest(chances, "uniform", alternative="greater").pvalue > 0.01


def test_a_plant_whose_tools_end_early_is_found_and_named(fleets: list[PriorFleet]) -> None:
    busy = [fleet for fleet in fleets if fleet.exposures.wear_outs >= 25]
    assert len(busy) >= 12

    def plants_told(b: Believed) -> list[str]:
        courses = build_courses(b)
        x = expect(b, courses, 3)
        checks = check(x, look_at(b, courses, x.expected.mean(axis=0)), 3).checks
        return [c.name for c in checks if c.told and c.by == "plant" and c.observed > c.expected]

    # Some five to ten tools wore out there, 4.5 times as fast as is believed; eighty parts are looked at.
    found = [plants_told(ignoring_plant(knows(fleet), 1, 1.5)) for fleet in busy]
    assert sum(names == ["Mill"] for names in found) >= 0.5 * len(busy)
    assert sum(bool(set(names) - {"Mill"}) for names in found) <= 2
    assert sum(bool(plants_told(knows(fleet))) for fleet in busy) <= 2
