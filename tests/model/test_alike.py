"""Weighing by the tools alone whose rows changed, against weighing by all of them; and which those are."""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from changed_records import CHANGES, MEASURED, NEWCOMER, TOOL, changed, demo_rows

from wearfit.calibration import from_bytes
from wearfit.demo.shipped import shipped_calibration_bytes
from wearfit.forecasts.likely import likely_wear_outs
from wearfit.model import tools_told
from wearfit.model.alike import alike, contents
from wearfit.model.clock import Clock
from wearfit.model.data import ModelData, ReadingColumns
from wearfit.model.parameters import Parameters
from wearfit.model.posterior import Rows, summarise_rows
from wearfit.model.reweigh import Past, Reweighed, past_of, reweigh, weighed
from wearfit.model.some_rows import BY_LIVE
from wearfit.model.some_tools import of_tools
from wearfit.model.subject import Subject, subject_of
from wearfit.model.tools_told import integrated
from wearfit.records.assemble import assemble
from wearfit.records.identity import Row
from wearfit.workflow.history import History, history_of

Array = np.ndarray

DRAWS = 40
SEED = 1


@pytest.fixture(scope="module")
def rows() -> Sequence[Row]:
    return demo_rows()


@pytest.fixture(scope="module")
def before(rows: Sequence[Row]) -> History:
    return history_of(assemble(rows))


@pytest.fixture(scope="module")
def past(before: History) -> Past:
    return past_of(from_bytes(shipped_calibration_bytes()), before.exposures, before.live, SEED, DRAWS)


@pytest.fixture(scope="module")
def after(rows: Sequence[Row], before: History) -> Callable[[str], History]:
    return cache(lambda change: changed(rows, before.day, change))


def names(of: Subject, chosen: Array) -> set[str]:
    return {name for name, is_chosen in zip(of.names, chosen, strict=True) if is_chosen}


def all_rows(r: Reweighed, tool: Array, episode: Array) -> Rows:
    """What the rows of all tools come to, given the effects that were drawn of those that changed; of some live tools."""
    of = r.subject
    return summarise_rows(
        of.drawn, of.data, of.layout, of.exposures, tool, episode, SEED, of.wear_law, r.rows.tool, luck_by_name=True, explained=False
    )


def given_effects(r: Reweighed) -> Array:
    """Log-likelihood of each tool's history given its effect, shape (sample, tool)."""
    nobody = np.zeros(0, dtype=np.int64)
    rows = all_rows(r, nobody, nobody)
    total = np.zeros((len(r.subject.names), len(rows.tool)))
    np.add.at(total, rows.observation[:, 0], rows.log_likelihood.T.astype(float))
    return total.T


def weighed_by_all(past: Past, of: Subject, given: Array, told: Array) -> Array:
    """Log weights by every tool of both histories."""
    was = past.history.of
    measured = names(was, was.measured) | names(of, of.measured)
    log_weight = np.zeros(len(told))
    for i, name in enumerate(of.names):
        if not (name in measured and of.open[i]):
            log_weight += (given if name in measured else told)[:, i]
    for i, name in enumerate(was.names):
        open_ = of.open[of.names.index(name)] if name in of.names else was.open[i]
        if not (name in measured and open_):
            log_weight -= past.given(i) if name in measured else past.told[:, i]
    return log_weight


