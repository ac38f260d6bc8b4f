"""Compile the model once, sample it on any history of its layout.

By trajectories of one length (`tuning`, `trajectories`), or by a package's no-U-turn sampler, which is slower and serves where those
do not.
"""

import time
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, Final

import numpy as np
from scipy.special import expit

from wearfit.law import WEIBULL
from wearfit.model.axes import axes_of
from wearfit.model.data import ModelData, check_bounds
from wearfit.model.graph import build_graph, law_data
from wearfit.model.information import SCALES, information
from wearfit.model.layout import Layout
from wearfit.model.native import Coordinates, log_density, native_model, with_history
from wearfit.model.scale_coordinates import of_coordinate
from wearfit.model.start import start_and_width, start_of_chain
from wearfit.model.trajectories import Progress, Tuned, walk
from wearfit.model.trajectory import STAGES
from wearfit.model.trees import trees
from wearfit.model.tuning import tune as tune_trajectories
from wearfit.processors import at_once

Array = np.ndarray

CHAINS: Final = 4
TUNE: Final = 60
TUNE_OF_TREES: Final = 200
DRAWS: Final = 350
MORE_DRAWS: Final = 50
# Of trees, one after the other where chains diverged: with few wear-outs a life's survival is a cliff that wants smaller steps.
CAREFUL: Final = (0.95, 0.98)
VARIABLES: Final = ("z", "share", "w", "slot", "read")


@dataclass(frozen=True)
class Compiled:
    """A compiled model, good for any data of its layout: of the Weibull law, or of all the others."""

    layout: Layout
    model: Any
    seconds: float
    weibull: bool = True

    def serves(self, layout: Layout, wear_law: int) -> bool:
        """Whether it is good for a layout and a law."""
        return self.layout == layout and self.weibull == (wear_law == WEIBULL)

    def on(self, data: ModelData, wear_law: int = WEIBULL) -> Any:
        """The model on a history of its layout, as `nutpie.sample` takes it."""
        return with_history(self.model, data.as_dict() | law_data(wear_law), partial(start_of_chain, data))

    def laid(self, data: ModelData, wear_law: int = WEIBULL) -> ModelData:
        """A history, as `prepare` leaves it, with the sampler's coordinates laid along what it tells.

        Raises
        ------
        ValueError
            Where it does not fit the layout.
        """
        check_bounds(data, self.layout)
        told = information(log_density(self.on(data, wear_law)), data, self.layout)
        return replace(data, **vars(axes_of(told, data, self.layout)))


@dataclass(frozen=True)
class Chains:
    """What the sampler gave: coordinates (chain, draw, dimension) and statistics (chain, draw)."""

    coordinates: dict[str, Array]
    diverging: Array
    energy: Array
    steps: Array
    seconds: float
    tune: int  # draws before, of each chain
    tuned: Tuned | None = None  # where trajectories go on from; trees do not


def compile_model(data: ModelData, layout: Layout, wear_law: int = WEIBULL) -> Compiled:
    """Compile the graph for a layout; `data` may be any history of it, `wear_law` a place in `law.LAWS`."""
    start = time.perf_counter()
    of_law = "weibull" if wear_law == WEIBULL else "others"
    model = native_model(layout, of_law, data.as_dict() | law_data(wear_law), lambda: build_graph(data, layout, wear_law).model)
    return Compiled(layout, model, time.perf_counter() - start, wear_law == WEIBULL)


