"""The kinds of fleet of the accuracy benchmark, and the seeds of each: frozen before anything was scored.

What is true of wear differs from fleet to fleet, by draws that know the trade and not the model's priors. A kind changes one thing beside.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from wearfit.demo.scenario import RESINS, SITES
from wearfit.demo.settings import Fleet, Habits, Resin, Site, WearTruth
from wearfit.demo.simulate import SimulatedFleet, simulate_fleet
from wearfit.demo.weather import invent_sites

KINDS: Final = (
    "own_law",  # the model's own: Weibull lives, factors that multiply
    "loglogistic",  # life given the wear clock
    "lognormal",
    "other_wear",  # by turns: log wear by the square, or the root, of filler; plants that add their wear
    "heavy_tails",  # tool effects by Student's t of three degrees of freedom
    "unseen_plants",  # live tools go to a plant without a history
    "ten_tools",
    "no_events",  # nothing has ended yet
    "refurbish_heavy",
    "humid",
    "patchy",  # causes left open, wear-outs found late, ages, classes and steels unknown
)
OF_EACH: Final = 12
SIZES: Final = (20, 30, 40, 50, 60, 70, 80, 90, 105, 120)  # tools of the fleets of a kind
YEAR_OF_FREEZE: Final = 2026
MOST_SITES: Final = 7
MOST_DESIGNS: Final = 28
SEEDS_APART: Final = 100_000  # from one try to the next, where a fleet of a kind has to be looked for
RETRIES: Final = 200


@dataclass(frozen=True)
class Case:
    """One fleet of the benchmark."""

    kind: str
    number: int  # within its kind, from 0

    @property
    def name(self) -> str:
        return f"{self.kind}-{self.number}"

    @property
    def seed(self) -> int:
        return 1_000 * (KINDS.index(self.kind) + 1) + self.number


def cases(of_each: int = OF_EACH) -> tuple[Case, ...]:
    """All fleets in order, the first of every kind first, so that a part of them is a benchmark too."""
    return tuple(Case(kind, number) for number in range(of_each) for kind in KINDS)


def draw_truth(rng: np.random.Generator) -> WearTruth:
    """What is true of one fleet's wear: from sharp to blunt, from alike to unlike, from harmless to harsh."""
    even, usual = rng.uniform, WearTruth()
    return WearTruth(
        shape=float(np.clip(np.exp(rng.normal(np.log(3.0), 0.2)), 1.8, 5.0)),
        offset=float(rng.normal(0.0, 0.3)),
        class_sd=0.2,
        steel={name: effect and effect + float(rng.normal(0.0, 0.25)) for name, effect in usual.steel.items()},
        tool_sd=float(even(0.15, 0.45)),
        design_sd=float(even(0.1, 0.3)),
        maker_sd=float(even(0.05, 0.25)),
        plant_sd=float(even(0.1, 0.3)),
        resin_sd=float(even(0.05, 0.25)),
        filler_soft=float(even(0.2, 0.5)),
        filler_hard=float(even(0.05, 0.25)),
        corrosive_plain=float(even(0.2, 0.8)),
        corrosive_plated=float(even(0.1, 0.4)),
        corrosive_stainless=float(even(0.0, 0.25)),
        sweating=float(even(0.1, 0.7)),
        log_corrosivity=float(even(0.0, 0.25)),
        modification=float(even(0.0, 0.2)),
        rejuvenation=float(even(0.2, 0.5)),
        rejuvenation_fade=float(even(0.5, 0.85)),
        setup_shots=float(np.exp(even(np.log(200.0), np.log(800.0)))),
        storage=float(np.exp(even(np.log(0.01), np.log(0.04)))),
        sudden_per_life=float(even(0.05, 0.3)),
    )


def _draw_habits(rng: np.random.Generator) -> Habits:
    low = float(rng.uniform(0.3, 0.5))
    return Habits(
        runs_per_year=float(rng.uniform(3.0, 7.0)),
        years_per_life=float(rng.uniform(4.0, 8.0)),
        planned_share=float(rng.uniform(0.2, 0.6)),
        planned_low=low,
        planned_high=low + 0.5,
        late_found_share=float(rng.uniform(0.2, 0.5)),
        unstated_share=float(rng.uniform(0.05, 0.25)),
    )


def _sites(rng: np.random.Generator, fewest: int) -> tuple[Site, ...]:
    chosen = rng.permutation(len(SITES))[: int(rng.integers(fewest, MOST_SITES + 1))]
    return tuple(replace(SITES[i], effect=None) for i in chosen)


