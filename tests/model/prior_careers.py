"""Careers of planned tools under a truth, month by month: the bookkeeping of lives in plain loops, none of the model's.

A life's capacity is drawn when it begins, from the law given the age at which it does (Kijima 1989, type II). In each month come
the wear of standing, the set-up, the shots; then readings, then looks, then what was planned, then sudden stops.

Wear-outs are written down as the likelihood takes them. One that comes in the course of a run of a watched tool ends the run at
that shot. One that standing, the set-up or the first shot brings is found at once: it lies between the end of the last run and
that shot. One of a tool that is looked at from time to time is found at the next look. What is planned, and a sudden stop, is a
look. After a renewal for damage or a modification that cuts nothing new the surface is as old as before.

Renewals for other causes come besides, at a rate by the shot that is even over a life. Of what ends a life of a watched tool at a
shot, wear or another cause, nobody writes the cause down in UNSTATED of the cases. A tool that is not watched and found worn when
another cause has it renewed is renewed twice, so that both are on record.
"""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field
from math import ceil, exp, log
from typing import Any, Final

import numpy as np
from prior_design import COMMISSIONED, FAST, LONG_AGO, PlannedTool, day_of
from prior_truth import Truth

from wearfit import law
from wearfit.exposures.covariates import PLANT_COVARIATES
from wearfit.growth import FAULT, FAULT_NOISE

Array = np.ndarray

RUN_BEGINS, RUN_ENDS, PLANNED_ON, STOPS_FROM, STORED_ON, OUT_ON = 2, 22, 24, 25, 28, 1  # days of the month
IDLE_FREE: Final = 60  # [day] of each pause cost nothing
FULL_SETUP_LIFE: Final = 100_000.0  # [shots]
MOST_REFURBISHED: Final = 4  # after so many a worn tool is retooled
GAUGE: Final = 0.03  # least share of the way that it shows
UNSTATED: Final = 0.4  # of the causes that come to pass at a shot on a known day
USUAL_STEEL: Final = {"102": "hard", "103": "prehard", "104": "aluminium"}


@dataclass(frozen=True)
class Wrong:
    """What a simulator does wrong on purpose."""

    log_life: float = 0.0  # added to every tool's
    noise: float = 1.0  # times that of readings


RIGHT: Final = Wrong()


@dataclass(frozen=True)
class Air:
    """Conditions of the plants as recorded, by plant."""

    level: dict[str, Array]  # (plant covariate,)
    spread: dict[str, Array]  # (plant covariate,)
    log_corrosivity: dict[str, float]
    departure: dict[str, Array]  # (month,) of sweating


@dataclass
class Career:
    """A tool's past. Lists of rows as they are written down; the rest is where it stands at the end."""

    tool: PlannedTool
    log_life: float
    tool_effect: float = 0.0
    runs: list[dict[str, Any]] = field(default_factory=list)
    events: list[dict[str, Any]] = field(default_factory=list)
    readings: list[dict[str, Any]] = field(default_factory=list)
    others: int = 0  # renewals for other causes, stated, without those that were planned
    age: float = 0.0  # [reference shots]
    capacity: float = 0.0
    refurbished: int = 0
    modified: int = 0
    paths: dict[str, tuple[float, float]] = field(default_factory=dict)  # of this life's readings, by feature
    last_look: dt.date = COMMISSIONED
    ready: dt.date = COMMISSIONED  # since when it has stood


def log_job(truth: Truth, tool: PlannedTool, resin: str, modified: int, fast: bool) -> float:
    """Log wear per shot that the work brings."""
    c = truth.coefficient
    plated, stainless = tool.coating in ("chrome", "nickel") and tool.steel != "stainless", tool.steel == "stainless"
    total = truth.resin[resin] + c["slope.modification"] * modified + c["slope.speed"] * FAST * fast
    if resin == "glass":
        total += 3.0 * c["slope.filler_hard" if tool.steel in ("hard", "stainless") else "slope.filler_soft"]
    if resin == "acid":
        total += c["slope.corrosive_plated" if plated else "slope.corrosive_stainless" if stainless else "slope.corrosive_plain"]
    return total


