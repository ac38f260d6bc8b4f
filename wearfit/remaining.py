"""What is left of a life, given what its readings say: the one integral over a life's remaining hazard.

A life that has spent D and come through has a capacity C with H(C) = H(D) + E and E ~ Exp(1). Readings tell of C, so E has the
density e^-E L(E), L the likelihood of the readings (`growth`). It is held on nodes of q, log(C / D) = log(1 + e^q), where it
dies away at both ends and the trapezium's rule with even steps is all but exact (Trefethen & Weideman 2014, SIAM Review 56).
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields
from functools import cached_property, lru_cache
from typing import Final

import numpy as np

from wearfit import law
from wearfit.even_nodes import Densities
from wearfit.growth import Growth, Readings
from wearfit.growth_integral import log_marginal

Array = np.ndarray

NODES: Final = 17  # of log(C / D), between which the log-likelihood is a polynomial
NEAREST: Final = 6  # nodes that it goes through: at what is asked of readings it errs by half of what a cubic through four does
FINE: Final = 61  # of q, over which the density is summed; between them the mass below is taken as a cubic
BLOCK: Final = 500  # draws: their arrays stay near the processor, and no library finds their products worth threads of its own
SCOUTS: Final = 24  # draws that find where the mass lies
SCOUTED: Final = np.arange(-12.0, 14.1, 0.5)
SOONER: Final = 1e-5  # share of the mass left out where lives end soonest, of which small chances are made
LATER: Final = 1e-4  # .. and where they end last: the nodes lie closer where the rest is
LEAST: Final = 1e-300
LEAST_MORE: Final = 1e-37  # wear over that now, before which no life ends; a number in single precision too
DEEPEST: Final = 30.0  # [nat]
UNPACKED: Final = np.asarray(-DEEPEST * (np.arange(256) / 255.0) ** 2, dtype=np.float32)  # by what is stored
STEEPEST: Final = {4: 75.0, 8: 600.0}  # log of a rise of the hazard, by the bytes of a number, whose exponential still is one
FURTHEST: Final = 600.0  # log of a wear over that now, whose exponential is still a number


@dataclass(frozen=True)
class Track:
    """Readings of one feature in a life, and the parameters of its growth.

    `log_share` is log(D_i / D) of the wear at each reading over the wear now, (draw, reading); the parameters are (draw,).
    """

    readings: Readings
    log_share: Array
    law: Growth

    def thinned(self, keep: Array) -> "Track":
        """With some of the draws."""
        return Track(self.readings, self.log_share[keep], Growth(**{f.name: getattr(self.law, f.name)[keep] for f in fields(Growth)}))

    def log_likelihood(self, log_left: Array) -> Array:
        """Of the readings, where log(C / D) is `log_left`, shapes (draw, node)."""
        columns = Growth(**{f.name: getattr(self.law, f.name)[:, None] for f in fields(Growth)})
        return log_marginal(self.readings, self.log_share.T[:, :, None] - log_left, columns)


Likelihood = Callable[[Array, int, Sequence[Track]], Array]  # of tracks at log(C / D), shape (draw, node)


@dataclass(frozen=True)
class Remaining:
    """What readings tell of what is left of one life."""

    hazard: Array  # (draw,) cumulative hazard now
    shape: law.Shape  # (draw,)
    q_low: float  # all but next to no mass lies between the two
    q_high: float
    log_likelihood: Array  # (draw, node) of the readings, at nodes of log(C / D) evenly spaced between those of q_low and q_high
    level: Array  # (draw,) `law.level` now

    @cached_property
    def _summed(self) -> tuple[Array, Densities]:
        """Log of the greatest density of q, shape (draw,), and the densities over it, in the precision of `log_likelihood`."""
        draws = len(self.log_likelihood)
        top, density = np.empty(draws), np.empty((FINE, draws), self.log_likelihood.dtype)
        for part, log_density, less in self._log_densities():
            greatest = log_density.max(axis=0)
            np.subtract(log_density, greatest, out=log_density)
            top[part] = greatest + less
            np.exp(log_density, out=density[:, part])
        return top, Densities.of(self.q_low, self.q_high, density)

    def _log_densities(self) -> Iterator[tuple[slice, Array, Array | float]]:
        """Draws by blocks, the log-densities of q at the fine nodes, shape (node, draw), but for a number of each draw, and that number."""
        told, q = self.log_likelihood, np.linspace(self.q_low, self.q_high, FINE)
        between = between_nodes(self.q_low, self.q_high, told.shape[1], FINE).astype(told.dtype, copy=False)
        blocks = [slice(start, start + BLOCK) for start in range(0, len(told), BLOCK)]
        if not law.is_weibull(self.shape):
            for part in blocks:
                prior = log_prior(q, self.hazard[part], self.shape[part], self.level[part]).T.astype(told.dtype)
                yield part, prior + between @ told[part].T, 0.0
            return
        # By this law all is sums of products of a node's and a draw's, but the exponential of one: products of matrices.
        log_left, k, hazard = np.logaddexp(0.0, q), law.k_of(self.shape), np.maximum(self.hazard, LEAST)
        log_hazard = np.log(hazard)
        of_node = np.column_stack([between, -np.logaddexp(0.0, -q), log_left]).astype(told.dtype, copy=False)
        of_draw = np.vstack([told.T, np.ones_like(k), k]).astype(told.dtype, copy=False)
        rise_of_node = np.stack([log_left, np.ones_like(q)], axis=1).astype(told.dtype)
        rise_of_draw = np.stack([k, log_hazard]).astype(told.dtype)
        less, steepest = np.log(k) + log_hazard + hazard, STEEPEST[told.dtype.itemsize]
        steep = float(k.max() * log_left[-1] + log_hazard.max()) > steepest
        for part in blocks:
            rise = rise_of_node @ rise_of_draw[:, part]
            if steep:
                np.minimum(rise, steepest, out=rise)
            np.exp(rise, out=rise)  # and not `expm1`, which takes far longer: what is lost is rounding of the hazard now
            log_density = of_node @ of_draw[:, part]
            log_density -= rise
            yield part, log_density, less[part]

    @property
    def of_q(self) -> Densities:
        """The densities of q = log(C / D - 1), but for a factor of each draw's own."""
        return self._summed[1]

    def log_mass(self) -> Array:
        """Log-likelihood of the readings, the life's capacity integrated out, shape (draw,)."""
        top, densities = self._summed
        return np.asarray(top + np.log(densities.whole.astype(float) * densities.step), dtype=float)

    @property
    def log_share(self) -> Array:
        """Log of the wear now over the characteristic life, shape (draw,)."""
        return np.asarray(self.level / law.k_of(self.shape))

    def share_within(self, rise: Array) -> Array:
        """Probability that the life ends before its cumulative hazard has risen by `rise`, shape (draw,)."""
        log_left = law.log_longer_at(np.maximum(self.hazard, LEAST), self.level, np.maximum(rise, 0.0), self.shape)
        return share_by(self.of_q, np.expm1(np.minimum(log_left, FURTHEST)))

    def rise_at(self, probability: Array) -> Array:
        """Rise of the cumulative hazard within which the life ends with this probability, shape (draw,)."""
        log_left = np.logaddexp(0.0, self.of_q.number_at(probability))
        return np.asarray(law.rise_beyond(self.hazard, self.level, log_left, self.shape))