def _resins(rng: np.random.Generator) -> tuple[Resin, ...]:
    chosen = np.sort(rng.permutation(len(RESINS))[: int(rng.integers(5, len(RESINS) + 1))])
    return tuple(replace(RESINS[i], effect=None) for i in chosen)


def _plain(case: Case, rng: np.random.Generator) -> Fleet:
    tools = 10 if case.kind == "ten_tools" else SIZES[case.number % len(SIZES)]
    sites = _sites(rng, 2 if tools <= 10 else 4)
    return Fleet(
        sites=sites[:3] if tools <= 10 else sites,
        resins=_resins(rng),
        n_tools=tools,
        seed=case.seed,
        years=int(rng.integers(6, 11)),
        n_designs=min(MOST_DESIGNS, max(3, round(0.4 * tools))),
        n_makers=int(rng.integers(3, 9)),
        unknown_entry_share=0.1,
        unknown_steel_share=0.05,
        coated_share=0.12,
        truth=draw_truth(rng),
        habits=_draw_habits(rng),
    )


def _changes(case: Case, fleet: Fleet, rng: np.random.Generator) -> Mapping[str, object]:
    """What a kind changes of a plain fleet."""
    truth, habits = fleet.truth, fleet.habits
    match case.kind:
        case "loglogistic" | "lognormal":
            return {"law": case.kind}
        case "other_wear":
            return ({"filler_power": 2.0}, {"added_plant": True}, {"filler_power": 0.5})[case.number % 3]
        case "heavy_tails":
            return {"tail": 3.0, "truth": replace(truth, tool_sd=float(rng.uniform(0.3, 0.5)))}
        case "unseen_plants":
            return {"unseen_sites": 1 + case.number % 2}
        case "no_events":
            nothing = {"obsolete_rate": 0.0, "design_change_rate": 0.0, "planned_share": 0.0}
            slow = replace(habits, years_per_life=24.0, runs_per_year=4.0, **nothing)
            none = replace(truth, sudden_per_life=0.0, sudden_per_handling=0.0)
            shares = {"101": 0.15, "102": 0.3, "103": 0.4, "104": 0.15}
            few = {"n_tools": fleet.n_tools // 2, "years": 2, "late_entry_share": 0.0, "class_shares": shares}
            return {**few, "habits": slow, "truth": none}
        case "refurbish_heavy":
            heavy = replace(habits, refurbish_share=0.95, planned_share=0.7, years_per_life=3.5, retire_share=0.05)
            return {"habits": heavy}
        case "humid":
            coast = tuple(replace(s, effect=None) for s in SITES if s.plant_id in ("lakeside", "delta", "salt-quay"))
            damp = tuple(replace(s, coolant_temp_c=min(s.coolant_temp_c, 11.0)) for s in invent_sites(4, case.seed)[-2:])
            harsh = replace(truth, sweating=float(rng.uniform(0.4, 0.9)), log_corrosivity=float(rng.uniform(0.1, 0.3)))
            return {"sites": coast + damp, "truth": harsh}
        case "patchy":
            return {
                "habits": replace(habits, late_found_share=0.8, unstated_share=0.6, preserved_unstated_share=0.6),
                "late_entry_share": 0.35,
                "unknown_entry_share": 0.6,
                "unknown_class_share": 0.12,
                "unknown_steel_share": 0.25,
                "late_history_share": 0.05,
            }
    return {}


def settings_of(case: Case) -> Fleet:
    """Everything that a fleet of the benchmark follows from."""
    rng = np.random.default_rng([YEAR_OF_FREEZE, case.seed])
    fleet = _plain(case, rng)
    return replace(fleet, **_changes(case, fleet, rng))  # type: ignore[arg-type]


def simulated(case: Case) -> SimulatedFleet:
    """The fleet; of the kind without events the first by seed in which nothing has ended."""
    settings = settings_of(case)
    for retry in range(RETRIES if case.kind == "no_events" else 1):
        fleet = simulate_fleet(replace(settings, seed=settings.seed + SEEDS_APART * retry))
        if case.kind != "no_events" or nothing_ended(fleet):
            return fleet
    raise ValueError(f"{case.name}: something ends in each of {RETRIES} fleets")


def nothing_ended(fleet: SimulatedFleet) -> bool:
    """Whether no life has ended and no tool is worn by the as-of day."""
    return all(life.ending == "running" for career in fleet.careers for life in career.lives) and not any(c.worn for c in fleet.careers)