@pytest.mark.parametrize("change", CHANGES)
def test_the_short_way_comes_to_what_the_long_way_does(past: Past, after: Callable[[str], History], change: str) -> None:
    now = after(change)
    r = reweigh(past, now.exposures, now.live, SEED)
    told, drawn = integrated(r.subject, SEED)
    long = all_rows(r, now.live.tool, now.live.episode)
    expected = weighed_by_all(past, r.subject, given_effects(r), told)
    assert r.log_weight == pytest.approx(expected, abs=1e-4)  # pointwise likelihoods are kept as single floats

    held = r.subject.measured | np.array([n in names(past.history.of, past.history.of.measured) for n in r.subject.names])
    anew = ~r.alike.likelihood & ~held
    assert r.rows.tool[:, anew] == pytest.approx(drawn[:, anew], abs=1e-9)
    assert (r.rows.tool[:, ~anew] == r.subject.tool[:, ~anew]).all()

    for name in BY_LIVE:
        assert getattr(r.rows, name) == pytest.approx(getattr(long, name), rel=2e-6, abs=1e-6, nan_ok=True), name
    assert r.rows.noted.log_share == pytest.approx(long.noted.log_share, rel=1e-5, abs=1e-6, nan_ok=True)
    assert [read.live for read in r.rows.reads] == [read.live for read in long.reads]
    for short, whole in zip(r.rows.reads, long.reads, strict=True):
        # Of a tool that may be several things each has the same readings: which copy it is, a draw decides.
        own, other = (part.readings for part in (short, whole))
        assert (own[:, ReadingColumns.feature :] == other[:, ReadingColumns.feature :]).all()
        taken = [now.exposures.readings.time[now.exposures.readings.row == part[0, ReadingColumns.row]] for part in (own, other)]
        assert len(taken[0]) and (taken[0] == taken[1]).all()
        assert (short.left.q_low, short.left.q_high) == (whole.left.q_low, whole.left.q_high)
        assert short.left.log_likelihood == pytest.approx(whole.left.log_likelihood, abs=1e-6)
        assert short.log_share == pytest.approx(whole.log_share, abs=1e-8)

    forecasts = (
        likely_wear_outs(weighed(past, of, now.live, now.fingerprint, SEED), now.day, 10.0)
        for of in (r, replace(r, rows=replace(long, tool=r.rows.tool)))
    )
    for ours, theirs in zip(*forecasts, strict=True):
        assert ours["tool_id"] == theirs["tool_id"]
        assert ours["remaining_shots"]["p50"] == pytest.approx(theirs["remaining_shots"]["p50"], rel=1e-4)
        dates = [each["wear_out_on"]["p50"] for each in (ours, theirs)]
        assert (dates[0] is None) == (dates[1] is None)
        if dates[0] is not None:
            assert abs(dt.date.fromisoformat(dates[0]) - dt.date.fromisoformat(dates[1])) <= dt.timedelta(days=1)


@pytest.mark.parametrize(
    ("change", "tools"),
    [
        ("nothing", set()),
        ("time that passed", set()),
        ("a run", {TOOL}),
        ("a reading", {MEASURED}),
        ("a run of years ago put right", {TOOL}),
        ("a new tool, plant and resin", {NEWCOMER}),
    ],
)
def test_a_tool_is_told_as_changed_where_its_records_are_and_no_other(
    past: Past, after: Callable[[str], History], change: str, tools: set[str]
) -> None:
    now = after(change)
    r = reweigh(past, now.exposures, now.live, SEED)
    assert names(r.subject, ~r.alike.likelihood) == tools
    if not tools:
        assert (r.log_weight == 0.0).all()
        assert (r.weights.weights == 1.0 / DRAWS).all()


def test_what_the_air_of_a_plant_is_changes_the_tools_that_ran_there_and_no_other(past: Past, rows: Sequence[Row], before: History) -> None:
    """The dew point of a plant's hall is one of the things that rows of the plant rest on, though no row of a tool says so."""
    plant = "delta"
    warmer = [
        replace(r, values={**r.values, "coolant_temp_c": "9"}) if r.table == "plants" and r.values["plant_id"] == plant else r for r in rows
    ]
    after = history_of(assemble(warmer))
    of = subject_of(past.calibration, after.exposures, past.history.of.priors, SEED)
    same = alike(past.contents, contents(of, after.live, past.contents.known))
    e = after.exposures
    made = e.cells.years == 0
    there = e.places.plant[e.cells.place] == e.plant_ids.index(plant)
    ran = np.unique(e.candidates.tool[e.history.candidate[e.cells.episode[made & there]]])
    assert 0 < len(ran) < len(of.names)
    assert set(np.flatnonzero(~same.likelihood)) == set(ran)


def test_some_tools_alone_have_the_likelihood_that_they_have_among_all(past: Past) -> None:
    of = past.history.of
    rng = np.random.default_rng(3)
    for _ in range(4):
        chosen = rng.random(len(of.names)) < 0.2
        exposures, data = of_tools(of.exposures, of.data, chosen)
        alone = replace(of, exposures=exposures, data=data, names=exposures.tools.tool_id)
        assert integrated(alone, SEED)[0] == pytest.approx(past.told[:, chosen], abs=1e-9)


def test_of_a_large_history_few_draws_are_handled_together_and_come_to_the_same(past: Past, monkeypatch: pytest.MonkeyPatch) -> None:
    """Draws times candidates times nodes are bounded, however large the history, down to a draw at a time."""
    of, sizes, with_clock = past.history.of, [], tools_told.run_clock

    def noted(p: Parameters, d: ModelData) -> Clock:
        sizes.append(len(p.all))
        return with_clock(p, d)

    monkeypatch.setattr(tools_told, "run_clock", noted)
    together = integrated(of, SEED)
    for cells, draws in ((7 * len(of.data.candidate) * tools_told.NODES, 7), (1, 1)):
        sizes.clear()
        monkeypatch.setattr(tools_told, "MOST_CELLS", cells)
        for one, other in zip(integrated(of, SEED), together, strict=True):
            np.testing.assert_array_equal(one, other)
        assert max(sizes) == draws
