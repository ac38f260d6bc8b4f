"""Draws by trajectories of one length: Hamiltonian Monte Carlo (Duane et al. 1987; Neal 2011, Handbook of MCMC, ch. 5).

On a normal of width one a trajectory of length t leaves cos t of where it began, and cos^2 t of how far from the middle that was. One
that goes on until it turns back has t near pi: it tells the middle well and the width badly; and a tree, which grows both ways, takes
about twice the steps that lead from a draw to the next. Here the coordinates are laid along what a history tells, and all about as wide,
so that one length serves all: a little more than a quarter of a turn, in steps whose size differs each time, for else what is nearly
periodic would hardly move. A share k of a trajectory's momentum is kept for the next one (Horowitz 1991, Phys. Lett. B 268; Neal,
section 5.3): on a normal a mean then has (1 + k) / (1 - k) times as many effective draws, in directions that are wider than the others
too, and how far draws are from the middle hardly fewer. Where a history is not like that the gate tells, and trees find lengths of their
own (`sampler.sample_by_trees`).
"""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass, replace
from math import sqrt
from threading import Event
from typing import Final

import numpy as np

from wearfit.model.compiled_density import CompiledDensity
from wearfit.model.trajectory import STAGES, Point, trajectory
from wearfit.processors import processors

Array = np.ndarray

LENGTH: Final = 1.8  # of a trajectory, in widths, where its steps need not be shorter
KEPT: Final = 0.5  # of its momentum, for the next one
JITTER: Final = 0.2  # of the size of its steps, either way
MOST_OFF: Final = 1000.0  # [nat] of energy that is made or lost: a trajectory that is as far off diverges
TELL_EVERY_SECONDS: Final = 0.2

Progress = Callable[[float], None]  # takes the share that is done


@dataclass(frozen=True)
class Tuned:
    """Where chains stand, and which trajectories suit them."""

    at: Array  # (chain, coordinate)
    width: Array  # (coordinate,)
    steps: int  # of each trajectory
    length: float = LENGTH  # of it
    momentum: Array | None = None  # (chain, coordinate) with which they stand there; where they have walked nowhere yet, none
    walked: int = 0  # trajectories that led there
    gradients: int = 0  # that all chains asked for on the way


@dataclass(frozen=True)
class Walked:
    """Draws of all chains, and where these stand after them. Arrays of shape (chain, draw)."""

    at: Array  # (chain, draw, coordinate)
    slope: Array  # (chain, draw, coordinate) of the log-density there, where that was asked for; else of no draw
    energy: Array  # where each trajectory began
    likely: Array  # how likely the trajectory was to be taken
    diverging: Array
    tuned: Tuned


def walk(
    log_density: CompiledDensity,
    tuned: Tuned,
    draws: int,
    seed: int,
    cores: int | None = None,
    progress: Progress | None = None,
    *,
    slopes: bool = False,
) -> Walked:
    """Draws of every chain, one a trajectory.

    Parameters
    ----------
    tuned : Tuned
        Where to go on from. The same seed gives the same draws, at one go or at several, on however many cores.
    progress : callable, optional
        What it raises ends the chains.
    slopes : bool
        Whether to keep them: they take as much memory as the draws.
    """
    chains, size = tuned.at.shape
    at, slope = np.empty((chains, draws, size)), np.empty((chains, draws if slopes else 0, size))
    energy, likely, diverging = np.empty((chains, draws)), np.empty((chains, draws)), np.zeros((chains, draws), dtype=bool)
    momentum = np.empty((chains, size))
    ended, done = Event(), [0] * chains

    def chain(c: int) -> None:
        here = Point(tuned.at[c], *log_density(tuned.at[c]))
        going = None if tuned.momentum is None else tuned.momentum[c]
        for draw in range(draws):
            if ended.is_set():
                return
            rng = np.random.default_rng([seed, c, tuned.walked + draw])
            here, going, energy[c, draw], likely[c, draw], diverging[c, draw] = _drawn(log_density, here, going, tuned, rng)
            at[c, draw], momentum[c] = here.at, going
            if slopes:
                slope[c, draw] = here.slope
            done[c] += 1

    with ThreadPoolExecutor(cores or processors()) as threads:
        try:
            running = [threads.submit(chain, c) for c in range(chains)]
            while wait(running, TELL_EVERY_SECONDS).not_done:
                if progress is not None:
                    progress(sum(done) / (chains * draws))
        finally:
            ended.set()
    for of_chain in running:
        of_chain.result()
    asked = chains * (1 + draws * STAGES * tuned.steps)
    after = replace(tuned, at=at[:, -1], momentum=momentum, walked=tuned.walked + draws, gradients=tuned.gradients + asked)
    return Walked(at, slope, energy, likely, diverging, after)


def _drawn(
    log_density: CompiledDensity, here: Point, going: Array | None, tuned: Tuned, rng: np.random.Generator
) -> tuple[Point, Array, float, float, bool]:
    """Where a chain stands after one trajectory and with what momentum, its energy at first, how likely it was to be taken, if it diverged.

    One that is not taken turns the momentum round: only so are draws those of the density.
    """
    momentum = rng.standard_normal(len(here.at))
    if going is not None:
        momentum = KEPT * going + sqrt(1.0 - KEPT**2) * momentum
    step = tuned.length / tuned.steps * rng.uniform(1.0 - JITTER, 1.0 + JITTER)
    energy = _energy(here, momentum)
    there, arrived = trajectory(log_density, here, momentum, step * tuned.width, tuned.steps)
    off = _energy(there, arrived) - energy
    diverged = not off < MOST_OFF
    likely = 0.0 if diverged else float(np.exp(min(0.0, -off)))
    if rng.uniform() < likely:
        return there, arrived, energy, likely, diverged
    return here, -momentum, energy, likely, diverged


def _energy(here: Point, momentum: Array) -> float:
    return float(0.5 * (momentum @ momentum)) - here.value
