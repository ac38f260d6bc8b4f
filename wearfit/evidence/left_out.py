"""The posterior without what a batch of records told of wear, by weights of the draws: nothing is sampled.

A batch is told by pieces of lives and by endings. What it told is that tools came through its pieces, and that they wore out at its
endings; these factors are left out of the likelihood, and with them the renewals for other causes than wear and the shots over which none
came. What the tools went through stays: where each stands now, and that it is good, is known with or without the batch, and so are sudden
stops and how readings grow.

Of a tool that was not measured, its effect is integrated out of both likelihoods: weights then vary only with what all tools share, and
the effect is drawn anew from what the rest of its history says. A tool that was measured keeps its effect, and the draw is weighed by
what its lives tell given that: a life is left out as a whole, readings too, with the batch in which it ends.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit import law
from wearfit.calibration import Calibration
from wearfit.evidence.believed_draws import Believed
from wearfit.evidence.courses import Courses
from wearfit.evidence.expected import Episode, LawDraws, effect_nodes, law_draws, lives_by_tool, wear_at_points
from wearfit.exposures.lives import CENSORED, EXACT, INTERVAL, RENEWALS
from wearfit.model.data import CandidateColumns
from wearfit.model.importance import Weights, smoothed
from wearfit.model.layout import coefficient_index
from wearfit.model.likelihood import cause_log_likelihood
from wearfit.processors import parts

Array = np.ndarray

CHUNK: Final = 200
LEAST: Final = 1e-300


@dataclass(frozen=True)
class Batches:
    """One way to part the records into batches.

    Parameters
    ----------
    by : str
    names : tuple of str
    piece : array, shape (piece,)
        Which batch each piece of the courses is of, -1 for none.
    ending : array, shape (episode,)
        Which one the ending of each episode is of; -1.
    """

    by: str
    names: tuple[str, ...]
    piece: Array
    ending: Array


@dataclass(frozen=True)
class LeftOut:
    """The posterior without one batch.

    Parameters
    ----------
    by, name : str
    wear_outs : int
        In the batch, causes that nobody stated left out.
    log_ratio : array, shape (sample,)
        Log of the likelihood without it over that with it, up to a constant.
    weights : Weights
        The same, smoothed.
    effects : dict of int to array, shape (sample,)
        Effects on log life drawn anew, by tool.
    kept : int
        Tools of the batch of which class, steel or age is open: they keep their own effects.
    """

    by: str
    name: str
    wear_outs: int
    log_ratio: Array
    weights: Weights
    effects: dict[int, Array]
    kept: int


@dataclass(frozen=True)
class _Causes:
    """What renewals tell of the rate of those for other causes, as `cause_log_likelihood` takes it, shape (3,)."""

    causes: Array


@dataclass(frozen=True)
class _Told:
    """What one tool's history tells, draw by draw: of each batch, hazard come through and log gains of its endings."""

    hazard: dict[int, Array]  # (draw, candidate, node), by batch, -1 for all that is of none
    gain: dict[int, Array]


def leave_out(b: Believed, courses: Courses, calibration: Calibration, schemes: Sequence[Batches], seed: int) -> list[LeftOut]:
    """The posterior without each batch of each scheme; `b` holds every draw of the calibration."""
    n = len(b.tool_scale)
    node = effect_nodes(float((b.shape.k * b.tool_scale).max()))
    log_weight = [np.zeros((n, len(s.names))) for s in schemes]
    effects: list[list[dict[int, Array]]] = [[{} for _ in s.names] for s in schemes]
    tools = list(lives_by_tool(b, courses))
    measured = _measured(b)
    for chunk in parts(n, CHUNK):
        drawn = law_draws(b, chunk, node)
        for candidates, episodes in tools:
            tool = int(b.exposures.candidates.tool[candidates[0]])
            if measured[tool]:
                continue
            rng = np.random.default_rng([seed, 53, tool, chunk.start])
            for which, scheme in enumerate(schemes):
                told = _told(b, drawn, courses, candidates, episodes, scheme)
                for batch, log_ratio, u in _without(b, drawn, told, candidates, node, rng):
                    log_weight[which][chunk, batch] += log_ratio
                    if u is not None:
                        effect = effects[which][batch].setdefault(tool, np.zeros(n))
                        effect[chunk] = -b.tool_scale[chunk, 0] * u
    for which, scheme in enumerate(schemes):
        log_weight[which] -= _measured_told(b, courses, calibration, scheme, measured, tools)
        for batch in range(len(scheme.names)):
            log_weight[which][:, batch] -= cause_log_likelihood(b.parameters, _Causes(_causes(b, courses, scheme, batch)))
    return [
        LeftOut(
            scheme.by,
            name,
            _wear_outs(b, scheme, batch),
            log_weight[which][:, batch],
            smoothed(log_weight[which][:, batch]),
            effects[which][batch],
            _open(b, courses, scheme, batch),
        )
        for which, scheme in enumerate(schemes)
        for batch, name in enumerate(scheme.names)
    ]