def sample(
    compiled: Compiled,
    data: ModelData,
    seed: int,
    draws: int = DRAWS,
    tune: int = TUNE,
    cores: int | None = None,
    progress: Progress | None = None,
    wear_law: int = WEIBULL,
    after: Chains | None = None,
) -> Chains:
    """Sample the posterior of a history by trajectories of one length.

    Parameters
    ----------
    compiled : Compiled
        Of the layout that `data` was prepared for.
    draws, tune : int
        For each chain, those of `after` counted. The same seed and `tune` with more draws goes on where fewer had ended.
    progress : callable, optional
        Called every so often with the share done, in 0..1; what it raises ends the sampling.
    wear_law : int
        Place in `law.LAWS`.
    after : Chains, optional
        Fewer draws of the same history, law, seed and `tune`, to go on from.

    Raises
    ------
    ValueError
        Where the data do not fit the layout: the compiled model would corrupt memory. Where it was compiled for another law.
    """
    begun, model, tell = time.perf_counter(), _checked(compiled, data, wear_law), progress or _nobody
    density, tuned, total = log_density(model), after.tuned if after else None, tune + draws
    if tuned is None:
        seeds = [int(one) for one in np.random.SeedSequence(seed).generate_state(CHAINS)]
        starts, widths = np.stack(at_once(partial(start_and_width, data, density), seeds), axis=1)
        tuned = tune_trajectories(
            density, starts, np.median(widths, axis=0), tune, seed, cores, lambda share: tell(share * tune / total), signless=SCALES
        )
    before = tuned.walked / total
    walked = walk(density, tuned, total - tuned.walked, seed, cores, lambda share: tell(before + (1.0 - before) * share))
    tell(1.0)
    new = Chains(
        coordinates=_by_name(walked.at, data, compiled.layout),
        diverging=walked.diverging,
        energy=walked.energy,
        steps=np.full(walked.energy.shape, STAGES * tuned.steps),
        seconds=time.perf_counter() - begun,
        tune=tune,
        tuned=walked.tuned,
    )
    return new if after is None else _joined(after, new)


def sample_by_trees(
    compiled: Compiled,
    data: ModelData,
    seed: int,
    draws: int = DRAWS,
    tune: int = TUNE_OF_TREES,
    target_accept: float = CAREFUL[0],
    cores: int | None = None,
    progress: Progress | None = None,
    wear_law: int = WEIBULL,
) -> Chains:
    """Sample the posterior of a history by the no-U-turn sampler, arguments as for `sample`.

    Parameters
    ----------
    target_accept : float
        Acceptance that the size of steps is tuned to, in (0, 1).
    """
    start, tell = time.perf_counter(), progress or _nobody
    trace = trees(_checked(compiled, data, wear_law), CHAINS, seed, draws, tune, target_accept, cores, tell)
    tell(1.0)
    stats = trace["sample_stats"]
    return Chains(
        coordinates={name: np.asarray(trace["posterior"][name].values) for name in VARIABLES},
        diverging=np.asarray(stats["diverging"].values),
        energy=np.asarray(stats["energy"].values),
        steps=np.asarray(stats["n_steps"].values),
        seconds=time.perf_counter() - start,
        tune=tune,
    )


def _checked(compiled: Compiled, data: ModelData, wear_law: int) -> Any:
    check_bounds(data, compiled.layout)
    if not compiled.serves(compiled.layout, wear_law):
        raise ValueError("the model was compiled for another law")
    return compiled.on(data, wear_law)


def _nobody(share: float) -> None:
    """Nobody is told."""


def _by_name(at: Array, data: ModelData, layout: Layout) -> dict[str, Array]:
    """Coordinates by their names, and the shares and scales that some stand for."""
    coordinates = Coordinates.of(layout)
    parts = dict(zip(coordinates.names, np.split(at, np.cumsum(coordinates.sizes)[:-1], axis=-1), strict=True))
    parts |= {"share": expit(parts["share_logodds__"]), "w": of_coordinate(parts["w_by_logarithm"], data.log_from)}
    return {name: parts[name] for name in VARIABLES}


def _joined(first: Chains, then: Chains) -> Chains:
    def both(one: Array, other: Array) -> Array:
        return np.concatenate([one, other], axis=1)

    return Chains(
        coordinates={name: both(first.coordinates[name], then.coordinates[name]) for name in VARIABLES},
        diverging=both(first.diverging, then.diverging),
        energy=both(first.energy, then.energy),
        steps=both(first.steps, then.steps),
        seconds=first.seconds + then.seconds,
        tune=then.tune,
        tuned=then.tuned,
    )
