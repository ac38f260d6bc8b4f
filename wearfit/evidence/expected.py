"""How much wear-out was expected of each piece of each life, and where the wear-outs lay, draw by draw.

By a draw of the parameters a tool wears out at a rate that its history so far tells: the effect of the tool itself, and what it is
where that is open, are believed as its earlier lives leave them, never as the life in question does. What was expected of a stretch of
a life is the integral of that rate. Events less that sum up to nothing on average, whatever was looked at and whenever looking
stopped, and on the scale of what was expected wear-outs come like those of a unit Poisson process (Watanabe 1964; Aalen, Borgan &
Gjessing 2008, Survival and Event History Analysis, ch. 2; from memory). So no life needs a capacity of its own, no censoring time has
to be made up for one that wore out, and no outcome is used to expect itself but through what all lives share.

A wear-out between two days is placed within by the chance that each moment had; a renewal whose cause nobody stated is one by wear
with the chance that the draw gives that: both are drawn. What readings say of a capacity is left out: lives that were measured are held
against the law like all others.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit import law
from wearfit.evidence.believed_draws import Believed
from wearfit.evidence.courses import Courses
from wearfit.exposures.lives import CENSORED, INTERVAL
from wearfit.model.clock import Clock, log_life, run_clock
from wearfit.model.data import CandidateColumns
from wearfit.model.likelihood import log_reference_hazard
from wearfit.model.parameters import Parameters
from wearfit.processors import parts

Array = np.ndarray

CHUNK: Final = 100  # draws at once
REACH: Final = 7.0  # standard deviations of a tool's effect on either side
WIDEST: Final = 0.25  # even steps, as in `model.tool_marginal`: of the effect
STEP: Final = 0.4  # .. and of the log hazard
LEAST: Final = 1e-300


@dataclass(frozen=True)
class Expected:
    """Arrays of shape (draw, piece)."""

    expected: Array  # wear-outs, float32
    worn: Array  # bool: it wore out there


@dataclass(frozen=True)
class LawDraws:
    """One chunk of draws. Arrays with a leading axis (draw,)."""

    clock: Clock
    log_life: Array  # (draw, candidate) without the tool's effect
    shape: law.Shape  # (draw, 1)
    wear_share: Array  # (draw,)
    log_reference: Array  # (candidate,) `likelihood.log_reference_hazard`
    factor: Array  # (draw, node) of the index, by the tool's effect: by a Weibull law of the hazard
    log_factor: Array

    def life_at_nodes(self, log_life: Array) -> Array:
        """Log characteristic life by the tool's effect, shape (draw, candidate, node); `log_life` (draw, candidate)."""
        return np.asarray(log_life[..., None] - (self.log_factor / self.shape.k)[:, None, :])

    def hazard(self, candidates: Array, spent: Array) -> Array:
        """Cumulative hazard at a wear spent, (draw, candidate): with an axis of nodes unless one factor tells all of them."""
        eta = self.log_life[:, candidates]
        if law.is_weibull(self.shape):
            return np.asarray(law.cumulative_hazard(spent, eta, self.shape))
        return np.asarray(law.cumulative_hazard(spent[..., None], self.life_at_nodes(eta), self.shape[..., None]))

    def at_nodes(self, rise: Array) -> Array:
        """A rise of `hazard` by the tool's effect, shape (draw, candidate, node)."""
        return np.asarray(rise[..., None] * self.factor[:, None, :]) if law.is_weibull(self.shape) else rise

    def log_hazard(self, candidates: Array, rows: Array, unstated: bool) -> Array:
        """Log hazard of a wear-out at the end of rows, a machine shot, one row a candidate; where the cause is not stated, over
        `log_reference_hazard`. Shape (draw, candidate, node).
        """
        eta, end = self.log_life[:, candidates], np.asarray(self.clock.end)[:, rows]
        a_shot = (np.asarray(self.clock.log_last)[:, rows] - (self.log_reference[candidates] if unstated else 0.0))[..., None]
        if law.is_weibull(self.shape):
            return np.asarray(law.log_hazard(end, eta, self.shape)[..., None] + self.log_factor[:, None, :] + a_shot)
        return np.asarray(law.log_hazard(end[..., None], self.life_at_nodes(eta), self.shape[..., None]) + a_shot)


