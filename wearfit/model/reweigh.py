"""A calibration's draws weighed by records that it has not seen: what it would come to with them, without sampling.

Each draw counts by how much likelier the whole history is with the new records than without. Of a tool that was not measured its effect
is integrated out of both, and drawn anew; a tool that was measured keeps its effect, and its lives are held against that. A
measured tool of which class, steel or age is open weighs nothing: what it is hangs on a capacity that is not kept. Nor do sudden stops
and stated causes; they wait for the next calibration.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.calibration.tables import Draws
from wearfit.errors import Refusal
from wearfit.exposures.live import LiveTools
from wearfit.exposures.table import Exposures
from wearfit.law import LAWS
from wearfit.model.assemble import assemble
from wearfit.model.data import ModelData, PathColumns, ReadingColumns, RowColumns
from wearfit.model.importance import Weights, smoothed
from wearfit.model.laid_out import effects_by_name, laid_out
from wearfit.model.layout import COEFFICIENTS, FEATURE_BLOCKS, Layout
from wearfit.model.likelihood import log_life, run_clock, tool_spread
from wearfit.model.mixture import joint_log_likelihood, tool_log_likelihood
from wearfit.model.parameters import Parameters
from wearfit.model.posterior import CHUNK, Laid, Rows, summarise_rows, terms_alike
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import Priors, parse_priors
from wearfit.model.readings import Told
from wearfit.model.tool_draws import effect_grid

Array = np.ndarray

LEAST: Final = 1e-12  # of a prior scale, where it divides
DRAWS: Final = 500
"""Draws that are weighed: enough to see whether weights can be relied on, few enough to be asked while a person waits."""


@dataclass(frozen=True)
class Subject:
    """A history as the model takes it, and draws of what an earlier calibration believes of it."""

    exposures: Exposures
    priors: Priors
    layout: Layout
    data: ModelData
    drawn: Laid
    names: tuple[str, ...]  # (tool,)
    tool: Array  # (sample, tool) effects on log life; of tools that it does not know drawn from their population
    measured: Array  # (tool,) whether readings tell of the capacity of one of its lives
    open: Array  # (tool,) whether class, steel or age is open
    wear_law: int


@dataclass(frozen=True)
class Reweighed:
    """A calibration after new records.

    Parameters
    ----------
    weights : Weights
        Of the draws `kept`.
    log_weight : array, shape (sample,)
        The same before they are smoothed: log of the likelihood with the new records over that without.
    kept : array, shape (sample,)
        Places among the calibration's draws.
    rows : Rows
        Of the new history.
    subject : Subject
        The new history.
    unweighed : tuple of str
        Tools whose new records weigh nothing, being both measured and open.
    """

    weights: Weights
    log_weight: Array
    kept: Array
    rows: Rows
    subject: Subject
    unweighed: tuple[str, ...]


@dataclass(frozen=True)
class Past:
    """A calibration's own side of every weighing of its draws."""

    subject: Subject  # the history that it was calibrated on
    kept: Array  # (sample,) places among its draws
    told: dict[str, Array]  # log-likelihood of each tool's history, its effect integrated out, (sample,)


def past_of(calibration: Calibration, before: Exposures, seed: int, draws: int = DRAWS) -> Past:
    """What weighing a calibration's draws starts from, whatever records came.

    Parameters
    ----------
    before : Exposures
        The history that it was calibrated on.

    Raises
    ------
    Refusal
        Where the draws are of several laws.
    """
    if calibration.identity.wear_law not in LAWS:
        raise Refusal("Draws of several laws, stacked, cannot be weighed by new records.", "Recalibrate.")
    kept = np.linspace(0, calibration.samples - 1, min(draws, calibration.samples)).round().astype(int)
    subject = _subject(calibration, before, kept, seed)
    return Past(subject, kept, _integrated(subject))


