"""A calibration of as many live tools as are wanted, made of another's: for what answers cost. Its numbers mean nothing beyond that.

Its live tools are copies of the other's, each with an id, a design, conditions and draws of its own: numbers are moved by factors about
one, draw by draw, so that no two tools share anything by accident. Retired tools are left out.
"""

from dataclasses import fields, replace
from typing import Any

import numpy as np

from wearfit.calibration import Calibration, Identity
from wearfit.calibration.tables import MOST_DRAWS

Array = np.ndarray

SEED = 17
MOVED = {  # standard deviations of the logs of the factors, one for each number
    "draws": dict.fromkeys(
        ("wear_spent", "characteristic_life", "opening_shots", "tool", "log_likelihood", "reading_share", "noted_share", "design"), 0.05
    ),
    "live": {
        "recent_shots": 0.3,
        "shots_per_month": 0.3,
        "plan_shots": 0.3,
        "setups_per_shot": 0.1,
        "resin_share": 0.3,
        "shots_this_life": 0.1,
    },
}


def stretched(calibration: Calibration, tools: int, samples: int = MOST_DRAWS) -> Calibration:
    """A valid calibration of so many live tools and draws, of which those beyond the other's are its own once more."""
    live = calibration.live
    each, designs = len(live.tool), len(calibration.levels.design)
    copies = -(-tools // each)
    copy = {"live": np.repeat(np.arange(copies), each)[:tools]}
    source = {"live": np.tile(np.arange(each), copies)[:tools]}
    place = {"live": np.arange(copies * each).reshape(copies, each)}  # of one of the other's live tools in a copy
    for part, dim in ((calibration.reads, "read"), (calibration.noted, "noted"), (calibration.trail, "knot")):
        source[dim], copy[dim], place[dim] = _copied(place["live"][:, part.live] < tools)
    source["reading"], copy["reading"], _ = _copied(place["read"][:, calibration.readings.read] >= 0)
    for dim, length in (("design", designs), ("observation", len(calibration.levels.observation))):
        source[dim], copy[dim], place[dim] = _copied(np.ones((copies, length), dtype=bool))
    source["tool"], source["sample"] = live.tool[source["live"]], np.arange(samples) % calibration.samples
    out = _taken(calibration, source)
    design = np.where(live.design[source["live"]] >= 0, live.design[source["live"]] + copy["live"] * designs, -1)
    out = replace(
        out,
        levels=replace(
            out.levels,
            tool=_named(out.levels.tool, copy["live"]),
            design=_named(out.levels.design, copy["design"]),
            observation=_named(out.levels.observation, copy["observation"]),
        ),
        live=replace(out.live, tool=np.arange(tools, dtype=np.int32), design=design.astype(np.int32)),
        reads=replace(out.reads, live=place["live"][copy["read"], out.reads.live].astype(np.int32)),
        readings=replace(out.readings, read=place["read"][copy["reading"], out.readings.read].astype(np.int32)),
        noted=replace(out.noted, live=place["live"][copy["noted"], out.noted.live].astype(np.int32)),
        trail=replace(out.trail, live=place["live"][copy["knot"], out.trail.live].astype(np.int32)),
    )
    return _moved(out, np.random.default_rng(SEED))


def _copied(there: Array) -> tuple[Array, Array, Array]:
    """Source and copy of each row that is there, and the place of each row of each copy, -1 where it is not; `there` (copy, row)."""
    copy, source = np.nonzero(there)
    place = np.full(there.shape, -1)
    place[copy, source] = np.arange(len(copy))
    return source, copy, place


def _taken(calibration: Calibration, source: dict[str, Array]) -> Calibration:
    parts: dict[str, Any] = {}
    for part in (f.name for f in fields(Calibration) if f.type is not Identity):
        of = getattr(calibration, part)
        arrays = {}
        for f in fields(of):
            arrays[f.name] = getattr(of, f.name)
            for axis, dim in enumerate(f.metadata["dims"]):
                if dim in source:
                    arrays[f.name] = np.take(arrays[f.name], source[dim], axis=axis)
        parts[part] = type(of)(**arrays)
    return Calibration(calibration.identity, **parts)


def _named(names: Array, copy: Array) -> Array:
    return np.array([f"{name}/{c}" for name, c in zip(names, copy, strict=True)], dtype=object)


def _moved(calibration: Calibration, rng: np.random.Generator) -> Calibration:
    for part, by in MOVED.items():
        of = getattr(calibration, part)
        moved = {}
        for name, sd in by.items():
            values = getattr(of, name)
            moved[name] = (values * np.exp(sd * rng.standard_normal(values.shape, dtype=np.float32))).astype(values.dtype)
        calibration = replace(calibration, **{part: replace(of, **moved)})
    live = calibration.live
    mix = live.resin_share / np.maximum(live.resin_share.sum(axis=1, keepdims=True), 1e-12)
    plant = np.where(live.plant >= 0, rng.integers(0, len(calibration.levels.plant), len(live.plant)), -1)
    return replace(calibration, live=replace(live, resin_share=mix.astype(live.resin_share.dtype), plant=plant.astype(live.plant.dtype)))
