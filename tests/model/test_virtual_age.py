"""The clock through refurbishments, partial renewals and late entry, against arithmetic by hand.

Kijima type II: the j-th refurbishment since the clock stood at zero takes away rho phi^(j-1) of all wear spent so far.
"""

import numpy as np
import pytest
from small_fleet import exposures_of

from wearfit.model.clock import Clock, run_clock
from wearfit.model.coefficient_priors import NO_STORAGE
from wearfit.model.layout import COEFFICIENTS, Layout
from wearfit.model.parameters import Parameters
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors

Array = np.ndarray

REFURBISH, REPEAT, SETUP = 0.4, 0.5, 1000.0  # rho, phi, shots
PLANTS = "plant_id,conditioned\nHeath,1\nMill,1"
RESINS = "resin_id,family\nplain,ABS\nglass,ABS"
RUNS = """
tool_id,plant_id,resin_id,started_on,ended_on,shots,setups
T1,Heath,plain,2018-01-10,2018-01-19,100000,1
T1,Heath,plain,2018-04-10,2018-04-19,60000,1
T1,Heath,plain,2018-07-10,2018-07-19,40000,1
T1,Heath,plain,2018-10-10,2018-10-19,10000,1
"""  # with its set-up: 101,000, 61,000, 41,000 and 11,000 reference shots


def clock(events: str, runs: str = RUNS, tool: str = "", effects: tuple[tuple[str, int, float], ...] = ()) -> Clock:
    """Clock of the rows of one tool, in time, where nothing but `effects` (block, level, log wear) differs from the reference."""
    exposures = exposures_of(
        {
            "tools": f"tool_id,service_class,cavity_steel,commissioned_on,opening_life_shots\nT1,103,prehard,2018-01-02,{tool}",
            "runs": runs,
            "events": f"tool_id,date,event,cause,renewed_share\n{events}",
            "plants": PLANTS,
            "resins": RESINS,
        }
    )
    layout = layout_of(exposures)
    return run_clock(reference(layout, effects), prepare(exposures, read_priors(), layout))


def reference(layout: Layout, effects: tuple[tuple[str, int, float], ...]) -> Parameters:
    values = np.zeros(len(COEFFICIENTS) + layout.size)
    values[COEFFICIENTS.index("log_setup")] = np.log(SETUP)
    values[COEFFICIENTS.index("log_storage")] = NO_STORAGE  # pauses are another test's
    for block, level, effect in effects:
        values[layout.parameter(block, np.array(level))] = effect
    return Parameters(all=values, share=np.array([REFURBISH, REPEAT, 0.7]))


def test_chain_of_refurbishments() -> None:
    answer = clock("T1,2018-03-01,refurbish,planned,\nT1,2018-06-01,refurbish,planned,\nT1,2018-09-01,retool,planned,")
    # .6 of 101,000; then .8 of 60,600 + 61,000, for the second takes away .4 * .5; a retool starts at zero.
    assert answer.entry == pytest.approx([0.0, 60_600.0, 97_280.0, 0.0], abs=1e-6)
    assert answer.end == pytest.approx([101_000.0, 121_600.0, 138_280.0, 11_000.0], abs=1e-6)


def test_refurbishments_start_over_after_a_retool() -> None:
    answer = clock("T1,2018-03-01,refurbish,planned,\nT1,2018-06-01,retool,planned,\nT1,2018-09-01,refurbish,planned,")
    assert answer.entry == pytest.approx([0.0, 60_600.0, 0.0, 0.6 * 41_000.0], abs=1e-6)


def test_partial_renewal_takes_away_its_share() -> None:
    answer = clock("T1,2018-03-01,modify,,0.25\nT1,2018-06-01,refurbish,planned,\nT1,2018-09-01,modify,,")
    # .75 of 101,000; then .6 of 75,750 + 61,000; a modification that cut nothing new divides no life.
    assert answer.entry == pytest.approx([0.0, 75_750.0, 82_050.0], abs=1e-6)
    assert answer.end == pytest.approx([101_000.0, 136_750.0, 82_050.0 + 52_000.0], abs=1e-6)


def test_refurbished_after_damage_keeps_its_age() -> None:
    answer = clock("T1,2018-03-01,refurbish,damage,\nT1,2018-06-01,refurbish,planned,\nT1,2018-09-01,modify,,1")
    # Only the planned one takes wear away, and it is the first to do so; all cut new is as good as a retool.
    assert answer.entry == pytest.approx([0.0, 101_000.0, 97_200.0, 0.0], abs=1e-6)


def test_late_entry() -> None:
    """Shots before the records begin were survived: the row enters at them, without set-ups."""
    answer = clock("T1,2018-03-01,refurbish,planned,", tool="120000")
    assert answer.entry == pytest.approx([120_000.0, 0.6 * 221_000.0], abs=1e-6)
    assert answer.end == pytest.approx([221_000.0, 0.6 * 221_000.0 + 113_000.0], abs=1e-6)


def test_conditions_multiply_the_wear_of_each_shot() -> None:
    runs = RUNS.replace("Heath,plain,2018-07", "Mill,glass,2018-07")
    answer = clock("T1,2018-09-01,retool,planned,", runs, effects=(("plant", 1, np.log(1.5)), ("resin", 0, np.log(2.0))))
    # Resins are numbered by name, so level 0 is glass.
    assert answer.end == pytest.approx([101_000.0 + 61_000.0 + 3.0 * 41_000.0, 11_000.0], abs=1e-6)
    assert np.exp(answer.log_last) == pytest.approx([3.0, 1.0], rel=1e-12)
