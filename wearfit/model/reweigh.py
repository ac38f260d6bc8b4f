"""A calibration's draws weighed by records that it has not seen: what it would come to with them, without sampling.

Each draw counts by how much likelier the whole history is with the new records than without. Of a tool that was not measured its effect
is integrated out of both, and drawn anew; a tool that was measured keeps its effect, and its lives are held against that. A
measured tool of which class, steel or age is open weighs nothing: what it is hangs on a capacity that is not kept. Nor do sudden stops
and stated causes; they wait for the next calibration.

Tools whose rows are as they were (`alike`) weigh nothing and keep their effect: what was worked out of them is taken over.
"""

import zlib
from dataclasses import dataclass, field, fields, replace
from typing import Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.calibration.tables import Draws
from wearfit.errors import Refusal
from wearfit.exposures.live import LiveTools
from wearfit.exposures.table import Exposures
from wearfit.law import LAWS
from wearfit.model.alike import Alike, Contents, alike, contents
from wearfit.model.assemble import assemble
from wearfit.model.clock import log_life, run_clock
from wearfit.model.data import CandidateColumns, PathColumns, ReadingColumns
from wearfit.model.importance import Weights, smoothed
from wearfit.model.likelihood import tool_spread
from wearfit.model.mixture import first_of_tools, joint_log_likelihood, tool_log_likelihood
from wearfit.model.posterior import CHUNK, Rows, summarise_rows, terms_alike
from wearfit.model.priors import parse_priors
from wearfit.model.readings import Told
from wearfit.model.some_rows import Part, laid_over
from wearfit.model.some_tools import of_tools
from wearfit.model.subject import Subject, subject_of
from wearfit.model.tool_draws import NODES, effect_grid

Array = np.ndarray

DRAWS: Final = 500
"""Draws that are weighed: enough to see whether weights can be relied on, few enough to be asked while a person waits."""

MOST_CELLS: Final = 2_000_000  # of all draws that are handled together, which bounds the memory


@dataclass(frozen=True)
class Past:
    """A calibration's own side of every weighing of its draws."""

    calibration: Calibration  # of the draws that are weighed alone
    history: Part  # that it was calibrated on, its rows given the effects of the draws
    contents: Contents
    told: Array  # (sample, tool) log-likelihood of each tool's history, its effect integrated out
    seed: int
    _given: dict[int, Array] = field(default_factory=dict)  # those that were asked for

    def given(self, tool: int) -> Array:
        """Log-likelihood of a tool's history given its effect, shape (sample,)."""
        if tool not in self._given:
            self._given[tool] = given_effect(self.history.of, self.history.of.tool, tool, self.seed)
        return self._given[tool]


@dataclass(frozen=True)
class Reweighed:
    """A calibration after new records.

    Parameters
    ----------
    weights : Weights
        Of the draws of `Past.calibration`.
    log_weight : array, shape (sample,)
        The same before they are smoothed: log of the likelihood with the new records over that without.
    rows : Rows
        Of the new history, without pointwise likelihoods and what moved the forecasts.
    subject : Subject
        The new history.
    alike : Alike
        Which of its tools are as they were.
    unweighed : tuple of str
        Tools whose new records weigh nothing, being both measured and open.
    """

    weights: Weights
    log_weight: Array
    rows: Rows
    subject: Subject
    alike: Alike
    unweighed: tuple[str, ...]


def past_of(calibration: Calibration, before: Exposures, live: LiveTools, seed: int, draws: int = DRAWS) -> Past:
    """What weighing a calibration's draws starts from, whatever records came.

    Parameters
    ----------
    before : Exposures
        The history that it was calibrated on.
    live : LiveTools
        Of that history.
    draws : int
        How many are weighed, evenly thinned.

    Raises
    ------
    Refusal
        Where the draws are of several laws.
    """
    if calibration.identity.wear_law not in LAWS:
        raise Refusal("Draws of several laws, stacked, cannot be weighed by new records.", "Recalibrate.")
    kept = np.linspace(0, calibration.samples - 1, min(draws, calibration.samples)).round().astype(int)
    thinned = _of_draws(calibration, kept)
    of = subject_of(thinned, before, parse_priors(calibration.identity.priors), seed)
    rows = _rows(of, live, of.tool, seed)
    return Past(thinned, Part(of, live, rows), contents(of, live), integrated(of, seed)[0], seed)


