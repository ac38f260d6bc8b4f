"""One tool walked forward, run by run, from its first day in the records to the as-of day."""

import math
from dataclasses import dataclass
from datetime import date

import numpy as np

from wearfit.demo.capacity import cumulative_hazard, draw_capacity
from wearfit.demo.renewals import after_damage, after_wear, renew_as_planned, retire, retool_for_design
from wearfit.demo.run_rows import write_run
from wearfit.demo.settings import Line
from wearfit.demo.tools import LONGEST_RUN_DAYS, Tool, shots_per_day
from wearfit.demo.walk import Check, Life, Row, Walk, close_life, enter, iso, stand_until, storage_wear
from wearfit.demo.world import DAYS_PER_YEAR, World, dry_wear_per_shot, recorded_damp_factor

# Orders by calendar month, January first, mean 1: playthings before the winter holidays, household goods for the garden.
SEASON: dict[Line, tuple[float, ...]] = {
    "playthings": (0.4, 0.4, 0.6, 0.7, 0.9, 1.1, 1.4, 1.7, 1.8, 1.6, 0.9, 0.5),
    "household": (1.1, 1.6, 1.7, 1.5, 1.2, 0.8, 0.6, 0.6, 0.7, 0.7, 0.7, 0.8),
}
SHORTEST_RUN_DAYS = 5
TYPICAL_RUN_DAYS = 12


@dataclass(frozen=True, slots=True)
class Career:
    """What a tool left in the records, and the truth of it at the as-of day. Wear in reference shots."""

    tool: Tool
    runs: tuple[Row, ...]
    events: tuple[Row, ...]
    lives: tuple[Life, ...]
    checks: tuple[Check, ...]
    retired: bool
    worn: bool
    held: bool
    stored: bool
    store: str  # where it is in store
    preserved: bool
    plant_id: str
    spent: float
    capacity: float
    life_shots: int
    refurbishments: int
    modifications: int
    good_at: float  # wear spent when it was last seen good: at its last shot, renewal or look out of store
    stood: float  # wear in store or idle since


def walk_tool(world: World, tool: Tool, rng: np.random.Generator) -> Career:
    """Simulate one tool; `rng` is the tool's own stream."""
    walk = enter(world, tool, rng)
    first = True
    while not walk.retired and walk.free_from <= walk.as_of - 2:
        start = walk.free_from + walk.days(5, 45) if first else _next_start(walk)
        if not first and _something_comes_between(walk, start):
            continue
        first = False
        if start > walk.as_of - 2:
            break
        _run(walk, start)
    if not walk.retired:
        _stand_at_as_of(walk)
    return Career(
        tool,
        tuple(walk.runs),
        tuple(walk.events),
        tuple(walk.lives),
        tuple(walk.checks),
        walk.retired,
        walk.worn,
        walk.held,
        walk.stored_on is not None,
        walk.store,
        walk.preserved,
        walk.plant_id,
        walk.spent,
        walk.capacity,
        walk.life_shots,
        walk.refurbishments,
        walk.modifications,
        walk.good_at,
        walk.stood,
    )


def _next_start(walk: Walk) -> int:
    """First day of the next order: a Poisson process with the line's season, drawn by thinning."""
    season = SEASON[walk.tool.design.line]
    peak = max(season)
    day = float(walk.free_from + 4)
    while day <= walk.as_of:
        day += walk.rng.exponential(DAYS_PER_YEAR / (walk.tool.runs_per_year * peak))
        if walk.rng.random() * peak < season[date.fromordinal(int(day)).month - 1]:
            break
    return int(day)