def expect(b: Believed, courses: Courses, seed: int) -> Expected:
    """What was expected of each piece, and where the wear-outs lay."""
    n = len(b.tool_scale)
    expected, worn = np.zeros((n, len(courses.tool)), dtype=np.float32), np.zeros((n, len(courses.tool)), dtype=bool)
    rng = np.random.default_rng([seed, 41])
    node = effect_nodes(float((b.shape.k * b.tool_scale).max()))
    weight = np.exp(-0.5 * node**2) / np.exp(-0.5 * node**2).sum()
    tools = lives_by_tool(b, courses)
    for chunk in parts(n, CHUNK):
        draws = law_draws(b, chunk, node)
        for candidates, episodes in tools:
            _walk(b, draws, courses, candidates, episodes, weight, rng, expected[chunk], worn[chunk])
    return Expected(expected, worn)


def law_draws(b: Believed, chunk: slice, node: Array) -> LawDraws:
    """Clocks and laws of some draws, a tool's effect at each node, in standard deviations."""
    p = Parameters(b.parameters.all[chunk], b.parameters.share[chunk])
    shape = b.shape[chunk]
    log_factor = shape.k * b.tool_scale[chunk] * node
    share, reference = p.share_of("wear_share")[:, 0], log_reference_hazard(b.data)
    return LawDraws(run_clock(p, b.data), log_life(p, b.data), shape, share, reference, np.exp(log_factor), log_factor)


def effect_nodes(widest_spread: float) -> Array:
    """Nodes of a tool's effect, in standard deviations; `widest_spread` of the draws, on log hazards."""
    step = min(WIDEST, STEP / max(widest_spread, 1e-9))
    return np.linspace(-REACH, REACH, 2 * int(np.ceil(REACH / step)) + 1)


Episode = tuple[Array, slice, slice]  # rows, one a candidate; pieces up to the last good day, and those after it


def lives_by_tool(b: Believed, courses: Courses) -> list[tuple[Array, list[Episode]]]:
    """Of each tool its candidates, and its episodes in order of time."""
    h, of_tool = b.exposures.history, b.exposures.candidates.tool
    order = np.argsort(h.source, kind="stable")
    source, first = np.unique(h.source[order], return_index=True)
    rows = np.split(order, first[1:])
    by_tool: dict[int, list[Episode]] = {}
    for episode, mine in zip(source, rows, strict=True):
        low, high = np.searchsorted(courses.episode, [episode, episode + 1], side="left")
        middle = low + int(np.searchsorted(courses.part[low:high], 2, side="left"))
        by_tool.setdefault(int(of_tool[h.candidate[mine[0]]]), []).append((mine, slice(low, middle), slice(middle, high)))
    return [(h.candidate[episodes[0][0]], episodes) for episodes in by_tool.values()]


