"""How a calibration goes on where chains fall short of the gate: more draws, then trees, whose steps grow smaller where they diverge."""

from collections.abc import Callable, Sequence
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

Run = Callable[..., tuple[list[tuple[str, float]], Diagnostics]]
TOOLS = ("tools", 0.0)  # a look at what comes of draws for tools

FLEET, PRIORS = small_fleet(), read_priors()
PASSED = Diagnostics(1.0, 1e3, 1e3, 0, 1.0, True, (), 4 * DRAWS, 60, 6.0)
SHORT = replace(PASSED, passed=False, reasons=("plant: R-hat 1.03 is above 1.02",))
DIVERGED = replace(PASSED, passed=False, divergences=100, reasons=("100 draws diverged",))


class Scripted:
    """A sampler and a gate that do as they are told, and write down what they were asked for."""

    def __init__(
        self, tools: Sequence[Diagnostics], top: Sequence[Diagnostics], groups: Sequence[Diagnostics], data: ModelData, layout: Layout
    ) -> None:
        self.tools, self.top, self.groups = iter(tools), iter(top), iter(groups)
        self.asked: list[tuple[str, float]] = []
        self.data, self.layout = data, layout

    def sample(self, compiled: Any, data: Any, seed: int, draws: int, after: Chains | None = None, **rest: Any) -> Chains:
        self.asked.append(("on" if after else "anew", draws))
        return chains_of_priors(self.data, self.layout, draws, seed)

    def sample_by_trees(self, compiled: Any, data: Any, seed: int, draws: int, target_accept: float, **rest: Any) -> Chains:
        assert draws == TREES * DRAWS
        self.asked.append(("trees", target_accept))
        return chains_of_priors(self.data, self.layout, draws, seed)

    def look_at_top(self, *given: Any) -> Diagnostics:
        return next(self.top, PASSED)

    def look_at_groups(self, before: Diagnostics, *given: Any) -> Diagnostics:
        return next(self.groups, PASSED) if before.passed else before

    def look_at_tools(self, before: Diagnostics, *given: Any) -> Diagnostics:
        self.asked.append(TOOLS)
        return next(self.tools, PASSED) if before.passed else before


class Ready(Compiled):
    """A model that is asked for nothing."""

    def laid(self, data: ModelData, wear_law: int = WEIBULL) -> ModelData:
        return data


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch) -> Run:
    layout = layout_of(FLEET)
    data = prepare(FLEET, PRIORS, layout)

    def run(
        tools: Sequence[Diagnostics] = (), top: Sequence[Diagnostics] = (), groups: Sequence[Diagnostics] = ()
    ) -> tuple[list[tuple[str, float]], Diagnostics]:
        script, live = Scripted(tools, top, groups, data, layout), SimpleNamespace(tool=None, episode=None)
        for name in ("sample", "sample_by_trees", "look_at_top", "look_at_groups", "look_at_tools"):
            monkeypatch.setattr(calibrate_module, name, getattr(script, name))
        for name in ("summarise_rows", "assemble"):
            monkeypatch.setattr(calibrate_module, name, lambda *given: None)
        outcome = calibrate(FLEET, cast(Any, live), "", PRIORS, 1, Ready(layout, None, 0.0), layout=layout)
        assert not [*script.tools, *script.top, *script.groups]
        return script.asked, outcome.diagnostics

    return run


def test_chains_that_pass_are_taken(run: Run) -> None:
    assert run() == ([("anew", DRAWS), TOOLS], PASSED)


def test_draws_go_on_until_what_all_hangs_on_is_known(run: Run) -> None:
    """By a few at a time, and what comes of them for tools, which takes longest, is worked out once."""
    asked, found = run(top=[SHORT, SHORT, PASSED])
    assert asked == [("anew", DRAWS), ("on", DRAWS + MORE_DRAWS), ("on", DRAWS + 2 * MORE_DRAWS), TOOLS]
    assert found.passed


def test_draws_go_on_until_groups_are_known(run: Run) -> None:
    asked, found = run(groups=[SHORT, PASSED])
    assert asked == [("anew", DRAWS), ("on", DRAWS + MORE_DRAWS), TOOLS]
    assert found.passed


def test_no_further_than_twice_as_many_at_first(run: Run) -> None:
    asked, _ = run(top=[SHORT] * (1 + DRAWS // MORE_DRAWS))
    assert asked[-3:] == [("on", 2 * DRAWS), ("on", 4 * DRAWS), TOOLS] and len(asked) == 3 + DRAWS // MORE_DRAWS


def test_chains_that_fall_short_go_on_and_then_trees_draw(run: Run) -> None:
    asked, found = run(tools=[SHORT, SHORT, PASSED])
    assert asked == [("anew", DRAWS), TOOLS, ("on", 2 * DRAWS), TOOLS, ("trees", CAREFUL[0]), TOOLS]
    assert found.passed


def test_at_first_alone_draws_go_on_by_few(run: Run) -> None:
    asked, found = run(tools=[SHORT], top=[SHORT, PASSED, SHORT])
    assert asked == [("anew", DRAWS), ("on", DRAWS + MORE_DRAWS), TOOLS, ("on", 2 * (DRAWS + MORE_DRAWS)), ("trees", CAREFUL[0]), TOOLS]
    assert found.passed


def test_trees_draw_at_once_where_trajectories_diverge(run: Run) -> None:
    """Nothing is worked out for tools before."""
    asked, found = run(top=[DIVERGED])
    assert asked == [("anew", DRAWS), ("trees", CAREFUL[0]), TOOLS]
    assert found.passed


def test_trees_that_diverge_take_smaller_steps_and_what_does_not_pass_is_told(run: Run) -> None:
    asked, found = run(top=[DIVERGED] * 3)
    assert asked == [("anew", DRAWS), ("trees", CAREFUL[0]), ("trees", CAREFUL[1]), TOOLS]
    assert found == DIVERGED