def reweigh(calibration: Calibration, past: Past, after: Exposures, live: LiveTools, seed: int) -> Reweighed:
    """Weigh a calibration's draws by what became of its history.

    Parameters
    ----------
    past : Past
        Of the calibration.
    after : Exposures
        The history with the new records.
    live : LiveTools
        Of `after`.
    """
    was, kept, told_before = past.subject, past.kept, past.told
    now = _subject(calibration, after, kept, seed)
    measured_before, still = {name for name, measured in zip(was.names, was.measured, strict=True) if measured}, set(now.names)
    held = now.measured | np.isin(now.names, list(measured_before))
    effects = np.where(held, now.tool, np.nan)
    rows = summarise_rows(now.drawn, now.data, now.layout, after, live.tool, live.episode, seed, now.wear_law, effects)
    told_after = _integrated(now)
    saved = np.asarray(calibration.draws.log_likelihood, dtype=float)[kept]
    held_before = _by_tool(saved, [_tool_of(str(name)) for name in calibration.levels.observation])
    held_after = _by_tool(rows.log_likelihood.astype(float), [now.names[tool] for tool, _ in rows.observation])
    nothing, log_weight, unweighed = np.zeros(len(kept)), np.zeros(len(kept)), []
    for i, name in enumerate(now.names):
        if held[i] and now.open[i]:
            if _amounts(was, name) != _amounts(now, name):
                unweighed.append(name)
        elif held[i]:
            log_weight += held_after.get(name, nothing) - held_before.get(name, nothing)
        else:
            log_weight += told_after[name] - told_before.get(name, nothing)
    for i, name in enumerate(was.names):
        if name not in still and not (was.measured[i] and was.open[i]):  # its rows were taken out
            log_weight -= held_before.get(name, nothing) if was.measured[i] else told_before[name]
    return Reweighed(smoothed(log_weight), log_weight, kept, rows, now, tuple(unweighed))


def weighed(calibration: Calibration, r: Reweighed, live: LiveTools, fingerprint: str, seed: int) -> Calibration:
    """A calibration on the new history, in draws that stand for the weighed ones evenly: any answer can be asked of it.

    Parameters
    ----------
    live, fingerprint
        Of the new history.
    """
    of, e = r.subject, r.subject.exposures
    diagnostics = calibration.identity.diagnostics
    whole = assemble(
        e,
        live,
        fingerprint,
        of.priors,
        seed,
        of.data,
        of.layout,
        of.drawn,
        r.rows,
        diagnostics,
        of.wear_law,
        calibration.identity.law_chosen,
    )
    return resampled(whole, r.weights.weights, seed)


def resampled(calibration: Calibration, weights: Array, seed: int) -> Calibration:
    """Draws that stand for weighed ones evenly, by systematic resampling; `weights` (sample,) add up to one."""
    n = calibration.samples
    rng = np.random.default_rng([seed, 59])
    chosen = np.searchsorted(np.cumsum(weights), (np.arange(n) + rng.random()) / n).clip(0, n - 1)
    draws = Draws(**{f.name: np.asarray(getattr(calibration.draws, f.name))[chosen] for f in fields(Draws)})
    return replace(calibration, draws=draws)


