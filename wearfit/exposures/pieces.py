"""Shots piece by piece: stretches of runs and what was made before the records, each with the conditions that wore the tool."""

from dataclasses import dataclass

import numpy as np

from wearfit.exposures.lives import Episodes, Events, modifications_before
from wearfit.exposures.looks import Looks
from wearfit.exposures.past import Past
from wearfit.exposures.places import YEARLY_MEAN
from wearfit.exposures.table import Tools
from wearfit.exposures.timeline import Runs, Segments, TimeKeys
from wearfit.exposures.worn_segments import WornSegments

Array = np.ndarray

SPEED_STEP = 0.05  # [log2] speeds are gathered to this step, so that like runs share a job


@dataclass(frozen=True)
class Pieces:
    """Wear-bearing segments in order of time, the opening ones first. Arrays of shape (piece,)."""

    episode: Array
    part: Array
    stage: Array  # how many looks at the episode came before it
    plant: Array
    month: Array
    resin: Array
    modifications: Array
    speed: Array
    shots: Array
    setups: Array


def rounded_speed(speed: Array) -> Array:
    """Speeds gathered to SPEED_STEP. [log2]"""
    return np.asarray(np.round(np.clip(speed, -2.0, 2.0) / SPEED_STEP) * SPEED_STEP)


def pieces_of(
    tools: Tools, runs: Runs, events: Events, episodes: Episodes, past: Past, worn: WornSegments, home: Array, looks: Looks, keys: TimeKeys
) -> tuple[Pieces, Array]:
    """Pieces, and the episode in which each tool's opening lies, shape (tool,)."""
    segments, episode, part = worn.segments, worn.episode, worn.part
    speed, modified = rounded_speed(runs.speed[segments.run]), modifications_before(segments, events, keys)
    kept = np.flatnonzero(worn.wearing)
    opening, opened = _openings(tools, runs, episodes, past, segments, episode, home)
    pieces = Pieces(
        episode=np.concatenate([opening.episode, episode[kept]]),
        part=np.concatenate([opening.part, part[kept]]),
        stage=np.concatenate([opening.stage, looks.before(episode[kept], segments.start[kept])]),
        plant=np.concatenate([opening.plant, runs.plant[segments.run[kept]]]),
        month=np.concatenate([opening.month, segments.month[kept]]),
        resin=np.concatenate([opening.resin, runs.resin[segments.run[kept]]]),
        modifications=np.concatenate([opening.modifications, modified[kept]]),
        speed=np.concatenate([opening.speed, speed[kept]]),
        shots=np.concatenate([opening.shots, segments.shots[kept]]),
        setups=np.concatenate([opening.setups, segments.setups[kept]]),
    )
    return pieces, opened


def _openings(
    tools: Tools, runs: Runs, episodes: Episodes, past: Past, segments: Segments, episode: Array, home: Array
) -> tuple[Pieces, Array]:
    """Shots before the records begin, under the conditions of the first run; without one, those of the tool's plant.

    They lie in the episode of the first run that counts, else in the last; also returned for every tool.
    """
    n = len(tools.tool_id)
    first, counts = (np.full(n, -1) for _ in range(2))
    for of_tool, where in ((first, slice(None)), (counts, segments.start >= past.from_day[segments.tool])):
        with_runs, at = np.unique(segments.tool[where], return_index=True)
        of_tool[with_runs] = np.arange(len(segments.tool))[where][at]
    opened = np.where(counts >= 0, np.append(episode, -1)[counts], np.searchsorted(episodes.tool, np.arange(n), side="right") - 1)
    tool = np.flatnonzero((np.nan_to_num(tools.entry_shots) > 0) | past.reckoned)
    run = np.append(segments.run, -1)[first[tool]]
    zero = np.zeros(len(tool), np.int64)
    pieces = Pieces(
        episode=opened[tool],
        part=zero,
        stage=zero,
        plant=np.where(run >= 0, np.append(runs.plant, -1)[run], home[tool]),
        month=np.full(len(tool), YEARLY_MEAN),
        resin=np.append(runs.resin, -1)[run],
        modifications=zero,
        speed=np.zeros(len(tool)),
        shots=np.where(past.reckoned[tool], 1.0, tools.entry_shots[tool]),
        setups=np.zeros(len(tool)),
    )
    return pieces, opened
