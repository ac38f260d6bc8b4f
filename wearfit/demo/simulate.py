"""A simulated fleet: records as an owner would keep them, and the truth behind them.

Plain NumPy, one tool walked forward at a time, with formulas of its own: nothing here is the model's code, so that what
the model recovers it recovers from the records.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from wearfit.demo.career import Career, walk_tool
from wearfit.demo.noted import NotedDefect, take_notes
from wearfit.demo.readings import take_readings
from wearfit.demo.settings import Fleet
from wearfit.demo.tables import Tables, record_tables
from wearfit.demo.tools import draw_tools
from wearfit.demo.truth import truth_of
from wearfit.demo.walk import Row
from wearfit.demo.world import World, draw_world


@dataclass(frozen=True, slots=True)
class SimulatedFleet:
    """A fleet's records and their truth.

    Attributes
    ----------
    settings : Fleet
    world : World
        Weather, group effects and designs.
    careers : tuple of Career
        One a tool, in the order of the tools table.
    tables : mapping of str to list of dict
        Record tables by name; a row holds the text of its cells that are not blank.
    noted : tuple of NotedDefect
        Defects noted after runs, and whether they came by wear.
    services_noted : int
        How many rows at the end of the events carry the notes of such looks, whether they found a defect or none.
    """

    settings: Fleet
    world: World
    careers: tuple[Career, ...]
    tables: Tables
    noted: tuple[NotedDefect, ...]
    services_noted: int

    @property
    def live(self) -> Mapping[str, Career]:
        """Careers by tool id of the tools that are not retired."""
        return {c.tool.tool_id: c for c in self.careers if not c.retired}

    @property
    def truth(self) -> dict[str, object]:
        """Everything true of the fleet, ready for JSON."""
        return truth_of(self.world, self.careers, self.noted)


def simulate_fleet(settings: Fleet) -> SimulatedFleet:
    """Simulate a fleet; the same settings give the same records, cell by cell.

    Parameters
    ----------
    settings : Fleet

    Returns
    -------
    SimulatedFleet

    Notes
    -----
    Truth: log wear per shot is the sum of covariate slopes, plant and resin effect; capacity follows `settings.law` around
    log eta = class or band + offset + steel + coating + design + maker + tool; refurbishments leave a virtual age (Kijima II); sudden
    stops are a competing risk at a constant rate. Each tool has a random stream of its own.
    """
    seeds = np.random.SeedSequence(settings.seed)
    shared, drawing, paper, *streams = seeds.spawn(3 + settings.n_tools)
    (extra,) = seeds.spawn(1)
    (noticing,) = seeds.spawn(1)
    world = draw_world(settings, np.random.default_rng(shared))
    tools = draw_tools(world, np.random.default_rng(drawing), np.random.default_rng(extra))
    careers = tuple(walk_tool(world, tool, np.random.default_rng(stream)) for tool, stream in zip(tools, streams, strict=True))
    rng = np.random.default_rng(paper)
    tables = record_tables(world, careers, rng)
    measured = [c for c in careers if rng.random() < settings.readings_share]
    tables["readings"] = [row for c in measured for row in take_readings(c, rng)] + _also_read(settings, careers, measured)
    eye = np.random.default_rng(noticing)
    seen = [take_notes(c, settings.noted_rate, eye) for c in careers if settings.noted_rate > 0]
    notes = [row for rows, _ in seen for row in rows]
    tables["events"] = tables["events"] + notes
    return SimulatedFleet(settings, world, careers, tables, tuple(defect for _, noted in seen for defect in noted), len(notes))


def _also_read(settings: Fleet, careers: Sequence[Career], measured: Sequence[Career]) -> list[Row]:
    """Readings of the tools that are measured besides, without a draw from what the others are made of."""
    besides = [c for c in careers if c.tool.tool_id in settings.also_measured and c not in measured]
    return [
        row for c in besides for row in take_readings(c, np.random.default_rng([settings.seed, settings.also_measured[c.tool.tool_id]]))
    ]
