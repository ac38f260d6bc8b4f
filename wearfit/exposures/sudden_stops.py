"""Sudden stops, and what each tool was exposed to at each plant."""

import numpy as np

from wearfit.exposures.lives import Episodes, Events
from wearfit.exposures.table import SuddenStops, Tools
from wearfit.exposures.timeline import Runs, TimeKeys

Array = np.ndarray


def sudden_stops(tools: Tools, runs: Runs, events: Events, episodes: Episodes, n_plants: int, home: Array, keys: TimeKeys) -> SuddenStops:
    """Count sudden stops, shots and handlings of each tool at each plant.

    Parameters
    ----------
    home : array, shape (tool,)
        Plant where a tool is before its first run, -1 unknown.
    """
    stops, shots, handlings = (np.zeros((len(tools.tool_id), n_plants)) for _ in range(3))
    np.add.at(shots, (runs.tool, runs.plant), runs.shots)
    np.add.at(handlings, (runs.tool, runs.plant), runs.setups)
    moves = events.of("move")
    arrived = moves[events.plant[moves] >= 0]
    np.add.at(handlings, (events.tool[arrived], events.plant[arrived]), 1.0)

    # A tool that stopped was where it last arrived or began to run.
    at = np.concatenate([keys(events.tool[arrived], events.time[arrived]), keys(runs.tool, runs.start)])
    order = np.argsort(at, kind="stable")
    sudden = np.flatnonzero(episodes.sudden)
    stopped = episodes.tool[sudden]
    last = np.searchsorted(at[order], keys(stopped, episodes.closes[sudden]), side="right") - 1
    of_tool = np.append(np.concatenate([events.tool[arrived], runs.tool])[order], -1)[last]
    plant = np.append(np.concatenate([events.plant[arrived], runs.plant])[order], -1)[last]
    plant = np.where(of_tool == stopped, plant, home[stopped])
    np.add.at(stops, (stopped[plant >= 0], plant[plant >= 0]), 1.0)
    tool, plant = np.nonzero(stops + shots + handlings)
    return SuddenStops(tool, plant, stops[tool, plant], shots[tool, plant], handlings[tool, plant])