def _subject(calibration: Calibration, exposures: Exposures, kept: Array, seed: int) -> Subject:
    """What the draws `kept` of a calibration say of a history: its own, or one that has levels which it has never seen."""
    priors = parse_priors(calibration.identity.priors)
    layout = layout_of(exposures)
    data = prepare(exposures, priors, layout, to_sample=False)
    rng, n, tools = np.random.default_rng([seed, 61]), len(COEFFICIENTS), exposures.tools
    slots = laid_out(calibration, exposures, priors, layout, kept, rng)
    for i, (block, values) in enumerate(zip(FEATURE_BLOCKS, _feature_laws(calibration, kept), strict=True)):
        law = np.tile(data.feature_loc[i], (len(kept), 1))
        law[:, : values.shape[1]] = values
        span = layout.block(block)
        slots[:, n + span.start : n + span.stop] = (law - data.feature_loc[i]) @ np.linalg.pinv(data.feature_root[i]).T
    candidate = data.row[data.row[:, RowColumns.path] > 0, RowColumns.candidate].astype(np.int64)
    measured, open_ = (np.zeros(len(tools.tool_id), dtype=bool) for _ in range(2))
    measured[exposures.candidates.tool[candidate]] = True
    open_[exposures.candidates.tool[~exposures.candidates.known]] = True
    return Subject(
        exposures,
        priors,
        layout,
        data,
        Laid(
            Parameters(slots, np.asarray(calibration.draws.share[kept], dtype=float)),
            np.asarray(calibration.draws.scale[kept], dtype=float) / np.maximum(data.group_prior[0], LEAST),
            np.zeros((len(kept), layout.reads)),
        ),
        tuple(str(name) for name in tools.tool_id),
        effects_by_name(calibration, kept, rng, "tool", tools.tool_id, calibration.levels.tool, calibration.draws.tool),
        measured,
        open_,
        LAWS.index(calibration.identity.wear_law),
    )


def _feature_laws(calibration: Calibration, kept: Array) -> tuple[Array, Array, Array]:
    """Level, log growth and log noise of each feature, shape (sample, feature)."""
    drawn = calibration.draws
    level, growth, noise = (np.asarray(a[kept], dtype=float) for a in (drawn.feature_level, drawn.feature_growth, drawn.feature_noise))
    return level, np.log(growth), np.log(noise)


def _integrated(of: Subject) -> dict[str, Array]:
    """Log-likelihood of each tool's history, its effect and what it may be integrated out, shape (sample,)."""
    told = []
    for start in range(0, of.drawn.samples, CHUNK):
        chunk = slice(start, start + CHUNK)
        p = of.drawn.parameters(of.data, of.layout, chunk)
        clock = run_clock(p, of.data)
        # Of lives with readings nothing is told here, for their tools are weighed otherwise.
        capacity = clock.end[:, of.data.path[:, PathColumns.row].astype(np.int64)]
        told_nothing = Told(capacity, 0.0 * capacity, 0.0 * capacity)
        terms = terms_alike(p, clock, log_life(p, of.data), of.data, told_nothing, of.wear_law)
        grid = effect_grid(terms, p.share_of("wear_share"), tool_spread(p, of.drawn.w[chunk], of.data), of.data, of.wear_law)
        by_candidate = grid.log_mass(np.arange(len(of.data.candidate)))
        told.append(tool_log_likelihood(joint_log_likelihood(by_candidate, of.data), of.data))
    return dict(zip(of.names, np.concatenate(told).T, strict=False))


def _by_tool(log_likelihood: Array, tools: Sequence[str]) -> dict[str, Array]:
    """Pointwise log-likelihoods summed by tool, shape (sample,)."""
    told: dict[str, Array] = {}
    for tool, values in zip(tools, log_likelihood.T, strict=True):
        told[tool] = told.get(tool, 0.0) + values
    return told


def _tool_of(observation: str) -> str:
    """The tool of an observation: "T-1 life 2", or the tool's own name where it may be several things."""
    name, life, number = observation.rpartition(" life ")
    return name if life and number.isdecimal() else observation


def _amounts(of: Subject, name: str) -> tuple[float, ...]:
    """Rows, shots and readings of a tool: where they differ its records do."""
    if name not in of.names:
        return ()
    rows = np.flatnonzero(of.exposures.candidates.tool[of.exposures.history.candidate] == of.names.index(name))
    readings = int(np.isin(of.data.reading[:, ReadingColumns.row], rows).sum())
    shots = float(of.exposures.cells.shots[np.isin(of.exposures.cells.episode, rows)].sum())
    return float(len(rows)), shots, float(readings)
