"""The tools of a simulated fleet as they truly are."""

import math
from dataclasses import dataclass, replace

import numpy as np

from wearfit.demo.settings import CAP_TO_MEDIAN, CLASS_MEDIAN_SHOTS, CLASSES, FLOOR_TO_MEDIAN, USUAL_STEEL, Design, Fleet
from wearfit.demo.world import DAYS_PER_YEAR, World

Band = tuple[float | None, float | None]

CYCLE_S = {"101": (9.0, 16.0), "102": (14.0, 26.0), "103": (20.0, 38.0), "104": (28.0, 50.0), "105": (40.0, 75.0)}
CAVITIES = {"101": (4, 8, 16), "102": (2, 4, 8), "103": (1, 2, 4), "104": (1, 1, 2), "105": (1,)}
OTHER_STEELS = {"101": ("stainless",), "102": ("prehard", "stainless"), "103": ("hard", "stainless")}
OTHER_STEEL_SHARE = 0.12
LONGEST_RUN_DAYS = 28


@dataclass(frozen=True, slots=True)
class Tool:
    """One tool as it truly is. `log_life` is log eta; `class_log_life` the part of it that class and band give."""

    tool_id: str
    service_class: str
    class_stated: bool
    band: Band
    design: Design
    maker_id: str
    steel: str
    coating: str  # "" for none
    steel_stated: bool
    history_from: int | None  # [proleptic day] from which renewals are on record, where that is later than the first run
    effect: float
    log_life: float
    class_log_life: float
    cavities: int
    cycle_time_s: float
    commissioned: int  # [proleptic day]
    opening_shots: int
    opening_life_shots: int
    opening_known: bool
    first_site: str
    shots_per_run: float
    runs_per_year: float

    @property
    def usual_steel(self) -> bool:
        return self.steel == USUAL_STEEL[self.service_class]


def draw_tools(world: World, rng: np.random.Generator, extra_rng: np.random.Generator) -> tuple[Tool, ...]:
    """Draw the fleet; a design's sister tools share class, line and resins, and each design has a tool while they last.

    Coatings, and gaps in what is written of a tool, come from a stream of their own.
    """
    settings = world.settings
    designs = world.designs[: settings.n_tools]
    popularity = rng.gamma(2.0, size=len(designs))
    extra = rng.choice(len(designs), size=settings.n_tools - len(designs), p=popularity / popularity.sum())
    owners = np.sort(np.concatenate([np.arange(len(designs)), extra]))
    classes = _spread_classes(settings, np.bincount(owners, minlength=len(designs)), rng)
    width = max(3, len(str(settings.n_tools)))
    drawn = [_draw_tool(world, f"T-{i + 1:0{width}d}", designs[owner], classes[owner], rng) for i, owner in enumerate(owners.tolist())]
    return tuple(_with_coating_and_gaps(world, tool, extra_rng) for tool in drawn)


def _spread_classes(settings: Fleet, tools_of_design: np.ndarray, rng: np.random.Generator) -> list[str]:
    """Class of each design, taken in random order, so that the tools of each class come near the stated share."""
    shares = np.array([settings.class_shares.get(c, 0.0) for c in CLASSES])
    order = rng.permutation(len(tools_of_design))
    middle = np.cumsum(tools_of_design[order]) - 0.5 * tools_of_design[order]
    codes = np.empty(len(order), dtype=np.int64)
    codes[order] = np.searchsorted(np.cumsum(shares / shares.sum()), middle / settings.n_tools)
    return [CLASSES[c] for c in codes]


def _draw_band(service_class: str, rng: np.random.Generator) -> Band:
    """A band as a purchase order may word it: a floor, a cap, or both, near the class's median."""
    median = CLASS_MEDIAN_SHOTS[service_class] * math.exp(rng.normal(0.0, 0.2))
    step = 10.0 ** math.floor(math.log10(median) - 1.0)
    low, high = step * round(median * 0.75 / step), step * round(median * 1.3 / step)
    return ((low, high), (low, None), (None, high))[int(rng.integers(3))]


def band_median(band: Band) -> float:
    """Median life of a band with a floor, a cap or both. [shots]"""
    low, high = band
    if low is not None and high is not None:
        return math.sqrt(low * high)
    if low is not None:
        return low * FLOOR_TO_MEDIAN
    if high is not None:
        return high * CAP_TO_MEDIAN
    raise ValueError("a band has a floor, a cap or both")


