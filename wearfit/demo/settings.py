"""Arguments of a simulated fleet: what is true of its wear, and what its owner does."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal, get_args

Law = Literal["weibull", "lognormal", "loglogistic"]
Line = Literal["playthings", "household"]

CLASSES = ("101", "102", "103", "104", "105")
PLATINGS = ("chrome", "nickel")  # keep a corrosive resin from steel that is not stainless
USUAL_STEEL = {"101": "hard", "102": "hard", "103": "prehard", "104": "aluminium", "105": "aluminium"}
HARD_STEELS = ("hard", "stainless")
FILLER_AGGRESSIVENESS = {"": 0.0, "GF": 1.0, "GB": 1.0, "T": 0.4, "MF": 0.4}  # relative to glass, truth of the simulated world

# Median life of a class at the reference, from its band as the trade words it: a floor is passed by three lives in four
# (log-sd .66), a cap holds 1.25 median lives. Bands: trade association's Classifications of Injection Molds.
FLOOR_TO_MEDIAN = math.exp(0.6745 * 0.66)
CAP_TO_MEDIAN = 0.8
CLASS_MEDIAN_SHOTS = {
    "101": 1_000_000 * FLOOR_TO_MEDIAN,
    "102": 1_000_000 * CAP_TO_MEDIAN,
    "103": 500_000 * CAP_TO_MEDIAN,
    "104": 100_000 * CAP_TO_MEDIAN,
    "105": 500 * CAP_TO_MEDIAN,
}


@dataclass(frozen=True, slots=True)
class Site:
    """A plant: its climate, its coolant and, where stated, its own effect on log wear per shot (None: drawn)."""

    plant_id: str
    temp_mean_c: float
    temp_swing_c: float
    rh_mean_pct: float
    rh_swing_pct: float  # > 0: damper in winter, < 0: damper in summer
    chloride_mg_m2_day: float
    so2_mg_m2_day: float
    coolant_temp_c: float
    conditioned: bool = False
    effect: float | None = None


@dataclass(frozen=True, slots=True)
class Resin:
    """A resin by its ISO 1043 symbols, and its own effect on log wear per shot (None: drawn)."""

    resin_id: str
    family: str
    filler_pct: float = 0.0
    filler_kind: str = ""
    corrosive: bool = False
    effect: float | None = None


@dataclass(frozen=True, slots=True)
class Design:
    """What a family of sister tools makes, and the resins it is made in, the usual one first."""

    design_id: str
    line: Line
    resin_ids: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WearTruth:
    """True parameters of wear. Effects are on the natural log; slopes raise log wear per shot.

    `filler_soft` and `filler_hard` are per ten per cent of glass. `class_deviation`, `steel` and `coating` shift log life; a class
    that is left out deviates by a draw of sd `class_sd`. `storage` is the share of its class's or band's characteristic life
    that a year in a conditioned store costs a tool that is neither oiled nor wrapped; `storage_preserved` and
    `storage_corrosivity` are what oil and each unit of log corrosivity add to its log. Idle time beyond a pause costs the
    same at the plant. `sudden_per_life` counts sudden stops per exp(mu) machine shots, `sudden_per_handling` per set-up or
    move.
    """

    shape: float = 3.0
    offset: float = 0.0
    class_deviation: Mapping[str, float] = field(default_factory=dict)
    class_sd: float = 0.15
    steel: Mapping[str, float] = field(
        default_factory=lambda: {"prehard": 0.0, "hard": 1.1, "stainless": 1.1, "aluminium": -1.6, "copper_alloy": -0.7}
    )
    tool_sd: float = 0.30
    design_sd: float = 0.20
    maker_sd: float = 0.15
    plant_sd: float = 0.20
    resin_sd: float = 0.15
    coating: Mapping[str, float] = field(
        default_factory=lambda: {"chrome": 0.35, "nickel": 0.15, "nitride": 0.45, "pvd": 0.60, "dlc": 0.55}
    )
    filler_soft: float = 0.36
    filler_hard: float = 0.16
    corrosive_plain: float = 0.50
    corrosive_plated: float = 0.22
    corrosive_stainless: float = 0.12
    sweating: float = 0.35
    log_corrosivity: float = 0.10
    modification: float = 0.10
    rejuvenation: float = 0.35
    rejuvenation_fade: float = 0.70
    setup_shots: float = 400.0
    storage: float = 0.0
    storage_preserved: float = -0.8
    storage_corrosivity: float = 0.6
    sudden_per_life: float = 0.20
    sudden_per_handling: float = 0.001
    sudden_plant_sd: float = 0.30


@dataclass(frozen=True, slots=True)
class Habits:
    """What owner and plants do. Rates are per tool and year, shares are of the cases named."""

    runs_per_year: float = 4.3
    years_per_life: float = 6.5  # median years in which a tool is to make its class's median life
    years_per_life_log_sd: float = 0.5
    late_found_share: float = 0.35  # wear-outs found only after the run, with the last good day noted
    worn_row_share: float = 0.5  # wear-outs with their own `worn` row before the renewal
    unstated_share: float = 0.15  # renewals for wear or ahead of it whose cause nobody wrote down
    planned_share: float = 0.45  # lives with a planned renewal, at a share of the class's median life
    planned_low: float = 0.3
    planned_high: float = 0.8
    retire_share: float = 0.15  # worn tools that are not renewed
    refurbish_share: float = 0.5  # of the renewals, while fewer than two refurbishments since the last retool
    obsolete_rate: float = 0.025
    design_change_rate: float = 0.01
    move_rate: float = 0.08
    store_rate: float = 0.05
    store_elsewhere_share: float = 0.3  # stays at another place than the tool's plant
    preserved_share: float = 0.65
    preserved_unstated_share: float = 0.2  # stays of which nobody wrote down whether the tool was oiled
    modify_rate: float = 0.06
    hold_rate: float = 0.02
    order_share: float = 0.06  # live tools with a replacement on order at the as-of day
    other_resin_share: float = 0.2
    parts_share: float = 0.12  # runs recorded in parts
    continued_share: float = 0.08  # runs recorded in two rows without a new set-up


@dataclass(frozen=True, slots=True)
class Fleet:
    """Everything that a simulated fleet follows from; the same settings give the same records.

    Parameters
    ----------
    sites, resins : tuples
        Plants in which tools run and resins that they run in; at least one of each.
    designs : tuple of Design
        Left empty, `n_designs` are made up.
    law : {"weibull", "lognormal", "loglogistic"}
        Law of a life's capacity. All three share median and log-standard deviation of the Weibull law of `truth.shape`.
    tail : float or None
        Degrees of freedom of Student-t tool effects of the same standard deviation, > 2; None is normal.
    unseen_sites : int
        How many of `sites`, from the end, no tool has run at by the as-of day.
    filler_power : float
        Power of the share of filler by which log wear grows; 30 per cent of glass cost the same whatever it is.
    added_plant : bool
        What a plant and its air cost is added to what a shot costs in its job, in the place of multiplying it.

    Raises
    ------
    ValueError
        Where a setting contradicts another.
    """

    sites: tuple[Site, ...]
    resins: tuple[Resin, ...]
    n_tools: int = 120
    seed: int = 1
    years: int = 10
    as_of: date = date(2026, 6, 30)
    law: Law = "weibull"
    tail: float | None = None
    unseen_sites: int = 0
    filler_power: float = 1.0
    added_plant: bool = False
    designs: tuple[Design, ...] = ()
    n_designs: int = 45
    n_makers: int = 10
    class_shares: Mapping[str, float] = field(default_factory=lambda: {"101": 0.12, "102": 0.30, "103": 0.38, "104": 0.17, "105": 0.03})
    late_entry_share: float = 0.15  # tools older than the records, shots known
    unknown_entry_share: float = 0.0  # of these, tools whose shots before the records nobody knows
    unknown_class_share: float = 0.04
    unknown_steel_share: float = 0.0  # tools whose steel nobody wrote down, whatever it is
    coated_share: float = 0.0
    late_history_share: float = 0.0  # tools whose renewals are on record only from some years after their first run
    own_band_share: float = 0.05
    readings_share: float = 0.0  # tools that are measured at the end of their runs
    noted_rate: float = 0.0  # defects noted a run, over whole lives
    also_measured: Mapping[str, int] = field(default_factory=dict)  # tools measured besides, each by a stream of its own of this number
    truth: WearTruth = field(default_factory=WearTruth)
    habits: Habits = field(default_factory=Habits)

    def __post_init__(self) -> None:
        if self.n_tools < 1 or self.years < 2:
            raise ValueError("a fleet needs at least one tool and two years")
        if self.law not in get_args(Law):
            raise ValueError(f"law is one of {', '.join(get_args(Law))}, not {self.law}")
        if self.tail is not None and self.tail <= 2.0:
            raise ValueError("tail must be above 2 degrees of freedom, where a standard deviation exists")
        if not self.resins or not 0 <= self.unseen_sites < len(self.sites):
            raise ValueError("a fleet needs a resin and at least one site that is not unseen")
        if set(self.class_shares) - set(CLASSES):
            raise ValueError(f"service classes are {', '.join(CLASSES)}")

    @property
    def first_day(self) -> date:
        return date(self.as_of.year - self.years, self.as_of.month, 1)

    @property
    def seen_sites(self) -> tuple[Site, ...]:
        return self.sites[: len(self.sites) - self.unseen_sites]
