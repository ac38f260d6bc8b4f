"""Compile the model once, sample it on any history of its layout."""

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, Final

import numpy as np
import nutpie

from wearfit.law import WEIBULL
from wearfit.model.axes import axes_of
from wearfit.model.data import ModelData, check_bounds
from wearfit.model.graph import build_graph, law_data
from wearfit.model.information import information
from wearfit.model.layout import Layout
from wearfit.model.native import log_density, native_model, with_history
from wearfit.model.start import start_of_chain

Array = np.ndarray

CHAINS: Final = 4
TUNE: Final = 100
DRAWS: Final = 500
MANY_ROWS: Final = 2_000  # of a history whose parameters mix half as well, so that most would not pass at once by as few draws
DRAWS_OF_MANY: Final = 700
TARGET_ACCEPT: Final = (
    0.8,
    0.95,
    0.98,
)  # the first serves most histories; with few wear-outs a life's survival is a cliff that wants smaller steps
TELL_EVERY_SECONDS: Final = 0.2
VARIABLES: Final = ("z", "share", "w", "slot", "read")

Progress = Callable[[float], None]  # takes the share of the draws that is done


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
        return with_history(self.model, data.as_dict() | law_data(wear_law), partial(start_of_chain, data.start))

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


def compile_model(data: ModelData, layout: Layout, wear_law: int = WEIBULL) -> Compiled:
    """Compile the graph for a layout; `data` may be any history of it, `wear_law` a place in `law.LAWS`."""
    start = time.perf_counter()
    of_law = "weibull" if wear_law == WEIBULL else "others"
    model = native_model(layout, of_law, data.as_dict() | law_data(wear_law), lambda: build_graph(data, layout, wear_law).model)
    return Compiled(layout, model, time.perf_counter() - start, wear_law == WEIBULL)


def first_draws(data: ModelData) -> int:
    """Draws of each chain by which a history is likely to pass the gate at once."""
    return DRAWS if len(data.row) <= MANY_ROWS else DRAWS_OF_MANY


def sample(
    compiled: Compiled,
    data: ModelData,
    seed: int,
    draws: int = DRAWS,
    tune: int = TUNE,
    target_accept: float = TARGET_ACCEPT[0],
    cores: int | None = None,
    progress: Progress | None = None,
    wear_law: int = WEIBULL,
) -> Chains:
    """Sample the posterior of a history.

    Parameters
    ----------
    compiled : Compiled
        Of the layout that `data` was prepared for.
    draws, tune : int
        For each chain. The same seed, `tune` and `target_accept` with more draws goes on where fewer had ended.
    target_accept : float
        Acceptance that the step size is tuned to, in (0, 1).
    progress : callable, optional
        Called every so often with the share done, in 0..1; what it raises ends the sampling.
    wear_law : int
        Place in `law.LAWS`.

    Raises
    ------
    ValueError
        Where the data do not fit the layout: the compiled model would corrupt memory. Where it was compiled for another law.
    """
    check_bounds(data, compiled.layout)
    if not compiled.serves(compiled.layout, wear_law):
        raise ValueError("the model was compiled for another law")
    start = time.perf_counter()
    total = CHAINS * (draws + tune)

    done = [0.0]

    def finished(chains: list[Any]) -> None:
        done[0] = min(1.0, sum(c.finished_draws for c in chains) / total)

    sampling = nutpie.sample(
        compiled.on(data, wear_law),
        draws=draws,
        tune=tune,
        chains=CHAINS,
        cores=cores,
        target_accept=target_accept,
        seed=seed,
        save_warmup=False,
        progress_bar=False,
        progress_callback=finished,
        progress_rate=int(1000 * TELL_EVERY_SECONDS),
        blocking=False,
    )
    try:
        while True:
            try:
                trace = sampling.wait(timeout=TELL_EVERY_SECONDS)
                break
            except TimeoutError:
                if progress is not None:
                    progress(done[0])
    except BaseException:
        sampling.cancel()
        raise
    if progress is not None:
        progress(1.0)
    stats = trace["sample_stats"]
    return Chains(
        coordinates={name: np.asarray(trace["posterior"][name].values) for name in VARIABLES},
        diverging=np.asarray(stats["diverging"].values),
        energy=np.asarray(stats["energy"].values),
        steps=np.asarray(stats["n_steps"].values),
        seconds=time.perf_counter() - start,
    )