def _unit_effect(rng: np.random.Generator, tail: float | None) -> float:
    """A draw of unit standard deviation: normal, or Student t of `tail` degrees of freedom scaled to it."""
    return float(rng.standard_normal()) if tail is None else float(rng.standard_t(tail)) * math.sqrt((tail - 2.0) / tail)


def _draw_tool(world: World, tool_id: str, design: Design, service_class: str, rng: np.random.Generator) -> Tool:
    settings, truth, habits = world.settings, world.settings.truth, world.settings.habits
    maker_id = list(world.maker)[int(rng.integers(settings.n_makers))]
    usual = USUAL_STEEL[service_class]
    own_band = service_class != "105" and rng.random() < settings.own_band_share
    band = _draw_band(service_class, rng) if own_band else (None, None)
    others = OTHER_STEELS.get(service_class, ())
    steel = others[int(rng.integers(len(others)))] if others and rng.random() < OTHER_STEEL_SHARE else usual

    median = band_median(band) if own_band else CLASS_MEDIAN_SHOTS[service_class]
    deviation = 0.0 if own_band else world.service_class[service_class]
    class_log_life = math.log(median) - math.log(math.log(2.0)) / truth.shape + truth.offset + deviation
    effect = truth.tool_sd * _unit_effect(rng, settings.tail)
    group_effects = truth.steel[steel] - truth.steel[usual] + world.design[design.design_id] + world.maker[maker_id]

    cycle_time_s = round(float(rng.uniform(*CYCLE_S[service_class])), 1)
    runs_per_year = habits.runs_per_year * math.exp(rng.normal(0.0, 0.3))
    years = habits.years_per_life * math.exp(rng.normal(0.0, habits.years_per_life_log_sd))
    old = service_class != "105" and rng.random() < settings.late_entry_share
    this_life = int(median * rng.uniform(0.1, 0.45)) if old else 0
    earlier_life = int(median * rng.uniform(0.3, 0.8)) if old and rng.random() < 0.2 else 0
    age_days = int(rng.integers(200, 2000))
    days_in = int((world.last_day - world.first_day - 3) * rng.random() ** 1.5)
    seen = settings.seen_sites
    return Tool(
        tool_id=tool_id,
        service_class=service_class,
        class_stated=service_class == "105" or rng.random() >= settings.unknown_class_share,
        band=band,
        design=design,
        maker_id=maker_id,
        steel=steel,
        coating="",
        steel_stated=True,
        history_from=None,
        effect=effect,
        log_life=class_log_life + group_effects + effect,
        class_log_life=class_log_life,
        cavities=int(rng.choice(CAVITIES[service_class])),
        cycle_time_s=cycle_time_s,
        commissioned=world.first_day - age_days if old else world.first_day + days_in,
        opening_shots=this_life + earlier_life,
        opening_life_shots=this_life,
        opening_known=not old or rng.random() >= settings.unknown_entry_share,
        first_site=seen[int(rng.integers(len(seen)))].plant_id,
        shots_per_run=min(median / (years * runs_per_year), 0.8 * LONGEST_RUN_DAYS * shots_per_day(cycle_time_s)),
        runs_per_year=runs_per_year,
    )


def _with_coating_and_gaps(world: World, tool: Tool, rng: np.random.Generator) -> Tool:
    settings = world.settings
    coated, unknown_steel, late, which, years = rng.random(5).tolist()
    coating = ""
    if tool.service_class != "105" and coated < settings.coated_share:
        coating = list(settings.truth.coating)[int(which * len(settings.truth.coating))]
    history_from = None
    if late < settings.late_history_share:
        history_from = max(tool.commissioned, world.first_day) + int((2.0 + 2.0 * years) * DAYS_PER_YEAR)
    return replace(
        tool,
        coating=coating,
        log_life=tool.log_life + settings.truth.coating.get(coating, 0.0),
        steel_stated=unknown_steel >= settings.unknown_steel_share,
        history_from=None if history_from is None or history_from > world.last_day - DAYS_PER_YEAR else history_from,
    )


def shots_per_day(cycle_time_s: float) -> float:
    """Shots of a day in three shifts, at 80 per cent of the press's time."""
    return 0.80 * 86400.0 / cycle_time_s