def _measured(b: Believed) -> Array:
    """Tools with readings of which the likelihood knows, shape (tool,)."""
    e = b.exposures
    found = np.zeros(len(e.tools.tool_id), dtype=bool)
    found[e.candidates.tool[e.history.candidate[np.unique(e.readings.row)]]] = True
    return found


def _told(b: Believed, s: LawDraws, courses: Courses, candidates: Array, episodes: Sequence[Episode], scheme: Batches) -> _Told:
    hazard: dict[int, Array] = {}
    gain: dict[int, Array] = {}
    for episode in episodes:
        ending = int(b.exposures.history.ending[episode[0][0]])
        at = wear_at_points(s, courses, episode, False)
        label = scheme.piece[episode[1]]
        before = s.hazard(candidates, at.entry)
        for last in np.flatnonzero(np.diff(label, append=-2)):  # pieces of one batch in a row are one
            after = s.hazard(candidates, at.spent[..., last])
            hazard[int(label[last])] = hazard.get(int(label[last]), 0.0) + after - before
            before = after
        if ending != CENSORED:
            of = int(scheme.ending[b.exposures.history.source[episode[0][0]]])
            in_doubt = s.at_nodes(s.hazard(candidates, at.end) - s.hazard(candidates, at.good))
            gain[of] = gain.get(of, 0.0) + _gain(b, s, candidates, episode[0], in_doubt)
    return _Told({batch: s.at_nodes(rise) for batch, rise in hazard.items()}, gain)


def _gain(b: Believed, s: LawDraws, candidates: Array, rows: Array, in_doubt: Array) -> Array:
    """What an ending adds to the log-likelihood, shape (draw, candidate, node); `in_doubt` is the rise of the hazard within an interval."""
    h = b.exposures.history
    unstated = bool(h.unstated[rows[0]])
    if h.ending[rows[0]] == INTERVAL:
        rise = np.maximum(in_doubt, LEAST)
        worn, through = law.log1mexp(rise), -rise
    else:
        worn = s.log_hazard(candidates, rows, unstated)
        through = np.zeros_like(worn)
    if not unstated:
        return np.asarray(worn)
    share = s.wear_share[:, None, None]
    return np.asarray(np.logaddexp(np.log(share) + worn, np.log1p(-share) + through))


def _causes(b: Believed, courses: Courses, scheme: Batches, batch: int) -> Array:
    """The share of a batch in what `cause_log_likelihood` takes, for that is a sum over renewals and shots; shape (3,)."""
    e, h = b.exposures, b.exposures.history
    of_batch = scheme.ending == batch
    unstated = int(of_batch[np.unique(h.source[h.unstated & (h.ending == EXACT)])].sum())
    closed = np.flatnonzero(of_batch & (e.episodes.closer >= 0) & ~np.isfinite(e.episodes.worn_at))
    closer = e.episodes.closer[closed]
    other = int((np.isin(e.events.kind[closer], RENEWALS) & ~np.isin(e.events.cause[closer], ("", "wear"))).sum())
    told = scheme.piece == batch
    lives = float((courses.shots[told] / np.exp(b.log_band[courses.tool[told]])).sum())
    return np.array([-(unstated + other), other, lives * np.exp(b.priors.loc[coefficient_index("log_shape")])], dtype=float)


