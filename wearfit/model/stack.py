"""Calibrations under several laws as one: draws of each, as many as its weight."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields, replace
from typing import Any, Final

import numpy as np

from wearfit.calibration import STACKED, Calibration, Draws
from wearfit.growth import Growth, Readings
from wearfit.model.growth_batch import tracks_log_likelihood
from wearfit.remaining import Track, packed, remaining

Array = np.ndarray

WORST: Final[Mapping[str, Callable[[list[Any]], Any]]] = {
    "rhat_max": max,
    "ess_bulk_min": min,
    "ess_tail_min": min,
    "ebfmi_min": min,
    "divergences": sum,
    "draws": sum,
    "passed": all,
}


def stack(calibrations: Sequence[Calibration], weights: Array, law_chosen: str) -> Calibration:
    """One calibration of the draws of several, which are of one history and one priors file.

    Parameters
    ----------
    weights : array, shape (calibration,)
        Adding up to one; one without a weight is left out.
    law_chosen : str
        Why they are stacked.

    Notes
    -----
    What is kept beside the draws (tables of the live tools, the trail, prior draws) is that of the heaviest. It passes the gate if all
    that it is made of did, and tells the worst of their diagnostics.
    """
    kept = [(c, float(w)) for c, w in zip(calibrations, weights, strict=True) if w > 0.0]
    heaviest = max(kept, key=lambda part: part[1])[0]
    total = min(c.samples for c, _ in kept)
    ends = np.round(np.cumsum([w for _, w in kept]) * total).astype(int)
    chosen = [np.linspace(0, c.samples - 1, n).round().astype(int) for (c, _), n in zip(kept, np.diff(ends, prepend=0), strict=True)]

    def joined(name: str) -> Array:
        return np.concatenate([np.asarray(getattr(c.draws, name))[keep] for (c, _), keep in zip(kept, chosen, strict=True)])

    # The nodes of what readings told lie elsewhere in each: they are told anew below.
    draws = Draws(**{f.name: joined(f.name) for f in fields(Draws)})
    identity = replace(
        heaviest.identity, wear_law=STACKED, law_chosen=law_chosen, diagnostics=_worst([c.identity.diagnostics for c, _ in kept])
    )
    return _readings_told_anew(replace(heaviest, identity=identity, draws=draws))


def _worst(diagnostics: Sequence[dict[str, Any]]) -> dict[str, Any]:
    found = dict(diagnostics[0])
    for name, of in WORST.items():
        found[name] = of([d[name] for d in diagnostics])
    return found | {"reasons": [reason for d in diagnostics for reason in d["reasons"]]}


def _readings_told_anew(c: Calibration) -> Calibration:
    """What readings say of what is left of the lives under way, on nodes that serve all draws."""
    lefts = []
    for read, live in enumerate(c.reads.live):
        life = np.log(np.asarray(c.draws.characteristic_life[:, live], dtype=float))
        spent = np.asarray(c.draws.wear_spent[:, live], dtype=float)
        lefts.append(remaining(spent, life, c.shape, _tracks(c, read), tracks_log_likelihood))
    if not lefts:
        return c
    told = np.stack([packed(left.log_likelihood) for left in lefts], axis=1)
    reads = replace(c.reads, q_low=np.array([left.q_low for left in lefts]), q_high=np.array([left.q_high for left in lefts]))
    return replace(c, draws=replace(c.draws, read_told=told), reads=reads)


def _tracks(c: Calibration, read: int) -> list[Track]:
    """The readings of one live tool, a track for each feature."""
    table, draws = c.readings, c.draws
    life_sd, growth_sd = (np.exp(c.coefficient(f"reading.log_{name}")) for name in ("life_sd", "life_growth_sd"))
    tracks = []
    for feature in np.unique(table.feature[table.read == read]):
        mine = np.flatnonzero((table.read == read) & (table.feature == feature))
        level, growth, noise = (np.asarray(a[:, feature], float) for a in (draws.feature_level, draws.feature_growth, draws.feature_noise))
        share = np.asarray(draws.reading_share[:, mine], dtype=float)
        readings = Readings(table.log_way[mine], table.below[mine].astype(float), table.rounding[mine])
        tracks.append(Track(readings, share, Growth(level, growth, noise, life_sd, growth_sd)))
    return tracks