def _run(walk: Walk, start: int) -> None:
    """Make an order, as far as wear and accidents let it be made."""
    tool, rng, habits, truth = walk.tool, walk.rng, walk.world.settings.habits, walk.world.settings.truth
    per_day = shots_per_day(tool.cycle_time_s)
    wanted = min(tool.shots_per_run * math.exp(rng.normal(-0.08, 0.4)), LONGEST_RUN_DAYS * per_day)
    days = max(math.ceil(wanted / per_day), SHORTEST_RUN_DAYS)
    in_time = min(days, walk.as_of - start + 1)
    shots = max(1, round(wanted * in_time / days))
    days = in_time
    resins = tool.design.resin_ids
    resin_id = resins[1 + walk.days(0, len(resins) - 2)] if len(resins) > 1 and walk.chance(habits.other_resin_share) else resins[0]
    # A prototype insert is swapped in a frame that stays in the press: no set-up of its own.
    setups = 0 if tool.service_class == "105" else 2 if walk.chance(0.03) else 1
    stand_until(walk, start)
    if walk.handle(walk.plant_id, setups):
        after_damage(walk, start)
        return

    damp = recorded_damp_factor(walk.world, walk.plant_id, start, start + days - 1)
    per_shot = dry_wear_per_shot(walk.world, tool.steel, tool.coating, walk.plant_id, resin_id, walk.modifications) * damp
    to_wear_out = (walk.capacity - walk.spent) / per_shot - truth.setup_shots * setups
    sudden_rate = truth.sudden_per_life * math.exp(walk.world.plant_sudden[walk.plant_id] - tool.class_log_life)
    to_sudden_stop = walk.sudden_left / sudden_rate if sudden_rate > 0.0 else math.inf
    rusted = to_wear_out < -truth.setup_shots * setups  # on the shop floor, since its last run
    worn = to_wear_out < min(shots, to_sudden_stop)
    broken = not worn and to_sudden_stop < shots
    found_late = worn and not rusted and walk.chance(habits.late_found_share)
    made = shots
    if broken or (worn and not found_late):
        made = min(shots, max(1, math.ceil(to_sudden_stop if broken else to_wear_out)))
    made_days = max(1, math.ceil(days * made / shots))
    end = start + made_days - 1

    walk.spent += per_shot * (made + truth.setup_shots * setups)
    walk.sudden_left -= sudden_rate * made
    walk.life_shots += made
    walk.shots_since_service += made
    walk.free_from, walk.idle_from = end + 1, end
    write_run(walk, resin_id, start, made_days, made, setups)
    # A day that is both a run's first and its last cannot tell before from after: what is seen then is dated a day later.
    seen = end if made_days > 1 else end + 1
    if worn:
        if walk.sudden_left <= 0.0:
            walk.sudden_left = rng.exponential()
        late = start - 1 + walk.days(0, min(days - 1, max(0, int(to_wear_out * days / shots)))) if found_late else None
        last_good = walk.seen_good if rusted else late
        after_wear(walk, min(end + walk.days(1, 25), walk.as_of) if found_late else seen, last_good)
    elif broken:
        after_damage(walk, seen)
    else:
        walk.seen_good, walk.stood = end, 0.0
        walk.checks.append(Check(end, len(walk.lives), walk.spent, walk.capacity))
        _look_after(walk, end)


def _look_after(walk: Walk, end: int) -> None:
    """Renew as planned, or strip and clean, after a run that went well."""
    if walk.life_shots >= walk.planned_at:
        renew_as_planned(walk, end + 1 + walk.days(0, 20))
    elif walk.shots_since_service > 50_000 and walk.chance(0.5):
        walk.note(end + 1, "service")
        walk.shots_since_service = 0
        walk.free_from = end + 2


def _something_comes_between(walk: Walk, start: int) -> bool:
    """Let at most one thing other than an order happen before day `start`; True where the order is off."""
    habits = walk.world.settings.habits
    rates = {
        "obsolete": habits.obsolete_rate,
        "redesign": habits.design_change_rate,
        "move": habits.move_rate if len(walk.world.settings.seen_sites) > 1 else 0.0,
        "store": habits.store_rate,
        "modify": habits.modify_rate,
        "hold": habits.hold_rate,
    }
    total = sum(rates.values())
    years = (start - walk.free_from + TYPICAL_RUN_DAYS) / DAYS_PER_YEAR
    if not walk.chance(-math.expm1(-total * years)):
        return False
    kind = str(walk.rng.choice(list(rates), p=np.array(list(rates.values())) / total))
    day = walk.free_from + walk.days(0, max(0, start - walk.free_from - 1))
    if day > walk.as_of:
        return False
    stand_until(walk, day)
    {"obsolete": _drop, "redesign": retool_for_design, "move": _move, "store": _store, "modify": _modify, "hold": _hold}[kind](walk, day)
    return True