def reweigh(past: Past, after: Exposures, live: LiveTools, seed: int) -> Reweighed:
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
    was = past.history.of
    now = subject_of(past.calibration, after, was.priors, seed)
    same = alike(past.contents, contents(now, live, past.contents.known))
    held = now.measured | np.append(was.measured, False)[same.place]
    changed, moved = _with_a_row(~same.likelihood, after), _with_a_row(~same.clock, after)
    told, drawn = integrated(_some(now, changed), seed)
    effects = now.tool.copy()
    anew = changed & ~same.likelihood & ~held
    effects[:, anew] = drawn[:, anew[changed]]
    some, chosen = _some(now, moved), np.flatnonzero(moved[live.tool])
    of_some = replace(live, tool=(np.cumsum(moved) - 1)[live.tool[chosen]], episode=live.episode[chosen])
    rows = _rows(some, of_some, effects[:, moved], seed)
    log_weight, unweighed = np.zeros(now.drawn.samples), []
    for i in np.flatnonzero(~same.likelihood):
        at, name = same.place[i], now.names[i]
        if held[i] and now.open[i]:
            if at < 0 or _amounts(was, int(at)) != _amounts(now, int(i)):
                unweighed.append(name)
            continue
        log_weight += given_effect(now, effects, int(i), seed) if held[i] else told[:, changed[:i].sum()]
        if at >= 0:
            log_weight -= past.given(int(at)) if held[i] else past.told[:, at]
    for i in np.flatnonzero(~np.isin(np.arange(len(was.names)), same.place)):  # its rows were taken out
        if not (was.measured[i] and was.open[i]):
            log_weight -= past.given(int(i)) if was.measured[i] else past.told[:, i]
    whole = replace(laid_over(past.history, Part(some, of_some, rows), now, live), tool=effects)
    return Reweighed(smoothed(log_weight), log_weight, whole, now, same, tuple(unweighed))


def weighed(past: Past, r: Reweighed, live: LiveTools, fingerprint: str, seed: int) -> Calibration:
    """A calibration on the new history, in draws that stand for the weighed ones evenly.

    Dates can be asked of it, and no more: it has no pointwise likelihoods, and does not tell what moved the forecasts.

    Parameters
    ----------
    live, fingerprint
        Of the new history.
    """
    whole = _assembled(past.calibration, Part(r.subject, live, r.rows), fingerprint, seed, explained=False)
    return resampled(whole, r.weights.weights, seed)


def as_it_was(past: Past, seed: int) -> Calibration:
    """The calibration as it was, put together as `weighed` does it: forecasts of the two have the same luck, place by place."""
    return _assembled(past.calibration, past.history, past.calibration.identity.fingerprint, seed, explained=True)


def _assembled(calibration: Calibration, part: Part, fingerprint: str, seed: int, *, explained: bool) -> Calibration:
    identity, of = calibration.identity, part.of
    return assemble(
        of.exposures, part.live, fingerprint, of.priors, seed, of.data, of.layout, of.drawn, part.rows, identity.diagnostics, of.wear_law,
        identity.law_chosen, explained=explained,
    )  # fmt: skip


def resampled(calibration: Calibration, weights: Array, seed: int) -> Calibration:
    """Draws that stand for weighed ones evenly, by systematic resampling; `weights` (sample,) add up to one.

    A draw keeps its place wherever it is drawn at all, and with it the luck that answers give to the place: what moves between the two
    calibrations is then what the weights move.
    """
    n = calibration.samples
    rng = np.random.default_rng([seed, 59])
    drawn = np.searchsorted(np.cumsum(weights), (np.arange(n) + rng.random()) / n).clip(0, n - 1)
    count, chosen = np.bincount(drawn, minlength=n), np.arange(n)
    chosen[count == 0] = np.repeat(np.arange(n), np.maximum(count - 1, 0))
    return _of_draws(calibration, chosen)


def _of_draws(calibration: Calibration, chosen: Array) -> Calibration:
    """A calibration in some of its draws, by their places, which may come more than once."""
    draws = Draws(**{f.name: np.asarray(getattr(calibration.draws, f.name))[chosen] for f in fields(Draws)})
    return replace(calibration, draws=draws)


