"""A world in which every tool is alike and a machine shot is a reference shot."""

import pytest

from wearfit.demo.settings import Fleet, Habits, Resin, Site, WearTruth


@pytest.fixture(scope="session")
def plain() -> Fleet:
    truth = WearTruth(
        shape=3.0,
        class_deviation={"103": 0.0},
        tool_sd=0.0,
        design_sd=0.0,
        maker_sd=0.0,
        sweating=0.0,
        log_corrosivity=0.0,
        setup_shots=0.0,
        sudden_per_life=0.0,
        sudden_per_handling=0.0,
        steel={"prehard": 0.0, "hard": 0.0, "stainless": 0.0},
    )
    habits = Habits(
        runs_per_year=10.0,
        years_per_life=0.8,
        years_per_life_log_sd=0.1,
        late_found_share=0.0,
        planned_share=0.0,
        unstated_share=0.0,
        obsolete_rate=0.0,
        design_change_rate=0.0,
        modify_rate=0.0,
        store_rate=0.0,
        hold_rate=0.0,
        parts_share=0.0,
        retire_share=0.0,
    )
    return Fleet(
        sites=(Site("hall", 21.0, 1.0, 45.0, 0.0, 2.0, 5.0, 15.0, conditioned=True, effect=0.0),),
        resins=(Resin("plain", "ABS", effect=0.0),),
        n_tools=400,
        class_shares={"103": 1.0},
        late_entry_share=0.0,
        own_band_share=0.0,
        truth=truth,
        habits=habits,
    )