def _without(
    b: Believed, s: LawDraws, told: _Told, candidates: Array, node: Array, rng: np.random.Generator
) -> Iterator[tuple[int, Array, Array | None]]:
    """Each batch, the log of the likelihood without it over that with it, and the tool's effect without it in standard deviations."""
    prior = b.data.candidate[candidates, CandidateColumns.log_weight][:, None] - 0.5 * node**2
    log_density = prior - sum(told.hazard.values(), np.zeros((len(s.log_factor), len(candidates), len(node))))
    for gain in told.gain.values():
        log_density = log_density + gain
    whole = _log_sum(log_density)
    for batch in sorted({*told.hazard, *told.gain} - {-1}):
        rest = log_density + told.hazard.get(batch, 0.0) - told.gain.get(batch, 0.0)
        mass = _log_sum(rest)
        yield batch, mass - whole, _draw(rest[:, 0] - mass[:, None], node, rng) if len(candidates) == 1 else None


def _log_sum(log_density: Array) -> Array:
    top = log_density.max(axis=(1, 2))
    return np.asarray(top + np.log(np.exp(log_density - top[:, None, None]).sum(axis=(1, 2))))


def _draw(log_mass: Array, node: Array, rng: np.random.Generator) -> Array:
    """One node for each draw by its mass, and a place within its step, shape (draw,)."""
    come = np.cumsum(np.exp(log_mass), axis=1)
    place = (come < rng.random(len(come))[:, None] * come[:, -1:]).sum(axis=1)
    return np.asarray(node[np.minimum(place, len(node) - 1)] + (rng.random(len(come)) - 0.5) * (node[1] - node[0]))


def _measured_told(
    b: Believed, courses: Courses, calibration: Calibration, scheme: Batches, measured: Array, tools: list[tuple[Array, list[Episode]]]
) -> Array:
    """Log-likelihood that measured tools add to each batch, given their effects, shape (draw, batch)."""
    e, n = b.exposures, len(b.tool_scale)
    total = np.zeros((n, len(scheme.names)))
    place = {str(name): i for i, name in enumerate(calibration.levels.observation)}
    saved = np.asarray(calibration.draws.log_likelihood, dtype=float)
    for candidates, episodes in tools:
        tool = int(e.candidates.tool[candidates[0]])
        if not measured[tool] or len(candidates) > 1:
            continue
        for life in np.unique(e.episodes.life[[e.history.source[rows[0]] for rows, _, _ in episodes]]):
            of_life = [part for part in episodes if e.episodes.life[e.history.source[part[0][0]]] == life]
            batch = _batch_of_life(courses, e.episodes.ending, scheme, of_life, e.history.source)
            if batch >= 0:
                total[:, batch] += saved[:, place[f"{e.tools.tool_id[tool]} life {life}"]]
    return total


def _batch_of_life(courses: Courses, ending: Array, scheme: Batches, episodes: list[Episode], source: Array) -> int:
    """The batch of a life's ending, or of its last piece where it goes on."""
    last = int(source[episodes[-1][0][0]])
    if ending[last] in (EXACT, INTERVAL):
        return int(scheme.ending[last])
    pieces = episodes[-1][2].stop
    return int(scheme.piece[pieces - 1]) if pieces > episodes[0][1].start else -1


def _wear_outs(b: Believed, scheme: Batches, batch: int) -> int:
    e = b.exposures
    used = np.unique(e.history.source)
    return int(((scheme.ending[used] == batch) & (e.episodes.ending[used] != CENSORED) & ~e.episodes.unstated[used]).sum())


def _open(b: Believed, courses: Courses, scheme: Batches, batch: int) -> int:
    """Tools of a batch of which class, steel or age is open."""
    e = b.exposures
    touched = np.unique(np.concatenate([courses.tool[scheme.piece == batch], e.episodes.tool[scheme.ending == batch]]))
    return int(np.isin(touched, e.candidates.tool[~e.candidates.known]).sum())
