"""What is planned of the tools of a simulated fleet, whatever becomes of them: conditions, use, looks, renewals, readings."""

import datetime as dt
from dataclasses import dataclass
from typing import Final

PLANTS: Final = ("Heath", "Mill", "Quay")
RESINS: Final = ("acid", "bare", "glass", "plain")
DESIGNS: Final = ("cup", "lid", "tray", "urn")
MAKERS: Final = ("East", "North", "South")
FEATURES: Final = ("flash", "pin")
FIRST_YEAR: Final = 2018
BAND: Final = (100_000.0, 240_000.0)  # [shots] of the tools that have one of their own
USUAL_LIFE: Final = {"102": 800_000.0, "103": 400_000.0, "104": 80_000.0, "own_band": 155_000.0}  # [shots]
PACE: Final = 1.5  # times the months of the records, in which a tool makes the shots of a usual life
USUAL_CYCLE, FAST_CYCLE = 10.0, 10.0 / 2.0**0.5  # [s]
FAST: Final = 0.5  # log2 of their ratio
LOOK_EVERY: Final = 4  # [months]
PAUSE: Final = range(12, 17)  # months in which some tools stand

PLANTS_TABLE: Final = """
plant_id,coolant_temp_c,chloride_mg_m2_day,so2_mg_m2_day,conditioned
Heath,12,2,5,1
Mill,,,,
Quay,10,120,8,0
"""
CLIMATE_TABLE: Final = "plant_id,month,temp_c,rh_pct\n" + "\n".join(
    f"Quay,2018-{month:02d},{temp},85" for month, temp in enumerate([5, 5, 7, 10, 14, 17, 19, 19, 16, 13, 9, 6], 1)
)
RESINS_TABLE: Final = """
resin_id,family,filler_pct,filler_kind
acid,PVC,,
glass,PA66,30,GF
plain,ABS,,
"""  # of `bare` nothing is known


@dataclass(frozen=True)
class PlannedTool:
    """One tool and what is planned of it. Months are counted from the first."""

    tool_id: str
    service_class: str  # or "own_band"
    steel: str
    coating: str
    design: str
    maker: str
    opening: float  # [shots] of its life before the records
    shots: int  # a month
    plant: tuple[str, ...]  # by month
    resin: tuple[str, ...]  # by month
    fast: tuple[bool, ...]  # by month
    stands: tuple[bool, ...]  # by month
    stored: bool  # else it idles where it stands
    preserved: int
    looks: tuple[bool, ...]  # by month: its parts are looked at; all along where it is watched
    watched: bool
    planned: dict[int, str]  # month -> refurbish, retool, modify, or modify with the share that it cuts new
    worn: str  # what it comes to once worn: refurbish or retool
    read: dict[int, tuple[str, ...]]  # month -> features


def planned_fleet(tools: int, months: int) -> tuple[PlannedTool, ...]:
    """A fleet of every kind in turn, the same for every truth."""
    return tuple(_planned(i, months) for i in range(tools))


def _planned(i: int, months: int) -> PlannedTool:
    service_class = ("103", "104", "102", "103", "own_band")[i % 5]
    steels = {
        "102": ("hard", "stainless", "prehard"), "103": ("prehard", "hard", "prehard", "stainless"),
        "104": ("aluminium", "prehard", "copper_alloy"), "own_band": ("prehard",),
    }[service_class]  # fmt: skip
    coated = i % 3 == 1 and service_class != "own_band"
    planned: dict[int, str] = {}
    if i % 5 == 2:
        planned |= {8: "refurbish", 19: "refurbish"}
    if i % 10 == 7:
        planned |= {9: "retool"}
    if i % 6 == 4:
        planned |= {4: "modify", 18: "modify"}
    if i % 6 == 1:
        planned |= {7: "modify 0.3"}
    watched = i % 4 != 1 and i % 8 != 3
    stands = tuple(i % 7 in (3, 5) and m in PAUSE for m in range(months))
    read = {}
    if i % 3 == 0:
        read = {m: FEATURES if m % 6 == 1 else FEATURES[:1] for m in range(1, months, 3)}
    return PlannedTool(
        tool_id=f"T{i:02d}",
        service_class=service_class,
        steel=steels[(i // 5) % len(steels)],
        coating=("chrome", "nickel", "nitride", "pvd", "dlc")[(i // 3) % 5] if coated else "",
        design=(*DESIGNS, "")[i % 5],
        maker=(*MAKERS, "")[(i // 2) % 4],
        opening=0.25 * USUAL_LIFE[service_class] if i % 6 == 0 else 0.0,
        shots=round(USUAL_LIFE[service_class] / (PACE * months) * (0.7, 1.0, 1.4)[i % 3]),
        plant=tuple(PLANTS[(i + (m // 9 if i % 2 else 0)) % len(PLANTS)] for m in range(months)),
        resin=tuple(RESINS[(i + (m // 3) % 2 * (1 + i % 2)) % len(RESINS)] for m in range(months)),
        fast=tuple(i % 4 == 2 and m % 6 >= 3 for m in range(months)),
        stands=stands,
        stored=i % 7 == 5,
        preserved=int(i % 14 == 5),
        looks=tuple(watched or m % LOOK_EVERY == LOOK_EVERY - 1 or m == months - 1 for m in range(months)),
        watched=watched,
        planned={m: what for m, what in planned.items() if m < months},
        worn="retool" if i % 2 else "refurbish",
        read={m: f for m, f in read.items() if not stands[m]},
    )


def day_of(month: int, day: int) -> dt.date:
    """A day of a month of the records."""
    return dt.date(FIRST_YEAR + month // 12, month % 12 + 1, day)


COMMISSIONED: Final = day_of(0, 1)
LONG_AGO: Final = dt.date(FIRST_YEAR - 2, 1, 1)
