"""The state of one tool on its way through the years, and the rows it leaves behind."""

import math
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

import numpy as np

from wearfit.demo.capacity import draw_capacity, virtual_age
from wearfit.demo.tools import Tool
from wearfit.demo.world import DAYS_PER_YEAR, World, dry_wear_per_shot, seasonal_damp_factor

Row = dict[str, str]
Ending = Literal["wear", "damage", "planned", "other", "running"]
LAW_MEDIAN = math.log(2.0)
FREE_IDLE_DAYS = 60  # a pause between two orders that costs nothing
MOST_REFURBISHMENTS = 2  # since the last retool


@dataclass(frozen=True, slots=True)
class Life:
    """One life as it truly was. Wear in reference shots; `capacity` is what the life could bear."""

    tool_id: str
    opened_by: str
    opened_on: int
    virtual_age: float
    capacity: float
    spent: float
    shots: int
    ending: Ending
    stated: bool


@dataclass(frozen=True, slots=True)
class Check:
    """The wear at the end of a run after which somebody could have measured."""

    day: int
    life: int
    spent: float
    capacity: float


@dataclass(slots=True)
class Walk:
    """State that moves forward with a tool. Not shared: one walk a tool, with its own generator."""

    world: World
    tool: Tool
    rng: np.random.Generator
    free_from: int
    plant_id: str
    spent: float = 0.0
    entry_age: float = 0.0
    capacity: float = 0.0
    sudden_left: float = 0.0
    planned_at: float = math.inf
    life_shots: int = 0
    shots_since_service: int = 0
    refurbishments: int = 0
    modifications: int = 0
    opened_by: str = "commissioned"
    opened_on: int = 0
    worn: bool = False
    held: bool = False
    stored_on: int | None = None
    store: str = ""  # where it is in store
    preserved: bool = False
    idle_from: int | None = None  # since when it stands on the shop floor, None before its first run
    idle_counted: int = 0  # up to which day that has been counted
    seen_good: int = 0  # the last day on which its parts, or its surfaces when they were new, were seen
    good_at: float = 0.0  # `spent` less `stood` at the as-of day
    stood: float = 0.0  # part of `spent` that came in store or idle since then
    retired: bool = False
    runs: list[Row] = field(default_factory=list)
    events: list[Row] = field(default_factory=list)
    lives: list[Life] = field(default_factory=list)
    checks: list[Check] = field(default_factory=list)

    @property
    def as_of(self) -> int:
        return self.world.last_day

    def days(self, low: int, high: int) -> int:
        """A whole number of days from `low` to `high`, both included."""
        return int(self.rng.integers(low, high + 1))

    def chance(self, share: float) -> bool:
        return bool(self.rng.random() < share)

    def note(self, day: int, event: str, **cells: str) -> None:
        """Write an event, if its day has come by the as-of day; blank cells are left out."""
        if day <= self.as_of:
            row = {"tool_id": self.tool.tool_id, "date": iso(day), "event": event, **cells}
            self.events.append({name: text for name, text in row.items() if text})

    def dated(self, day: int) -> str:
        """A day as text, blank where it lies after the as-of day."""
        return iso(day) if day <= self.as_of else ""

    def handle(self, plant_id: str, times: int) -> bool:
        """Move or set up the tool `times` over; True where it was dropped or crashed."""
        truth = self.world.settings.truth
        self.sudden_left -= truth.sudden_per_handling * times * math.exp(self.world.plant_sudden[plant_id])
        return self.sudden_left <= 0.0


def iso(day: int) -> str:
    return date.fromordinal(day).isoformat()


def enter(world: World, tool: Tool, rng: np.random.Generator) -> Walk:
    """A tool at the start of its records, with the wear of its shots before them already spent."""
    walk = Walk(world, tool, rng, max(tool.commissioned, world.first_day), tool.first_site)
    per_shot = dry_wear_per_shot(world, tool.steel, tool.coating, tool.first_site, tool.design.resin_ids[0], 0)
    walk.spent = tool.opening_life_shots * per_shot * seasonal_damp_factor(world, tool.first_site)
    walk.life_shots = tool.opening_life_shots
    walk.opened_on = tool.commissioned
    walk.sudden_left = rng.exponential()
    walk.seen_good = walk.free_from
    _open_life(walk)
    return walk


def _open_life(walk: Walk) -> None:
    settings, tool = walk.world.settings, walk.tool
    truth, habits = settings.truth, settings.habits
    walk.entry_age = walk.spent
    walk.capacity = draw_capacity(settings.law, truth.shape, tool.log_life, walk.spent, walk.rng.exponential())
    share = walk.rng.uniform(habits.planned_low, habits.planned_high)
    median = math.exp(tool.class_log_life) * LAW_MEDIAN ** (1.0 / truth.shape)
    walk.planned_at = share * median if walk.chance(habits.planned_share) else math.inf


def storage_wear(world: World, tool: Tool, place: str, preserved: bool, days: int) -> float:
    """Reference shots that so many days in store at a place cost: a share of the class's characteristic life, by corrosivity."""
    truth = world.settings.truth
    log_factor = truth.storage_corrosivity * world.weather[place].log_corrosivity + truth.storage_preserved * preserved
    return truth.storage * math.exp(log_factor + tool.class_log_life) * days / DAYS_PER_YEAR


def stand_until(walk: Walk, day: int) -> None:
    """Let a tool on the shop floor stand until `day`: what goes beyond a pause wears it as an uncovered store would."""
    if walk.idle_from is None or walk.worn:
        return
    counted = max(walk.idle_from + FREE_IDLE_DAYS, walk.idle_counted)
    if day > counted:
        wear = storage_wear(walk.world, walk.tool, walk.plant_id, False, day - counted)
        walk.spent += wear
        walk.stood += wear
        walk.idle_counted = day


def close_life(walk: Walk, ending: Ending, stated: bool = True) -> None:
    """Write down the life that has just ended."""
    walk.lives.append(
        Life(
            walk.tool.tool_id,
            walk.opened_by,
            walk.opened_on,
            walk.entry_age,
            walk.capacity,
            walk.spent,
            walk.life_shots,
            ending,
            stated,
        )
    )


def renew(walk: Walk, kind: Literal["retool", "refurbish"], day: int, after_damage: bool) -> None:
    """Start the next life: at age zero after a retool, at a virtual age after a refurbishment.

    Damage that is mended leaves the age of the wearing surfaces as it was, and is not counted as a refurbishment.
    """
    if kind == "retool":
        walk.spent, walk.refurbishments, walk.modifications = 0.0, 0, 0
    elif not after_damage:
        walk.refurbishments += 1
        walk.spent = virtual_age(walk.world.settings.truth, walk.spent, walk.refurbishments)
    walk.opened_by, walk.opened_on, walk.life_shots, walk.worn, walk.stood = kind, day, 0, False, 0.0
    walk.idle_from, walk.seen_good = None if walk.idle_from is None else day, day
    _open_life(walk)
