"""A calibration's draws weighed by records that it has not seen: what it would come to with them, without sampling.

Each draw counts by how much likelier the whole history is with the new records than without. Of a tool that was not measured its effect
is integrated out of both, and drawn anew; a tool that was measured keeps its effect, and its lives are held against that. A
measured tool of which class, steel or age is open weighs nothing: what it is hangs on a capacity that is not kept. Nor do sudden stops
and stated causes; they wait for the next calibration.

Tools whose rows are as they were (`alike`) weigh nothing and keep their effect: what was worked out of them is taken over.
"""

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
from wearfit.model.data import ReadingColumns
from wearfit.model.importance import Weights, smoothed
from wearfit.model.posterior import Rows
from wearfit.model.priors import parse_priors
from wearfit.model.some_rows import Part, laid_over
from wearfit.model.subject import Subject, subject_of
from wearfit.model.tools_told import given_effect, integrated, rows_of, some_of

Array = np.ndarray

DRAWS: Final = 500
"""Draws that are weighed: enough to see whether weights can be relied on, few enough to be asked while a person waits."""


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
    rows = rows_of(of, live, of.tool, seed)
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
    told, drawn = integrated(some_of(now, changed), seed)
    effects = now.tool.copy()
    anew = changed & ~same.likelihood & ~held
    effects[:, anew] = drawn[:, anew[changed]]
    some, chosen = some_of(now, moved), np.flatnonzero(moved[live.tool])
    of_some = replace(live, tool=(np.cumsum(moved) - 1)[live.tool[chosen]], episode=live.episode[chosen])
    rows = rows_of(some, of_some, effects[:, moved], seed)
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