def _walk(
    b: Believed,
    s: LawDraws,
    courses: Courses,
    candidates: Array,
    episodes: list[Episode],
    weight: Array,
    rng: np.random.Generator,
    expected: Array,
    worn: Array,
) -> None:
    """Go through the lives of one tool in order of time; fills its columns of `expected` and `worn`."""
    n = len(s.log_factor)
    prior = np.exp(b.data.candidate[candidates, CandidateColumns.log_weight])
    mass = np.broadcast_to(prior[:, None] * weight, (n, len(candidates), len(weight))).copy()  # (draw, candidate, node)
    mass /= mass.sum(axis=(1, 2), keepdims=True)
    h = b.exposures.history
    for rows, good, late in episodes:
        ending, unstated = int(h.ending[rows[0]]), bool(h.unstated[rows[0]])
        in_doubt = ending == INTERVAL
        at = wear_at_points(s, courses, (rows, good, late), in_doubt)
        at_entry = s.hazard(candidates, at.entry)
        pieces = slice(good.start, late.stop if in_doubt else good.stop)
        survived = _log_survived(s, candidates, mass, at_entry, at.spent)
        come = np.concatenate([np.zeros((n, 1)), survived], axis=1)  # -log of having come so far
        last = come.shape[1] - 1
        count = good.stop - good.start
        through = mass * np.exp(-s.at_nodes(s.hazard(candidates, at.good) - at_entry))
        if ending == CENSORED:
            expected[:, pieces] = np.diff(come, axis=1)
            mass = _normalised(through)
            continue
        if in_doubt:
            beyond = mass * np.exp(-s.at_nodes(s.hazard(candidates, at.end) - at_entry))
            by_wear, otherwise = np.maximum(through - beyond, LEAST), beyond
        else:
            exact = s.log_hazard(candidates, rows, unstated)
            exact = exact - (0.0 if unstated else exact.max(axis=(1, 2), keepdims=True))
            by_wear, otherwise = through * np.exp(exact), through
        chance = np.ones(n)
        if unstated:
            wear, other = s.wear_share * by_wear.sum(axis=(1, 2)), (1.0 - s.wear_share) * otherwise.sum(axis=(1, 2))
            chance = wear / np.maximum(wear + other, LEAST)
        is_worn = rng.random(n) < chance
        luck = rng.random(n)
        mass = _normalised(np.where(is_worn[:, None, None], by_wear, otherwise))
        if last == 0:  # nothing of it was seen to wear
            continue
        # Where within the interval: the chance of each moment is what was expected of it, of a life that had come so far.
        first, final = come[:, count], come[:, last]
        worn_at = np.where(in_doubt, first - np.log1p(luck * np.expm1(first - final)), final) if in_doubt else final
        worn_at = np.where(is_worn, worn_at, final)
        reached = np.minimum(come, worn_at[:, None])
        expected[:, pieces] = np.diff(reached, axis=1)
        piece = np.minimum((come[:, 1:] < worn_at[:, None]).sum(axis=1), last - 1) if in_doubt else np.full(n, last - 1)
        worn[np.flatnonzero(is_worn), pieces.start + piece[is_worn]] = True


@dataclass(frozen=True)
class WearAtPoints:
    """Wear spent by an episode, arrays of shape (draw, candidate)."""

    entry: Array
    good: Array  # by the last good day
    end: Array
    spent: Array  # (draw, candidate, piece) by the end of each piece


def wear_at_points(s: LawDraws, courses: Courses, episode: Episode, in_doubt: bool) -> WearAtPoints:
    """Wear spent by an episode: by the end of each piece up to the last good day, and where its end is `in_doubt` of those after it too."""
    rows, good, late = episode
    entry, last_good, end = (np.asarray(at)[:, rows] for at in (s.clock.entry, s.clock.good, s.clock.end))
    spent = entry[..., None] + (last_good - entry)[..., None] * courses.share[good]
    if in_doubt:
        spent = np.concatenate([spent, last_good[..., None] + (end - last_good)[..., None] * courses.share[late]], axis=-1)
    return WearAtPoints(entry, last_good, end, spent)


def _log_survived(s: LawDraws, candidates: Array, mass: Array, at_entry: Array, spent: Array) -> Array:
    """-log of the chance to have come from the entry to so much wear, shape (draw, piece); `spent` (draw, candidate, piece)."""
    out = np.zeros((spent.shape[0], spent.shape[2]))
    for piece in range(spent.shape[2]):
        rise = s.at_nodes(s.hazard(candidates, spent[..., piece]) - at_entry)
        out[:, piece] = -np.log(np.maximum((mass * np.exp(-rise)).sum(axis=(1, 2)), LEAST))
    return np.maximum.accumulate(out, axis=1)


def _normalised(mass: Array) -> Array:
    total = mass.sum(axis=(1, 2), keepdims=True)
    return np.asarray(np.where(total > LEAST, mass / np.maximum(total, LEAST), 1.0 / (mass.shape[1] * mass.shape[2])))
