"""The trail of recorded wear says of each reading's day what the wear clock says of the reading."""

from types import SimpleNamespace

import numpy as np
from small_fleet import prior_draws, read_fleet

from wearfit.exposures.covariates import columns, spreads
from wearfit.exposures.places import plant_levels
from wearfit.model.bands import band_offsets, log_band
from wearfit.model.clock import run_clock
from wearfit.model.data import ReadingColumns
from wearfit.model.flat_draws import Flat
from wearfit.model.group_effects import group_effects
from wearfit.model.layout import COEFFICIENTS
from wearfit.model.parameters import Parameters
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors
from wearfit.model.trail import Trail, build_trail

FLEET, PRIORS = read_fleet(), read_priors()
LAYOUT = layout_of(FLEET)
DATA = prepare(FLEET, PRIORS, LAYOUT)
TOOL = np.arange(len(FLEET.tools.tool_id))
UNDER_WAY = np.searchsorted(FLEET.episodes.tool, TOOL, side="right") - 1
FIRST = np.searchsorted(FLEET.candidates.tool, TOOL)  # of the candidates of a tool that may be several things


def trail_of(draws: int, seed: int) -> tuple[Trail, Parameters]:
    """The trail of all tools, each its first candidate, and the parameters drawn for it."""
    at, levels = prior_draws(DATA, LAYOUT, draws, seed), plant_levels(FLEET.climate)
    flat = Flat(at.z, at.share, at.w, at.slot, at.read)
    p = flat.parameters(DATA, LAYOUT)
    effects = group_effects(p, flat.scales(DATA), LAYOUT, FLEET, PRIORS, columns(levels), spreads(levels), seed=1)
    live = SimpleNamespace(tool=TOOL, episode=UNDER_WAY)
    bands = log_band(FLEET, PRIORS, band_offsets(PRIORS))[FIRST]
    steel_group = FLEET.candidates.steel_group[FIRST]
    return build_trail(FLEET, live, p.all[:, : len(COEFFICIENTS)], effects, steel_group, bands), p  # type: ignore[arg-type]


def test_at_each_reading_of_an_episode_under_way_as_much_had_come_as_the_clock_says() -> None:
    """One draw, which is its own middle; a month's air is that of the calendar month, so that shares differ a little."""
    trail, p = trail_of(draws=1, seed=8)
    clock, partly = run_clock(p, DATA), 0
    for i, (row, log_way) in enumerate(
        zip(DATA.reading[:, ReadingColumns.row].astype(int), DATA.reading[:, ReadingColumns.log_way], strict=True)
    ):
        candidate = int(FLEET.history.candidate[row])
        tool = FLEET.candidates.tool[candidate]
        if FLEET.history.source[row] != UNDER_WAY[tool] or candidate != FIRST[tool]:
            continue
        reading = np.flatnonzero((FLEET.readings.row == row) & (FLEET.readings.log_way == log_way))[0]
        share = (clock.at_reading[0, i] - clock.entry[0, row]) / (clock.end[0, row] - clock.entry[0, row])
        mine = trail.live == tool
        assert abs(np.interp(FLEET.readings.time[reading], trail.time[mine], trail.share[mine], left=0.0) - share) < 0.03
        partly += share < 0.99
    assert partly >= 3


def test_a_trail_rises_from_nothing_to_all_within_its_episode() -> None:
    trail, _ = trail_of(draws=3, seed=9)
    assert len(np.unique(trail.live)) >= 4
    for i in np.unique(trail.live):
        time, share = trail.time[trail.live == i], trail.share[trail.live == i]
        assert (np.diff(time) > 0).all() and (np.diff(share) >= 0).all()
        assert (share[0], share[-1]) == (0.0, 1.0)
        assert time[0] >= FLEET.episodes.opens[UNDER_WAY[i]]