def log_place(truth: Truth, air: Air, plant: str) -> float:
    """Log wear per shot that a plant brings in a month like its year's mean."""
    level = air.level[plant] + air.spread[plant] * truth.air_error[plant]
    return truth.plant[plant] + sum(truth.coefficient[f"slope.{c.name}"] * x for c, x in zip(PLANT_COVARIATES, level, strict=True))


def undescribed(truth: Truth, loc: float, sd: float) -> float:
    """Log wear per shot of the resin of which nothing is known, beside its effect."""
    return loc + sd * truth.resin_error["bare"]


def log_life_of(truth: Truth, tool: PlannedTool, log_band: float, tool_effect: float) -> float:
    """Log characteristic life of a tool."""
    c = truth.coefficient
    total = log_band + c[f"class_offset.{tool.service_class}"] + tool_effect
    total += truth.design.get(tool.design, 0.0) + truth.maker.get(tool.maker, 0.0)
    if tool.service_class != "own_band":
        total += c[f"steel.{tool.steel}"] - c[f"steel.{USUAL_STEEL[tool.service_class]}"]
        total += c[f"coating.{tool.coating}"] if tool.coating else 0.0
    return total


def live(
    tool: PlannedTool,
    truth: Truth,
    air: Air,
    log_band: float,
    bare: float,
    usual_shape: float,
    rng: np.random.Generator,
    wrong: Wrong = RIGHT,
) -> Career:
    """Let a tool live as planned.

    Parameters
    ----------
    log_band : float
        mu of its class or band.
    bare : float
        From `undescribed`.
    usual_shape : float
        k of the reference hazard against which the share of wear among causes is told.
    """
    c, shape = truth.coefficient, exp(truth.coefficient["log_shape"])
    band, setup = exp(log_band), exp(c["log_setup"]) * min(1.0, exp(log_band) / FULL_SETUP_LIFE)
    wear_share = truth.share["wear_share"]
    shots_to_other = band / usual_shape * wear_share / (1.0 - wear_share)
    effect = truth.scale["tool"] * rng.standard_normal()
    career = Career(tool, log_life_of(truth, tool, log_band, effect) + wrong.log_life, effect)

    def begin(age: float) -> None:
        """A surface of this age, whose capacity lies beyond it."""
        reached = float(law.cumulative_hazard(age, career.log_life, shape)) + rng.exponential()
        career.age, career.capacity = age, float(law.wear_at(reached, career.log_life, shape))
        for feature in truth.feature:
            sds = exp(c["reading.log_life_sd"]), exp(c["reading.log_life_growth_sd"])
            career.paths[feature] = sds[0] * rng.standard_normal(), sds[1] * rng.standard_normal()

    def renew(what: str, cause: str, day: dt.date, last_good: dt.date | None = None) -> None:
        event = {"event": what, "cause": cause, "date": day, "last_good_on": last_good or ""}
        career.events.append(event)
        if what == "retool":
            career.refurbished = career.modified = 0
            begin(0.0)
        elif cause == "damage":
            begin(career.age)
        else:
            career.refurbished += 1
            begin(career.age * (1.0 - truth.share["refurbish"] * truth.share["repeat"] ** (career.refurbished - 1)))
        career.last_look = career.ready = day

    def wear_per_shot(month: int) -> float:
        resin, plant = tool.resin[month], tool.plant[month]
        job = log_job(truth, tool, resin, career.modified, tool.fast[month]) + bare * (resin == "bare")
        return exp(job + log_place(truth, air, plant) + c["slope.sweating_within"] * air.departure[plant][month])

    opening = exp(log_job(truth, tool, tool.resin[0], 0, False) + bare * (tool.resin[0] == "bare") + log_place(truth, air, tool.plant[0]))
    begin(tool.opening * opening)
    where = tool.plant[0]
    for month in range(len(tool.plant)):
        if tool.stands[month]:
            continue
        begins, planned_end = day_of(month, RUN_BEGINS), day_of(month, RUN_ENDS)
        stood = 0.0
        if month and tool.stands[month - 1]:
            if tool.stored:
                first = month - 1
                while tool.stands[first - 1]:
                    first -= 1
                store, out = day_of(first - 1, STORED_ON), day_of(month, OUT_ON)
                career.events.append({"event": "store", "date": store, "preserved": tool.preserved})
                career.events.append({"event": "take_out", "date": out})
                days, kept = float((out - store).days), c["storage.preserved"] * tool.preserved
            else:
                days, kept = max(0.0, (begins - career.ready).days - float(IDLE_FREE)), 0.0
            rate = c["log_storage"] + kept + c["storage.corrosivity"] * air.log_corrosivity[where]
            stood = exp(rate) * days / 365.25 * band
        where, a = tool.plant[month], wear_per_shot(month)
        lump = stood + setup * a
        room = career.capacity - career.age - lump  # [reference shots] until it is worn
        shots, worn_here = tool.shots, tool.watched and room <= tool.shots * a
        if worn_here:
            shots = max(1, ceil(room / a))
        other = ceil(rng.exponential(shots_to_other))
        by_other = other < shots
        if by_other:
            shots, worn_here = other, False
        unstated = tool.watched and rng.random() < UNSTATED
        end = begins + dt.timedelta(max(1, round((planned_end - begins).days * shots / tool.shots)))
        career.runs.append({"month": month, "started_on": begins, "ended_on": end, "shots": shots, "plant_id": where})
        career.age += lump + a * shots
        career.ready = end
        if not worn_here:
            for feature in tool.read.get(month, ()):
                career.readings.append({"date": end, "feature": feature, "z": _read(career, truth, feature, rng, wrong)})
        stops = rng.poisson(exp(truth.sudden_plant[where]) * (
            exp(c["log_sudden_per_life"] - c[f"class_offset.{tool.service_class}"]) * shots / band + exp(c["log_sudden_per_handling"])
        ))  # fmt: skip
        worn = career.age >= career.capacity
        renewal = "retool" if career.refurbished >= MOST_REFURBISHED else tool.worn
        last_good = career.last_look
        if worn_here and room > a:
            renew(renewal, "" if unstated else "wear", end)
        elif worn_here:
            renew(renewal, "wear", end, last_good)
        elif by_other:
            if worn:
                renew(renewal, "wear", end, last_good)
            renew(renewal, "" if unstated else "planned", end + dt.timedelta(worn))
            career.others += not unstated
        elif worn and (tool.looks[month] or month in tool.planned or stops):
            renew(renewal, "wear", end, last_good)
        if tool.looks[month] or month in tool.planned or stops:
            career.last_look = end
        _planned(career, month, renew, begin)
        for k in range(stops):
            renew("refurbish", "damage", day_of(month, STOPS_FROM + k))
    return career


def _planned(career: Career, month: int, renew: Callable[[str, str, dt.date], None], begin: Callable[[float], None]) -> None:
    """What was planned for a month, whatever wear there is."""
    what = career.tool.planned.get(month, "")
    day = day_of(month, PLANNED_ON)
    if what in ("refurbish", "retool"):
        renew(what, "planned", day)
    elif what:
        share = float(what.partition(" ")[2] or 0.0)
        career.events.append({"event": "modify", "date": day, "renewed_share": share or ""})
        career.modified += 1
        if share:
            begin(career.age * (1.0 - share))
            career.last_look = career.ready = day


def _read(career: Career, truth: Truth, feature: str, rng: np.random.Generator, wrong: Wrong) -> float:
    """Share of the way that one reading shows; NaN below what the gauge can show."""
    level, growth, noise = truth.feature[feature]
    s, g = career.paths[feature]
    scale = FAULT_NOISE if rng.random() < FAULT else wrong.noise * noise
    z = level + s + (growth + g) * log(career.age / career.capacity) + scale * rng.standard_t(4)
    return exp(z) if z >= log(GAUGE) else float("nan")


def commissioned(tool: PlannedTool) -> dt.date:
    return LONG_AGO if tool.opening else COMMISSIONED