def _drop(walk: Walk, day: int) -> None:
    close_life(walk, "other")
    retire(walk, day, "obsolete" if walk.chance(0.85) else "")


def _move(walk: Walk, day: int) -> None:
    others = [s.plant_id for s in walk.world.settings.seen_sites if s.plant_id != walk.plant_id]
    walk.plant_id = others[walk.days(0, len(others) - 1)]
    walk.note(day, "move", plant_id=walk.plant_id)
    walk.free_from = day + walk.days(8, 40)
    if walk.handle(walk.plant_id, 1):
        after_damage(walk, day + 1)


def _store(walk: Walk, day: int) -> None:
    habits, others = walk.world.settings.habits, [s.plant_id for s in walk.world.settings.seen_sites if s.plant_id != walk.plant_id]
    elsewhere = bool(others) and walk.chance(habits.store_elsewhere_share)
    walk.store = others[walk.days(0, len(others) - 1)] if elsewhere else walk.plant_id
    walk.preserved = walk.chance(habits.preserved_share)
    unstated = walk.chance(habits.preserved_unstated_share)
    walk.note(day, "store", plant_id=walk.store, preserved="" if unstated else str(int(walk.preserved)))
    last_good = day if walk.spent < walk.capacity else walk.seen_good
    out = day + walk.days(120, 800)
    walk.free_from, walk.idle_from = out + 1, None if walk.idle_from is None else out
    if out > walk.as_of:
        walk.stored_on = day
        return
    walk.note(out, "take_out")
    walk.spent += storage_wear(walk.world, walk.tool, walk.store, walk.preserved, out - day)
    if walk.spent >= walk.capacity:
        after_wear(walk, out, last_good)
    else:
        walk.seen_good, walk.stood = out, 0.0


def _modify(walk: Walk, day: int) -> None:
    """Change the cavity: a share of the surface may be cut new, what is left of the life's luck stays."""
    settings = walk.world.settings
    life, shape = math.exp(walk.tool.log_life), settings.truth.shape
    left = cumulative_hazard(settings.law, shape, walk.capacity / life) - cumulative_hazard(settings.law, shape, walk.spent / life)
    share = 0.05 * walk.days(2, 8) if walk.chance(0.35) else 0.0
    walk.spent *= 1.0 - share
    walk.stood *= 1.0 - share
    walk.capacity = draw_capacity(settings.law, shape, walk.tool.log_life, walk.spent, max(left, 0.0))
    walk.modifications += 1
    if share > 0.0 and walk.idle_from is not None:
        walk.idle_from = day
    back = day + walk.days(7, 35)
    walk.note(day, "modify", cause="design_change", renewed_share=f"{share:g}" if share else "", back_on=walk.dated(back))
    walk.free_from = back + 1


def _hold(walk: Walk, day: int) -> None:
    walk.note(day, "hold", note="sharp flash, parts quarantined")
    out = day + walk.days(15, 150)
    walk.note(out, "release")
    walk.held = out > walk.as_of
    walk.free_from = out + 1


def _stand_at_as_of(walk: Walk) -> None:
    """Settle what a live tool has been through by the as-of day."""
    if walk.stored_on is not None:
        # Nobody has looked into the crate yet: a mould that rusted through in it is not known to be worn.
        wear = storage_wear(walk.world, walk.tool, walk.store, walk.preserved, walk.as_of - walk.stored_on)
        walk.spent += wear
        walk.stood += wear
    else:
        stand_until(walk, walk.as_of)
    walk.good_at = walk.spent - walk.stood
    if not walk.worn:
        walk.spent = min(walk.spent, math.nextafter(walk.capacity, 0.0))
    if not walk.worn:
        close_life(walk, "running")
        if walk.stored_on is None and walk.chance(walk.world.settings.habits.order_share):
            walk.note(walk.as_of - walk.days(1, 60), "order", due_on=iso(walk.as_of + walk.days(20, 110)))
