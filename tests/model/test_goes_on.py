"""How a calibration goes on where chains fall short of the gate: more draws, then trees, whose steps grow smaller where they diverge."""

from collections.abc import Callable
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import pytest
from prior_chains import chains_of_priors
from small_fleet import small_fleet

from wearfit.law import WEIBULL
from wearfit.model import calibrate as calibrate_module
from wearfit.model.calibrate import TREES, calibrate
from wearfit.model.data import ModelData
from wearfit.model.gate import Diagnostics
from wearfit.model.layout import Layout
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors
from wearfit.model.sampler import CAREFUL, DRAWS, MORE_DRAWS, Chains, Compiled

Run = Callable[[list[Diagnostics], list[Diagnostics]], tuple[list[tuple[str, float]], Diagnostics]]

FLEET, PRIORS = small_fleet(), read_priors()
PASSED = Diagnostics(1.0, 1e3, 1e3, 0, 1.0, True, (), 4 * DRAWS, 60, 6.0)
SHORT = replace(PASSED, passed=False, reasons=("plant: R-hat 1.03 is above 1.02",))
DIVERGED = replace(PASSED, passed=False, divergences=100, reasons=("100 draws diverged",))


class Scripted:
    """A sampler and a gate that do as they are told, and write down what they were asked for."""

    def __init__(self, whole: list[Diagnostics], top: list[Diagnostics], data: ModelData, layout: Layout) -> None:
        self.whole, self.top = iter(whole), iter(top)
        self.asked: list[tuple[str, float]] = []
        self.data, self.layout = data, layout

    def sample(self, compiled: Any, data: Any, seed: int, draws: int, after: Chains | None = None, **rest: Any) -> Chains:
        self.asked.append(("on" if after else "anew", draws))
        return chains_of_priors(self.data, self.layout, draws, seed)

    def sample_by_trees(self, compiled: Any, data: Any, seed: int, draws: int, target_accept: float, **rest: Any) -> Chains:
        assert draws == TREES * DRAWS
        self.asked.append(("trees", target_accept))
        return chains_of_priors(self.data, self.layout, draws, seed)

    def judge(self, *given: Any) -> Diagnostics:
        return next(self.top, PASSED)

    def diagnose(self, *given: Any) -> Diagnostics:
        return next(self.whole)


class Ready(Compiled):
    """A model that is asked for nothing."""

    def laid(self, data: ModelData, wear_law: int = WEIBULL) -> ModelData:
        return data


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch) -> Run:
    layout = layout_of(FLEET)
    data = prepare(FLEET, PRIORS, layout)

    def run(whole: list[Diagnostics], top: list[Diagnostics]) -> tuple[list[tuple[str, float]], Diagnostics]:
        script, live = Scripted(whole, top, data, layout), SimpleNamespace(tool=None, episode=None)
        for name in ("sample", "sample_by_trees", "judge", "diagnose"):
            monkeypatch.setattr(calibrate_module, name, getattr(script, name))
        for name in ("summarise_rows", "assemble"):
            monkeypatch.setattr(calibrate_module, name, lambda *given: None)
        outcome = calibrate(FLEET, cast(Any, live), "", PRIORS, 1, Ready(layout, None, 0.0), layout=layout)
        assert not list(script.whole)
        return script.asked, outcome.diagnostics

    return run


def test_chains_that_pass_are_taken(run: Run) -> None:
    assert run([PASSED], []) == ([("anew", DRAWS)], PASSED)


def test_draws_go_on_until_what_all_hangs_on_is_known(run: Run) -> None:
    """By a few at a time, and the rest of the gate, which takes longer, is looked at once."""
    asked, found = run([PASSED], [SHORT, SHORT, PASSED])
    assert asked == [("anew", DRAWS), ("on", DRAWS + MORE_DRAWS), ("on", DRAWS + 2 * MORE_DRAWS)]
    assert found.passed


def test_no_further_than_twice_as_many(run: Run) -> None:
    asked, _ = run([PASSED], [SHORT] * 100)
    assert asked[-1] == ("on", 2 * DRAWS) and len(asked) == 1 + DRAWS // MORE_DRAWS


def test_chains_that_fall_short_go_on_and_then_trees_draw(run: Run) -> None:
    asked, found = run([SHORT, SHORT, PASSED], [])
    assert asked == [("anew", DRAWS), ("on", 2 * DRAWS), ("trees", CAREFUL[0])]
    assert found.passed


def test_what_is_known_at_the_top_is_asked_for_at_first_alone(run: Run) -> None:
    asked, _ = run([SHORT, PASSED], [SHORT, PASSED, SHORT])
    assert asked == [("anew", DRAWS), ("on", DRAWS + MORE_DRAWS), ("on", 2 * (DRAWS + MORE_DRAWS))]


def test_trees_draw_at_once_where_trajectories_diverge(run: Run) -> None:
    asked, found = run([DIVERGED, PASSED], [DIVERGED])
    assert asked == [("anew", DRAWS), ("trees", CAREFUL[0])]
    assert found.passed


def test_trees_that_diverge_take_smaller_steps_and_what_does_not_pass_is_told(run: Run) -> None:
    asked, found = run([DIVERGED, DIVERGED, DIVERGED], [DIVERGED])
    assert asked == [("anew", DRAWS), ("trees", CAREFUL[0]), ("trees", CAREFUL[1])]
    assert found == DIVERGED
