"""A calibration: its parts, and what it is of."""

from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any, ClassVar, Final

import numpy as np

from wearfit import law
from wearfit.calibration.tables import (
    DesignTable,
    Draws,
    FeaturePopulation,
    Levels,
    LiveTable,
    NotedTable,
    PlantTable,
    PriorDraws,
    ReadingTable,
    ReadTable,
    ResinTable,
    TrailTable,
)

Array = np.ndarray

FORMAT_VERSION: Final = 5
READ_FORMATS: Final = (4, FORMAT_VERSION)  # 4 has live tools' draws as numbers
STACKED: Final = "stacked"  # draws of several laws, each as many as its weight
MODEL_VERSION: Final = "6"  # raised with every change that moves a posterior


@dataclass(frozen=True)
class Identity:
    """What a calibration is of, and how it came about."""

    as_of: str  # ISO date
    fingerprint: str  # of the records it rests on
    seed: int
    lives: int
    wear_outs: int
    log_band: tuple[float, ...]  # mu of the service classes
    lead_time_weeks: float
    lead_time_log_sd: float
    noted_power: float  # of the share of life used, to which the rate of defects by wear is in proportion
    diagnostics: dict[str, Any]
    priors: str  # text of the priors file
    wear_law: str = law.LAWS[law.WEIBULL]  # one of `law.LAWS`, or STACKED
    law_chosen: str = ""  # why this law, in a sentence; "" where nobody chose
    format_version: int = FORMAT_VERSION
    model_version: str = MODEL_VERSION


@dataclass(frozen=True)
class Calibration:
    """A posterior with all that an answer needs."""

    identity: Identity
    levels: Levels
    draws: Draws
    prior: PriorDraws
    plants: PlantTable
    resins: ResinTable
    designs: DesignTable
    live: LiveTable
    reads: ReadTable
    readings: ReadingTable
    noted: NotedTable
    features: FeaturePopulation
    trail: TrailTable

    precision: ClassVar[np.dtype[Any]] = np.dtype(np.float64)  # in which is reckoned draw by draw

    def as_drawn(self) -> "Calibration":
        """The same in the precision of its draws, which is single of those in a file: for answers of many tools, in half the time."""
        if self.draws.precision != _Singly.precision:
            return self
        return _Singly(**{f.name: getattr(self, f.name) for f in fields(self)})

    @property
    def samples(self) -> int:
        """Number of posterior draws."""
        return int(self.draws.coefficient.shape[0])

    @property
    def shape(self) -> law.Shape:
        """Shape and law of each draw, (sample,)."""
        return law.shape_of_draws(np.exp(self.coefficient("log_shape")), self.draws.law)

    @cached_property
    def unknown_age(self) -> Array:
        """Live tools whose age cannot be reckoned, shape (live,)."""
        return self.draws.unknown("wear_spent")

    def of_live(self, name: str, rows: Array) -> Array:
        """Draws of some live tools, each tool's side by side in memory, shape (sample, tool).

        Parameters
        ----------
        name : str
            Of a field of `draws` by sample and live tool.
        """
        return np.asarray(self.draws.of_tools(name, rows).T, dtype=self.precision, order="C").T

    def coefficient(self, name: str) -> Array:
        """Draws of one coefficient, shape (sample,)."""
        return np.ascontiguousarray(self.draws.coefficient[:, self.coefficient_index(name)], dtype=self.precision)

    def coefficient_index(self, name: str) -> int:
        """Place of a coefficient among the calibration's own names."""
        return int(np.flatnonzero(self.levels.coefficient == name)[0])


class _Singly(Calibration):
    """Reckoned with in single precision."""

    precision = np.dtype(np.float32)
