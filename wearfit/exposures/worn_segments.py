"""What wore each episode: runs cut at all that changes a tool, and the times in which it stood."""

from dataclasses import dataclass

import numpy as np

from wearfit.exposures.lives import INTERVAL, Episodes, Events, episode_of
from wearfit.exposures.looks import Looks
from wearfit.exposures.past import Past
from wearfit.exposures.stood import Stood, stood_pieces
from wearfit.exposures.storage import Standing
from wearfit.exposures.timeline import Runs, Segments, TimeKeys, split_runs

Array = np.ndarray


@dataclass(frozen=True)
class WornSegments:
    """What wore each episode from its entry on: segments of runs, and times in which tools stood. Arrays of shape (segment,)."""

    segments: Segments  # all of them
    episode: Array
    part: Array  # as in `Cells`: 1 up to the last day known good, 2 after it
    wearing: Array  # bool: it counts
    stood: Stood


def worn_segments(
    n_tools: int, runs: Runs, events: Events, episodes: Episodes, past: Past, looks: Looks, standing: Standing, keys: TimeKeys
) -> WornSegments:
    """Cut the runs at all that changes a tool, and say to which part of which episode each segment belongs."""
    limited = np.isfinite(episodes.last_good)
    late = np.flatnonzero(np.isfinite(past.from_day))
    cut_tool = np.concatenate([events.tool, episodes.tool[limited], late, looks.tool])
    cut_time = np.concatenate([events.cut, episodes.last_good[limited] + 1.0, past.from_day[late], looks.time])
    instant = np.concatenate([events.cut != events.time, np.ones(limited.sum() + len(late) + len(looks.tool), dtype=bool)])
    segments = split_runs(runs, cut_tool, cut_time, instant, keys)
    episode = episode_of(segments, events, episodes, n_tools, keys)
    # Past the close lies only what a run made after its tool was retired: any other event that closes opens another episode.
    wearing = segments.place_in_time < np.minimum(episodes.worn_at, episodes.closes)[episode]
    # What came before renewals are on record is part of the opening.
    wearing &= segments.start >= past.from_day[segments.tool]
    part = np.where(segments.start < episodes.last_good[episode] + 1.0, 1, 2)
    part = np.where(episodes.ending[episode] == INTERVAL, part, 1)
    last_shot = np.full(len(episodes.tool), -np.inf)
    np.maximum.at(last_shot, episode[wearing], segments.start[wearing])
    stood = stood_pieces(standing.since(past.from_day), episodes, last_shot, looks)
    doubted = np.zeros(len(episodes.ending), dtype=bool)
    doubted[episode[wearing & (part == 2)]] = True
    doubted[stood.in_doubt] = True
    part = _last_run_uncertain(episodes, episode, part, runs.production[segments.run], wearing, doubted)
    return WornSegments(segments, episode, part, wearing, stood)


def _last_run_uncertain(episodes: Episodes, episode: Array, part: Array, production: Array, wearing: Array, doubted: Array) -> Array:
    """Where neither shot nor stay in store lies between the last good day and the wear-out, the whole last run is in doubt."""
    last = np.full(len(episodes.ending), -1)
    np.maximum.at(last, episode[wearing], np.flatnonzero(wearing))
    last_run = np.where((episodes.ending == INTERVAL) & ~doubted & (last >= 0), np.append(production, -1)[last], -1)
    return np.where(wearing & (production == last_run[episode]), 2, part)