def integrated(of: Subject, seed: int) -> tuple[Array, Array]:
    """Log-likelihood of each tool's history, its effect and what it may be integrated out, and an effect drawn from it.

    Shapes (sample, tool). Each tool's luck is its own, whichever others there are.
    """
    n, d = of.drawn.samples, of.data
    told, effects = np.zeros((n, len(of.names))), np.zeros((n, len(of.names)))
    kind, uniform = _luck(of, seed)
    for start in range(0, n, _at_once(of)):
        chunk = slice(start, start + _at_once(of))
        p = of.drawn.parameters(d, of.layout, chunk)
        clock = run_clock(p, d)
        # Of lives with readings nothing is told here, for their tools are weighed otherwise.
        capacity = clock.end[:, d.path[:, PathColumns.row].astype(np.int64)]
        told_nothing = Told(capacity, 0.0 * capacity, 0.0 * capacity)
        terms = terms_alike(p, clock, log_life(p, d), d, told_nothing, of.wear_law)
        spread = tool_spread(p, of.drawn.w[chunk], d)
        grid = effect_grid(terms, p.share_of("wear_share"), spread, d, of.wear_law)
        joint = joint_log_likelihood(grid.log_mass(np.arange(len(d.candidate))), d)
        told[chunk] = tool_log_likelihood(joint, d)
        scale = np.abs(spread) / np.exp(p.coefficient("log_shape"))
        effects[chunk] = -scale * grid.drawn(_chosen(joint + kind[chunk], d.candidate), uniform[chunk])
    return told, effects


def _luck(of: Subject, seed: int) -> tuple[Array, Array]:
    """Gumbel draws for each candidate, (sample, candidate), and uniform ones for each tool, (sample, tool)."""
    n, candidate = of.drawn.samples, of.data.candidate
    count = np.bincount(candidate[:, CandidateColumns.tool].astype(np.int64), minlength=len(of.names))
    kind, uniform = np.zeros((len(candidate), n)), np.zeros((len(count), n))
    for i, (name, first) in enumerate(zip(of.names, np.cumsum(count) - count, strict=True)):
        rng = np.random.default_rng([seed, 67, zlib.crc32(name.encode())])
        uniform[i] = rng.random(n)
        kind[first : first + count[i]] = rng.gumbel(size=(count[i], n)) if count[i] > 1 else 0.0
    return kind.T, uniform.T


def _chosen(luck: Array, candidate: Array) -> Array:
    """The candidate of each tool with most luck, shape (draw, tool)."""
    first = first_of_tools(candidate)
    stop = np.append(first[1:], len(candidate))
    return np.stack([a + luck[:, a:b].argmax(axis=1) for a, b in zip(first, stop, strict=True)], axis=1)


def _rows(of: Subject, live: LiveTools, effects: Array, seed: int) -> Rows:
    """What live tools come to given the effects of all, (sample, tool)."""
    scored = np.zeros(len(of.names), dtype=bool)
    return summarise_rows(
        of.drawn, of.data, of.layout, of.exposures, live.tool, live.episode, seed, of.wear_law, effects, scored, luck_by_name=True,
        chunk_size=_at_once(of), explained=False,
    )  # fmt: skip


def given_effect(of: Subject, effects: Array, tool: int, seed: int) -> Array:
    """Log-likelihood of one tool's history given the effects of all, shape (sample,); a measured life takes an integral."""
    chosen = np.arange(len(of.names)) == tool
    if not chosen[of.exposures.candidates.tool[of.exposures.history.candidate]].any():
        return np.zeros(len(effects))
    some = _some(of, chosen)
    nobody = np.zeros(0, dtype=np.int64)
    rows = summarise_rows(
        of.drawn, some.data, of.layout, some.exposures, nobody, nobody, seed, of.wear_law, effects[:, chosen], chunk_size=_at_once(some)
    )
    return np.asarray(rows.log_likelihood.sum(axis=1, dtype=float))


def _at_once(of: Subject) -> int:
    """Draws that are handled together."""
    return max(CHUNK, MOST_CELLS // max(len(of.data.cell), len(of.data.candidate) * NODES))


def _some(of: Subject, chosen: Array) -> Subject:
    """The same of some tools alone; `chosen` (tool,)."""
    exposures, data = of_tools(of.exposures, of.data, chosen)
    names = exposures.tools.tool_id
    return replace(
        of, exposures=exposures, data=data, names=names, tool=of.tool[:, chosen], measured=of.measured[chosen], open=of.open[chosen]
    )


def _with_a_row(chosen: Array, exposures: Exposures) -> Array:
    """Tools chosen, and one more where none of them has a row: tables of none are no tables."""
    tool = exposures.candidates.tool[exposures.history.candidate]
    out = chosen.copy()
    out[tool[0]] |= not chosen[tool].any()
    return out


def _amounts(of: Subject, tool: int) -> tuple[float, ...]:
    """Rows, shots and readings of a tool: where they differ its records do."""
    rows = np.flatnonzero(of.exposures.candidates.tool[of.exposures.history.candidate] == tool)
    readings = int(np.isin(of.data.reading[:, ReadingColumns.row], rows).sum())
    shots = float(of.exposures.cells.shots[np.isin(of.exposures.cells.episode, rows)].sum())
    return float(len(rows)), shots, float(readings)
