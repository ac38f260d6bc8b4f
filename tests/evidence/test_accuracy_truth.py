"""The truth of the accuracy benchmark against what the simulated tools then do, and its kinds of fleet."""

import dataclasses
import math

import numpy as np
import pytest
from accuracy_parts.all_but_tools import chance_without_tool
from accuracy_parts.kinds import KINDS, Case, cases, nothing_ended, settings_of, simulated
from accuracy_parts.scores import regret
from accuracy_parts.truth import asked_runs, remaining_of, true_chance

from wearfit.demo.future import machine_shots_left, spent_after
from wearfit.demo.simulate import simulate_fleet

FIRST_SPARE = 500  # numbers from here on are no part of the benchmark


@pytest.mark.parametrize("kind", ["own_law", "loglogistic", "other_wear", "refurbish_heavy", "unseen_plants"])
def test_as_many_tools_wear_out_as_the_true_chances_say(kind):
    """Over the simulator's own draws of capacity, among likely and unlikely runs."""
    chance, worn = [], []
    for number in range(FIRST_SPARE, FIRST_SPARE + 40):
        settings = settings_of(Case(kind, number))
        storage = dataclasses.replace(settings.truth, storage=0.05)  # what a tool stands unseen must count
        fleet = simulate_fleet(dataclasses.replace(settings, truth=storage))
        for run in asked_runs(fleet, number)[::2]:
            career = fleet.live[run.tool_id]
            chance.append(true_chance(fleet, run))
            worn.append(career.good_at + career.stood + spent_after(fleet, run) - career.spent >= career.capacity)
    chance, worn = np.array(chance), np.array(worn)
    for part in (chance < 0.1, chance >= 0.1):
        assert part.sum() > 60
        assert abs(worn[part].sum() - chance[part].sum()) < 3.0 * math.sqrt((chance[part] * (1.0 - chance[part])).sum())


@pytest.mark.parametrize("kind", ["heavy_tails", "refurbish_heavy"])
def test_who_knows_all_but_the_tools_is_right_on_average_and_surer_by_their_lives(kind):
    """The mean of the chances told is that of the true ones, among likely and unlikely runs; who ignores the lives is further off."""
    truth, told, by_prior = [], [], []
    for number in range(FIRST_SPARE, FIRST_SPARE + 40):
        fleet = simulated(Case(kind, number))
        for run in asked_runs(fleet, number)[::4]:
            truth.append(true_chance(fleet, run))
            told.append(chance_without_tool(fleet, run))
            by_prior.append(chance_without_tool(fleet, run, lives_known=False))
    truth, told, by_prior = np.array(truth), np.array(told), np.array(by_prior)
    for part in (told < 0.1, told >= 0.1):
        off = truth[part] - told[part]
        assert part.sum() > 60
        assert abs(off.mean()) < 3.0 * off.std() / math.sqrt(part.sum())
    assert 0.0 < regret(truth, told).mean() < regret(truth, by_prior).mean()


def test_the_law_of_what_is_left_holds_what_is_left():
    """Where the simulated capacity lies in the true law is even over (0, 1)."""
    places = []
    for number in range(FIRST_SPARE, FIRST_SPARE + 30):
        fleet = simulated(Case("lognormal", number))
        for run in asked_runs(fleet, number)[::2]:
            career, left = fleet.live[run.tool_id], remaining_of(fleet, fleet.live[run.tool_id])
            spent = career.good_at + career.stood
            if career.capacity > spent:  # else it rusted through where nobody looked
                places.append(float(left.gone_by(np.array((career.capacity - spent) / left.wear_per_shot))))
    n = len(places)
    assert n > 600
    for level in (0.1, 0.25, 0.5, 0.75, 0.9):
        assert abs(np.mean(np.array(places) < level) - level) < 3.5 * math.sqrt(level * (1.0 - level) / n)


def test_shots_left_are_the_simulators_where_neither_season_nor_second_resin_matters():
    settings = settings_of(Case("own_law", FIRST_SPARE))
    plain = dataclasses.replace(settings.truth, sweating=0.0, setup_shots=0.0)
    one = tuple(r for r in settings.resins[:1])
    fleet = simulate_fleet(dataclasses.replace(settings, truth=plain, resins=one))
    for tool_id, career in fleet.live.items():
        if not career.worn:
            left = (career.capacity - career.spent) / remaining_of(fleet, career).wear_per_shot
            assert left == pytest.approx(machine_shots_left(fleet, tool_id), rel=1e-9)


def test_an_unseen_plant_is_asked_about_and_has_no_run():
    fleet = simulated(Case("unseen_plants", FIRST_SPARE + 1))
    asked = {run.plant_id for run in asked_runs(fleet, 1)}
    assert asked and not asked & {row["plant_id"] for row in fleet.tables["runs"]}


def test_nothing_has_ended_in_the_kind_without_events():
    fleet = simulated(Case("no_events", FIRST_SPARE))
    assert nothing_ended(fleet)
    assert not {row["event"] for row in fleet.tables["events"]} & {"worn", "retool", "refurbish", "retire"}


def test_every_case_has_a_seed_of_its_own_and_a_part_of_them_holds_every_kind():
    all_ = cases()
    assert len({case.seed for case in all_}) == len(all_) >= 100
    assert {case.kind for case in all_[: len(KINDS)]} == set(KINDS)


def test_a_plant_that_adds_its_wear_costs_the_same_whatever_the_job_and_filler_of_thirty_per_cent_is_the_pivot():
    from wearfit.demo.world import dry_wear_per_shot

    settings = dataclasses.replace(settings_of(Case("own_law", FIRST_SPARE)), seed=3)
    plants = [s.plant_id for s in settings.seen_sites[:2]]

    def wear(plant_id: str, resin_id: str, **changes: object) -> float:
        fleet = simulate_fleet(dataclasses.replace(settings, n_tools=1, **changes))
        return dry_wear_per_shot(fleet.world, "prehard", "", plant_id, resin_id, 0)

    resins = [r.resin_id for r in settings.resins[:2]]
    apart = [wear(plants[0], r, added_plant=True) - wear(plants[1], r, added_plant=True) for r in resins]
    assert apart[0] == pytest.approx(apart[1], rel=1e-9)
    from wearfit.demo.scenario import RESINS

    filled = {r.filler_pct * (0.4 if r.filler_kind == "T" else 1.0): r.resin_id for r in RESINS if r.filler_pct}
    assert wear(plants[0], filled[30.0], resins=RESINS) == pytest.approx(wear(plants[0], filled[30.0], resins=RESINS, filler_power=2.0))
    assert wear(plants[0], filled[8.0], resins=RESINS) > wear(plants[0], filled[8.0], resins=RESINS, filler_power=2.0)
