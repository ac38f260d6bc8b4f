"""Draws weighed by new records, against integrals by brute force and against a calibration that saw them."""

import datetime as dt
from collections.abc import Sequence

import numpy as np
import pytest

from wearfit.calibration import Calibration, from_bytes
from wearfit.demo.shipped import scenario_folder, shipped_calibration_bytes
from wearfit.model.clock import log_life, run_clock
from wearfit.model.data import ModelData, PathColumns
from wearfit.model.layout import COEFFICIENTS
from wearfit.model.likelihood import candidate_log_likelihood, history_terms
from wearfit.model.readings import Told
from wearfit.model.reweigh import Past, Reweighed, past_of, reweigh, weighed
from wearfit.model.subject import Subject
from wearfit.records.assemble import assemble
from wearfit.records.identity import Row
from wearfit.records.readers.read import read
from wearfit.workflow.history import History, history_of

Array = np.ndarray

NODE = np.linspace(-6.0, 6.0, 241)
FEW, SOME = 40, 300


@pytest.fixture(scope="module")
def rows() -> Sequence[Row]:
    return read(scenario_folder()).rows


@pytest.fixture(scope="module")
def before(rows: Sequence[Row]) -> History:
    return history_of(assemble(rows))


@pytest.fixture(scope="module")
def calibration() -> Calibration:
    return from_bytes(shipped_calibration_bytes())


@pytest.fixture(scope="module")
def plain(calibration: Calibration, before: History) -> str:
    """The live tool with most of its life behind it of those never measured and of known class, steel and age."""
    e, live = before.exposures, before.live
    measured = set(e.candidates.tool[e.history.candidate[e.readings.row]])
    open_ = set(e.candidates.tool[~e.candidates.known])
    used = (calibration.draws.wear_spent / calibration.draws.characteristic_life).mean(axis=0)
    fit = [i for i, t in enumerate(live.tool) if t not in measured | open_ and live.status[i] == 0]
    return str(e.tools.tool_id[live.tool[max(fit, key=lambda i: used[i])]])


@pytest.fixture(scope="module")
def few(calibration: Calibration, before: History) -> Past:
    return past_of(calibration, before.exposures, before.live, 1, FEW)


@pytest.fixture(scope="module")
def some(calibration: Calibration, before: History) -> Past:
    return past_of(calibration, before.exposures, before.live, 1, SOME)


@pytest.fixture(scope="module")
def same(few: Past, before: History) -> Reweighed:
    """Weighed by the very records that it was calibrated on."""
    return asked(few, before)


def later(before: History, rows: Sequence[Row], tool: str, shots: int, *, worn: bool) -> History:
    """The history after one more run of a tool, and perhaps its wear-out."""
    e = before.exposures
    plant, resin = str(e.plant_ids[0]), str(e.resins.resin_id[0])
    days = [str(before.day + dt.timedelta(days=n)) for n in (1, 5)]
    new = [
        {"tool_id": tool, "plant_id": plant, "resin_id": resin, "started_on": days[0], "ended_on": days[1], "shots": str(shots)},
        {"tool_id": tool, "date": days[1], "event": "worn"},
    ]
    added = [Row(table, f'["{tool}"]', 99, values, 1, "new") for table, values in zip(("runs", "events"), new, strict=True)]
    return history_of(assemble([*rows, *(added if worn else added[:1])]))


def asked(past: Past, after: History) -> Reweighed:
    return reweigh(past, after.exposures, after.live, 1)


def _untold(end: Array, d: ModelData) -> Told:
    """Nothing told of lives with readings, whose tools are not asked about."""
    capacity = end[:, d.path[:, PathColumns.row].astype(int)]
    return Told(capacity, 0.0 * capacity, 0.0 * capacity)


def by_brute_force(of: Subject, tool: str) -> Array:
    """Log-likelihood of a tool's history, its effect integrated out by many nodes, shape (sample,)."""
    p, d = of.drawn.values, of.data
    clock, usual = run_clock(p, d), log_life(p, d)
    scale = np.abs(of.drawn.w[:, 4] * d.group_prior[0, 4])[:, None]
    own = np.flatnonzero(of.exposures.candidates.tool == of.names.index(tool))
    at_node = []
    for u in NODE:
        terms = history_terms(p, clock, usual + u * scale, d, told=_untold(clock.end, d))
        at_node.append(candidate_log_likelihood(terms, p, d)[:, own[0]] - 0.5 * u * u)
    return np.asarray(np.logaddexp.reduce(at_node, axis=0) + np.log((NODE[1] - NODE[0]) / np.sqrt(2.0 * np.pi)))


def test_the_same_records_weigh_nothing(same: Reweighed) -> None:
    assert same.unweighed == ()
    assert (same.log_weight == 0.0).all()


@pytest.mark.parametrize("worn", [False, True])
def test_a_plain_tool_weighs_by_its_likelihood_with_its_effect_integrated_out(
    few: Past, before: History, rows: Sequence[Row], plain: str, same: Reweighed, *, worn: bool
) -> None:
    seen = asked(few, later(before, rows, plain, 150_000, worn=worn))
    expected = by_brute_force(seen.subject, plain) - by_brute_force(same.subject, plain)
    assert np.ptp(expected) > 0.1
    # Other tools stand a few days longer, which tells nothing of them; the density is held on a grid of its own.
    assert seen.log_weight == pytest.approx(expected, abs=0.005)


def test_an_early_wear_out_shortens_what_is_forecast(
    calibration: Calibration, some: Past, before: History, rows: Sequence[Row], plain: str
) -> None:
    after = later(before, rows, plain, 30_000, worn=True)
    seen = asked(some, after)
    assert seen.weights.reliable
    new = weighed(some, seen, after.live, after.fingerprint, 1)
    assert new.identity.fingerprint == after.fingerprint
    assert new.identity.as_of == str(after.day)
    row = int(np.flatnonzero(new.live.tool == list(new.levels.tool).index(plain))[0])
    assert new.live.status[row] == "worn"
    effect = list(calibration.levels.tool).index(plain)
    assert np.mean(new.draws.tool[:, effect]) < np.mean(calibration.draws.tool[:, effect]) + 0.02
    assert new.samples == SOME


def test_a_tool_never_seen_is_drawn_from_its_population(some: Past, before: History, rows: Sequence[Row]) -> None:
    tools = [row for row in rows if row.table == "tools"]
    newcomer = Row("tools", '["NEW-1"]', 0, {**tools[0].values, "tool_id": "NEW-1", "commissioned_on": str(before.day)}, 1, "new")
    seen = asked(some, history_of(assemble([*rows, newcomer])))
    effects = seen.rows.tool[:, seen.subject.names.index("NEW-1")]
    scale = np.asarray(some.calibration.draws.scale[:, 4], dtype=float)
    assert np.std(effects / scale) == pytest.approx(1.0, abs=0.15)  # 300 draws: a standard deviation is known to .04
    assert np.ptp(seen.log_weight) < 0.1


def test_coefficients_are_laid_out_as_they_were_saved(few: Past, same: Reweighed) -> None:
    assert same.subject.drawn.values.all[:, : len(COEFFICIENTS)] == pytest.approx(few.calibration.draws.coefficient, rel=1e-6)