def share_by(of_q: Densities, more: Array) -> Array:
    """Probability that lives end before their wear has grown by `more` times that now, by `Remaining.of_q`; shape (draw,)."""
    if not (more > 0.0).any():
        return np.zeros(len(more))
    return of_q.share_below(np.log(np.maximum(more, LEAST_MORE)))


def left_nodes(q_low: float, q_high: float, nodes: int = NODES) -> Array:
    """log(C / D) at the nodes, shape (node,)."""
    low, high = np.logaddexp(0.0, np.array([q_low, q_high]))
    return np.linspace(low, high, nodes)


@lru_cache(maxsize=512)
def between_nodes(q_low: float, q_high: float, nodes: int, fine: int) -> Array:
    """Weights that take values at the nodes to the fine ones of q, by polynomials through the nearest, shape (fine node, node)."""
    at = left_nodes(q_low, q_high, nodes)
    place = (np.logaddexp(0.0, np.linspace(q_low, q_high, fine)) - at[0]) / (at[1] - at[0])
    first = np.clip(np.floor(place).astype(np.int64) - (NEAREST // 2 - 1), 0, nodes - NEAREST)
    weights = np.zeros((fine, nodes))
    for i in range(NEAREST):
        weights[np.arange(fine), first + i] = np.prod([(place - first - j) / (i - j) for j in range(NEAREST) if j != i], axis=0)
    return weights


def remaining(
    spent: Array,
    log_life: Array,
    shape: law.Shape,
    tracks: Sequence[Track],
    likelihood: Likelihood | None = None,
    until: Array | None = None,
    nodes: int = NODES,
) -> Remaining:
    """What is left of one life that has come through so far.

    Parameters
    ----------
    spent, log_life, shape : (draw,)
        Wear spent, above zero; log characteristic life; the law's shape.
    tracks : sequence of Track
        One a feature; none leaves E ~ Exp(1).
    likelihood : callable, optional
        Gives what `log_likelihood` gives, faster.
    until : (draw,), optional
        Wear by which the life is known to have ended: what lies beyond is left out, so that the nodes lie where they count.
    nodes : int
        How many, `NEAREST` at least.
    """
    of = likelihood or log_likelihood
    q_low, q_high = reach(spent, log_life, shape, tracks, of, until)
    hazard, level = np.asarray(law.cumulative_hazard(spent, log_life, shape)), np.asarray(law.level(spent, log_life, shape))
    return Remaining(hazard, shape, q_low, q_high, of(left_nodes(q_low, q_high, nodes), len(hazard), tracks), level)


def reach(
    spent: Array, log_life: Array, shape: law.Shape, tracks: Sequence[Track], likelihood: Likelihood, until: Array | None
) -> tuple[float, float]:
    """q between which all but next to no mass lies; arguments as for `remaining`."""
    keep = np.unique(np.linspace(0, len(spent) - 1, min(SCOUTS, len(spent))).astype(np.int64))
    of_scouts = spent[keep], log_life[keep], shape[keep]
    hazard, level = (np.asarray(of(*of_scouts)) for of in (law.cumulative_hazard, law.level))
    told = likelihood(np.logaddexp(0.0, SCOUTED), len(keep), [t.thinned(keep) for t in tracks])
    scouted = log_prior(SCOUTED, hazard, shape[keep], level) + told
    if until is not None:
        furthest = float(np.log(np.maximum(np.max(until / spent) - 1.0, LEAST)))
        scouted[:, furthest + SCOUTED[1] - SCOUTED[0] < SCOUTED] = -np.inf
    mass = np.exp(scouted - scouted.max(axis=-1, keepdims=True))
    reached = np.cumsum((mass / mass.sum(axis=-1, keepdims=True)).mean(axis=0))
    low = max(int(np.searchsorted(reached, SOONER)) - 1, 0)
    high = min(int(np.searchsorted(reached, 1.0 - LATER)) + 1, len(SCOUTED) - 1)
    q_low, q_high = float(SCOUTED[low]), float(SCOUTED[high])
    if until is not None:
        q_high = max(min(q_high, furthest), q_low + 1.0)
    return q_low, q_high


def packed(log_likelihood: Array) -> Array:
    """Log-likelihoods as bytes, finest near each draw's greatest, which is lost; 30 nats below it all are alike."""
    below = np.minimum(log_likelihood.max(axis=-1, keepdims=True) - log_likelihood, DEEPEST)
    return np.asarray(np.round(255.0 * np.sqrt(below / DEEPEST)), dtype=np.uint8)


def unpacked(stored: Array) -> Array:
    """Log-likelihoods, up to a constant for each draw, from what `packed` made of them; in single precision, which keeps more digits."""
    return UNPACKED.take(stored)


def log_prior(q: Array, hazard: Array, shape: law.Shape, level: Array) -> Array:
    """Log of e^-E dE/dq, shape (draw, node); `hazard`, `shape` and `level` (draw,)."""
    log_left, of, at = np.logaddexp(0.0, q), shape[:, None], level[:, None]
    if not law.is_weibull(shape):
        rise = law.rise_beyond(hazard[:, None], at, log_left, of)
        return np.asarray(law.log_rise_beyond(at, log_left, of) - np.logaddexp(0.0, -q) - rise)
    k, h = law.k_of(of), np.maximum(hazard, LEAST)[:, None]
    out = k * log_left + (np.log(k * h) + h) - np.logaddexp(0.0, -q)
    return np.asarray(out - h * np.exp(np.minimum(k * log_left, STEEPEST[8])))


def log_likelihood(log_left: Array, draws: int, tracks: Sequence[Track]) -> Array:
    """Log-likelihood of all readings of a life where log(C / D) is `log_left`, shape (draw, node)."""
    total = np.zeros((draws, len(log_left)))
    for track in tracks:
        total += track.log_likelihood(log_left)
    return total
