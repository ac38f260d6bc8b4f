"""What is true of a simulated fleet before anything runs: weather and group effects, and the wear that they cause."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np

from wearfit.demo.settings import CLASSES, FILLER_AGGRESSIVENESS, HARD_STEELS, PLATINGS, Design, Fleet, Resin
from wearfit.demo.weather import Weather, make_weather

DAYS_PER_YEAR = 365.25
USUAL_FILLER = 3.0  # tens of per cent of glass, at which every power of the filler costs the same
LEAST_WEAR = 0.1  # reference shots that a shot costs, where a plant takes wear away


@dataclass(frozen=True, slots=True)
class World:
    """Truth shared by all tools: effects by name, on log wear (plant, resin) or on log life (the rest).

    `dampness` holds, by plant, the running sum over the days of the records of exp(sweating slope * sweating share),
    shape (day + 1,): its difference over a run, by the run's days, is the run's mean factor on wear.
    """

    settings: Fleet
    first_day: int  # [proleptic day]
    last_day: int
    weather: Mapping[str, Weather]
    dampness: Mapping[str, np.ndarray]
    plant: Mapping[str, float]
    plant_sudden: Mapping[str, float]
    resins: Mapping[str, Resin]
    resin: Mapping[str, float]
    service_class: Mapping[str, float]
    design: Mapping[str, float]
    maker: Mapping[str, float]
    designs: tuple[Design, ...]


def draw_world(settings: Fleet, rng: np.random.Generator) -> World:
    """Draw weather and group effects; effects that the settings state are taken as stated."""
    truth, first = settings.truth, settings.first_day
    designs = settings.designs or _invent_designs(settings, rng)
    weather = {s.plant_id: make_weather(s, first.month, settings.years * 12 + 1, rng) for s in settings.sites}
    month = _month_of_day(first, settings.as_of)
    damp = {plant_id: np.exp(truth.sweating * w.sweating)[month] for plant_id, w in weather.items()}
    normal = rng.standard_normal
    return World(
        settings=settings,
        first_day=first.toordinal(),
        last_day=settings.as_of.toordinal(),
        weather=weather,
        dampness={plant_id: np.concatenate([[0.0], np.cumsum(d)]) for plant_id, d in damp.items()},
        plant={s.plant_id: truth.plant_sd * float(normal()) if s.effect is None else s.effect for s in settings.sites},
        plant_sudden={s.plant_id: truth.sudden_plant_sd * float(normal()) for s in settings.sites},
        resins={r.resin_id: r for r in settings.resins},
        resin={r.resin_id: truth.resin_sd * float(normal()) if r.effect is None else r.effect for r in settings.resins},
        service_class={c: truth.class_deviation.get(c, truth.class_sd * float(normal())) for c in CLASSES},
        design={d.design_id: truth.design_sd * float(normal()) for d in designs},
        maker={f"maker-{i + 1:02d}": truth.maker_sd * float(normal()) for i in range(settings.n_makers)},
        designs=designs,
    )


def _month_of_day(first: date, last: date) -> np.ndarray:
    """Month of each day from `first` to `last`, counted from the month of `first`."""
    days = np.arange(np.datetime64(first), np.datetime64(last) + np.timedelta64(1, "D"))
    months = days.astype("datetime64[M]").astype(np.int64)
    return np.asarray(months - months[0])


def _invent_designs(settings: Fleet, rng: np.random.Generator) -> tuple[Design, ...]:
    ids = [r.resin_id for r in settings.resins]
    designs = []
    for i in range(min(settings.n_designs, settings.n_tools)):
        chosen = rng.choice(len(ids), size=min(len(ids), 1 + int(rng.integers(2))), replace=False)
        designs.append(Design(f"design-{i + 1:04d}", "playthings" if i % 2 else "household", tuple(ids[j] for j in chosen)))
    return tuple(designs)


def dry_wear_per_shot(world: World, steel: str, coating: str, plant_id: str, resin_id: str, modifications: int) -> float:
    """Reference shots that one machine shot costs in a mould that never sweats."""
    truth, resin = world.settings.truth, world.resins[resin_id]
    filler = FILLER_AGGRESSIVENESS.get(resin.filler_kind, 1.0) * resin.filler_pct / 10.0
    if world.settings.filler_power != 1.0:
        filler = USUAL_FILLER * (filler / USUAL_FILLER) ** world.settings.filler_power
    log_wear = (
        world.plant[plant_id]
        + world.resin[resin_id]
        + (truth.filler_hard if steel in HARD_STEELS else truth.filler_soft) * filler
        + truth.log_corrosivity * world.weather[plant_id].log_corrosivity
        + truth.modification * modifications
    )
    if resin.corrosive:
        bare = truth.corrosive_plated if coating in PLATINGS else truth.corrosive_plain
        log_wear += truth.corrosive_stainless if steel == "stainless" else bare
    if world.settings.added_plant:
        at_plant = world.plant[plant_id] + truth.log_corrosivity * world.weather[plant_id].log_corrosivity
        return max(math.exp(log_wear - at_plant) + math.exp(at_plant) - 1.0, LEAST_WEAR)
    return math.exp(log_wear)


def recorded_damp_factor(world: World, plant_id: str, start: int, end: int) -> float:
    """Mean factor that sweating put on wear from day `start` to day `end`, both included and within the records."""
    total = world.dampness[plant_id]
    return float(total[end - world.first_day + 1] - total[start - world.first_day]) / (end - start + 1)


def seasonal_damp_factor(world: World, plant_id: str, month: int | None = None) -> float:
    """Factor that sweating puts on wear in a calendar month (1-12) of no year in particular; None: over the year."""
    season = world.weather[plant_id].season
    shares = season if month is None else season[month - 1 : month]
    return float(np.exp(world.settings.truth.sweating * shares).mean())
