"""What the owner does when a tool wears out, breaks, or is renewed ahead of wear."""

from typing import Literal

from wearfit.demo.walk import MOST_REFURBISHMENTS, Walk, close_life, iso, renew

Fate = Literal["retool", "refurbish", "retire"]

RETOOL_PRICE = {"101": 52_000, "102": 38_000, "103": 26_000, "104": 15_000, "105": 3_500}
REFURBISH_SHARE_OF_PRICE = 0.14
NOTES = ("flash at the parting line", "gate vestige too long", "detail lost on the back face", "pin marks, drag on ejection")


def retire(walk: Walk, day: int, cause: str) -> None:
    """Scrap the tool; the caller has closed its life."""
    walk.note(day, "retire", cause=cause)
    walk.retired = True


def _fate_of_worn(walk: Walk) -> Fate:
    habits = walk.world.settings.habits
    if walk.chance(habits.retire_share):
        return "retire"
    return _kind_of_renewal(walk, habits.refurbish_share)


def _kind_of_renewal(walk: Walk, refurbish_share: float) -> Literal["retool", "refurbish"]:
    return "refurbish" if walk.refurbishments < MOST_REFURBISHMENTS and walk.chance(refurbish_share) else "retool"


def _write_renewal(walk: Walk, kind: Literal["retool", "refurbish"], day: int, cause: str, last_good_on: str = "", note: str = "") -> None:
    price = RETOOL_PRICE[walk.tool.service_class] * (1.0 if kind == "retool" else REFURBISH_SHARE_OF_PRICE)
    cost = f"{round(price * walk.rng.uniform(0.8, 1.25), -2):.0f}" if walk.chance(0.6) else ""
    back = day + (walk.days(2, 8) if kind == "retool" else walk.days(8, 30))
    walk.note(day, kind, cause=cause, last_good_on=last_good_on, back_on=walk.dated(back), cost=cost, note=note)
    walk.free_from = back + 1


def after_wear(walk: Walk, found: int, last_good_on: int | None) -> None:
    """Answer a wear-out found on day `found`; `last_good_on` is None where it was seen as it happened.

    A cause is left unstated only where the renewal tells of the wear-out and stands in the records, so that a blank
    cause is never a silent loss.
    """
    habits, as_of = walk.world.settings.habits, walk.as_of
    walk.worn = True
    last_good = "" if last_good_on is None else iso(last_good_on)
    fate = _fate_of_worn(walk)
    day = found + {"retool": walk.days(45, 120), "refurbish": walk.days(4, 20), "retire": walk.days(1, 40)}[fate]
    unstated = fate != "retire" and last_good_on is None and day <= as_of and walk.chance(habits.unstated_share)
    worn_row = not unstated and (day > as_of or walk.chance(habits.worn_row_share))
    note = NOTES[walk.days(0, len(NOTES) - 1)] if not unstated and walk.chance(0.3) else ""
    close_life(walk, "wear", stated=not unstated)
    if worn_row:
        walk.note(found, "worn", cause="wear", last_good_on=last_good, note=note)
        if fate == "retool" and walk.chance(0.6):
            walk.note(found + walk.days(1, 6), "order", due_on=iso(day - walk.days(0, 10)))
        last_good = note = ""
    if day > as_of:
        walk.free_from = day
        return
    cause = "" if unstated else "wear"
    if fate == "retire":
        walk.note(day, "retire", cause=cause, last_good_on=last_good, note=note)
        walk.retired = True
        return
    _write_renewal(walk, fate, day, cause, last_good, note)
    renew(walk, fate, day, after_damage=False)


def after_damage(walk: Walk, found: int) -> None:
    """Answer a sudden stop seen on day `found`: mend, cut new cavities or scrap."""
    day = min(found + walk.days(0, 6), walk.as_of)
    close_life(walk, "damage")
    walk.sudden_left = walk.rng.exponential()
    draw = walk.rng.random()
    if draw < 0.15:
        retire(walk, day, "damage")
        return
    kind: Literal["retool", "refurbish"] = "refurbish" if draw < 0.75 else "retool"
    _write_renewal(walk, kind, day, "damage")
    renew(walk, kind, day, after_damage=True)


def renew_as_planned(walk: Walk, day: int) -> None:
    """Renew ahead of wear on day `day`, if it comes by the as-of day."""
    if day > walk.as_of:
        return
    stated = not walk.chance(walk.world.settings.habits.unstated_share)
    kind = _kind_of_renewal(walk, 0.4)
    close_life(walk, "planned", stated)
    _write_renewal(walk, kind, day, "planned" if stated else "")
    renew(walk, kind, day, after_damage=False)


def retool_for_design(walk: Walk, day: int) -> None:
    """Cut a new cavity set because the product changed."""
    close_life(walk, "other")
    _write_renewal(walk, "retool", day, "design_change")
    renew(walk, "retool", day, after_damage=False)
