"""What a history tells of coefficients and effects: the curvature of its log-likelihood about a likely point.

By the compiled model's own gradient, so that readings, causes not stated, tools whose class is open and the spread of tools count as
they do in the posterior. The likelihood is taken for a quadratic there; nothing of the posterior hangs on it, only how the sampler's
coordinates lie.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from scipy.optimize import minimize

from wearfit.model.data import ModelData
from wearfit.model.layout import COEFFICIENTS, GROUPS, SHARES, Layout
from wearfit.processors import at_once

Array = np.ndarray
LogDensity = Callable[[Array], tuple[float, Array]]  # of the sampler's coordinates, in the order of `native.Coordinates`, and its gradient

# Of each group, over its half-normal prior's. Below that prior's median (.67): where groups and tools may differ that much, the likeliest
# point follows single lives, and the curvature there is no longer that of most of the posterior (on the demo it had a negative direction).
USUAL_SCALE: Final = 0.45
STEP: Final = 1e-4  # of a coordinate
PROBES: Final = 4
LEAST_CURVED: Final = 0.2  # of shares and capacities: a likelihood may bend the other way at a point
ASIDE: Final = 0.1  # of the likely point, in every coordinate some of it
NOTHING: Final = 1e-9  # of a slope
DECIMALS: Final = 5  # kept of curvatures, so that what differences round turns no axis of which nothing is told
# Of the search for a likely point: it ends where nothing is steeper than .01, in coordinates whose prior has a spread of one. With 25,000
# tools that would take far more turns than these, after which it lies five nat below the top, and draws lie some thousands below.
LIKELY: Final[Any] = {"maxiter": 200, "maxcor": 30, "ftol": 1e-12, "gtol": 1e-2}
SCALES: Final = len(SHARES) + np.arange(len(GROUPS))  # places of the groups' scales among all coordinates
BEYOND: Final = 1e10  # minus the log-density of a point at which it is no number


@dataclass(frozen=True)
class Information:
    """Minus the second derivatives of the log-likelihood about the likeliest point, and where that is.

    By the standard normal coordinates of `ModelData.root`, and by effects along the axes of `ModelData.contrast`, of a mirrored
    group of `ModelData.mirror`; all else is at its likeliest given those.
    """

    z: Array  # (z, z)
    between: Array  # (z, scaled slot)
    turned: Array  # (turned slot, turned slot)
    mirrored: Array  # (mirrored slot,) no life tells of two
    effect: Array  # (scaled slot,) the likeliest where all groups have their `usual_scales`
    likely_z: Array  # (z,)
    share: Array  # (2, share) the likeliest log odds, and minus the second derivatives of the log-density by them
    read: Array  # (2, read) the same of coordinates of capacities


@dataclass(frozen=True)
class _Places:
    """Which coordinates are which: places among all of them."""

    z: Array
    turned: Array
    mirrored: Array
    shares: Array
    read: Array

    @classmethod
    def of(cls, layout: Layout) -> "_Places":
        first = len(SHARES) + len(GROUPS)
        z = first + layout.scaled + np.arange(len(COEFFICIENTS) + layout.unscaled)
        return cls(
            z,
            first + layout.turned,
            first + np.arange(layout.mirrored.start, layout.mirrored.stop),
            np.arange(len(SHARES)),
            z[-1] + 1 + np.arange(layout.reads),
        )


def information(log_density: LogDensity, d: ModelData, layout: Layout) -> Information:
    """What the history of a log-density tells.

    Parameters
    ----------
    log_density : callable
        On `d`; called from several threads at once.
    d : ModelData
        As `prepare` leaves it, with coordinates along the prior's own axes.

    Notes
    -----
    Second derivatives are differences of gradients: a pair of gradients for each coordinate that anything is told of, but those of
    mirrored effects and capacities. Those have a diagonal, found by moving all of them at once by random signs. All of it about the
    likeliest point where scales are the usual ones, sought from the middle of where chains would start.
    """
    usual = _with(d.start[0], SCALES, d.start[1, SCALES])
    at, places = likeliest(log_density, usual, np.delete(np.arange(len(usual)), SCALES), LIKELY), _Places.of(layout)
    few = np.concatenate([places.z, places.turned, places.shares])
    columns, told = np.zeros((len(at), len(few))), _is_told(log_density, at)[few]
    columns[few, np.arange(len(few))] = 1.0
    columns[:, told] = np.stack(at_once(lambda place: bend(log_density, at, unit(len(at), place)), list(few[told])), axis=1)
    z, t, shares = np.split(np.arange(len(few)), np.cumsum([len(places.z), len(places.turned)]))

    curved = 0.5 * (columns[few] + columns[few].T)
    of_shares, of_reads = np.diag(curved)[shares], np.maximum(_diagonal(log_density, at, places.read), LEAST_CURVED)
    by_read = columns[places.read] / of_reads[:, None]
    curved -= columns[places.read].T @ by_read
    curved -= curved[:, shares] @ _inverse(curved[np.ix_(shares, shares)]) @ curved[shares]

    # Coordinates of effects are effects over the usual scale. Each coordinate has a standard normal prior, which is no part of it.
    scale = usual_scales(d, layout)
    by_scale = np.divide(1.0, scale, out=np.zeros_like(scale), where=scale > 0.0)
    between = np.zeros((len(z), layout.scaled))
    between[:, layout.turned], between[:, layout.mirrored] = curved[np.ix_(z, t)], columns[places.mirrored][:, z].T
    by_turned = by_scale[layout.turned]
    return Information(
        z=np.round(curved[np.ix_(z, z)] - np.eye(len(z)), DECIMALS),
        between=np.round(between * by_scale, DECIMALS),
        turned=np.round((curved[np.ix_(t, t)] - np.eye(len(t))) * np.outer(by_turned, by_turned), DECIMALS),
        mirrored=np.round((_diagonal(log_density, at, places.mirrored) - 1.0) * by_scale[layout.mirrored] ** 2, DECIMALS),
        effect=np.round(scale * at[len(SHARES) + len(GROUPS) :][: layout.scaled], DECIMALS),
        likely_z=np.round(at[places.z], DECIMALS),
        share=np.round([at[places.shares], np.maximum(of_shares, LEAST_CURVED)], DECIMALS),
        read=np.round([at[places.read], of_reads], DECIMALS),
    )


def usual_scales(d: ModelData, layout: Layout) -> Array:
    """Usual scale of the group of each effect, 0 where it is switched off, shape (scaled slot,)."""
    return np.asarray((USUAL_SCALE * d.group_prior[0] * d.group_prior[1])[layout.group_of_slot()])


def likeliest(
    log_density: LogDensity, at: Array, places: Array, options: Any, bounds: Sequence[tuple[float, float]] | None = None
) -> Array:
    """A point at which some coordinates are the likeliest, the others staying where they are."""

    def badness(some: Array) -> tuple[float, Array]:
        value, slope = log_density(_with(at, places, some))
        return (-value, -slope[places]) if np.isfinite(value) else (BEYOND, np.zeros(len(places)))

    return _with(at, places, minimize(badness, at[places], jac=True, method="L-BFGS-B", bounds=bounds, options=options).x)


def _with(at: Array, places: Array, values: Array) -> Array:
    out = at.copy()
    out[places] = values
    return out


def unit(size: int, place: int) -> Array:
    """The direction of one coordinate."""
    return _with(np.zeros(size), np.array([place]), np.ones(1))


def _is_told(log_density: LogDensity, at: Array) -> Array:
    """Whether the history tells of each coordinate: aside of a point the slope is not the prior's alone, shape (coordinate,)."""
    aside = at + ASIDE * np.random.default_rng(len(at)).standard_normal(len(at))
    return np.asarray(~(np.abs(log_density(aside)[1] + aside) < NOTHING))


def bend(log_density: LogDensity, at: Array, along: Array) -> Array:
    """Minus the second derivatives of the log-density along a direction by every coordinate, shape (coordinate,).

    None where it is no number: what cannot be reckoned tells nothing, and the sampler may well find its way from elsewhere.
    """
    ahead, behind = (log_density(at + sign * STEP * along)[1] for sign in (1, -1))
    return np.nan_to_num((behind - ahead) / (2.0 * STEP), nan=0.0)


def _diagonal(log_density: LogDensity, at: Array, places: Array) -> Array:
    """Minus the second derivatives by each of some coordinates between which there are next to none, shape (place,)."""
    signs = np.random.default_rng(len(places)).choice([-1.0, 1.0], (PROBES, len(places)))
    bends = at_once(lambda some: some * bend(log_density, at, _with(np.zeros_like(at), places, some))[places], list(signs))
    return np.asarray(np.mean(bends, axis=0))


def _inverse(curved: Array) -> Array:
    size, axes = np.linalg.eigh(curved)
    return np.asarray((axes / np.maximum(size, LEAST_CURVED)) @ axes.T)
