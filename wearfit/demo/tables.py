"""The simulated fleet as record tables: text cells, blank ones left out, and CSV files of them."""

import csv
import io
import math
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path

import numpy as np

from wearfit.demo.career import Career
from wearfit.demo.renewals import REFURBISH_SHARE_OF_PRICE, RETOOL_PRICE
from wearfit.demo.settings import Fleet
from wearfit.demo.walk import Row, iso
from wearfit.demo.world import World

Tables = dict[str, list[Row]]

COLUMNS: Mapping[str, tuple[str, ...]] = {
    "tools": (
        "tool_id",
        "service_class",
        "band_low",
        "band_high",
        "design_id",
        "maker_id",
        "cavities",
        "cavity_steel",
        "hardness_hrc",
        "commissioned_on",
        "opening_shots",
        "opening_life_shots",
        "history_from",
        "plant_id",
        "coating",
        "cycle_time_s",
        "shots_per_month",
        "replacement_cost",
        "refurbish_cost",
        "lead_time_weeks",
    ),
    "runs": (
        "tool_id",
        "plant_id",
        "resin_id",
        "started_on",
        "ended_on",
        "shots",
        "parts",
        "scrap_parts",
        "active_cavities",
        "cycle_time_s",
        "setups",
    ),
    "events": (
        "tool_id",
        "date",
        "event",
        "cause",
        "last_good_on",
        "back_on",
        "plant_id",
        "preserved",
        "renewed_share",
        "due_on",
        "cost",
        "note",
    ),
    "readings": ("tool_id", "date", "feature", "value", "limit", "new_value", "resolution"),
    "plants": ("plant_id", "coolant_temp_c", "chloride_mg_m2_day", "so2_mg_m2_day", "conditioned"),
    "climate": ("plant_id", "month", "temp_c", "rh_pct", "place"),
    "resins": ("resin_id", "family", "filler_pct", "filler_kind", "corrosive"),
    "plan": ("month", "tool_id", "design_id", "shots", "plant_id", "resin_id"),
}

SURELY_NEW_DAYS = 60  # a first run within so many days of commissioning says by itself that nothing was made before
COATING_WORDS = {
    "chrome": ("chrome", "hard chrome"), "nickel": ("nickel", "electroless Ni"), "nitride": ("nitride", "nitrided"),
    "pvd": ("pvd", "TiN"), "dlc": ("dlc", "DLC"),
}  # fmt: skip
HARDNESS_HRC = {"prehard": (29, 36), "hard": (48, 53)}


def record_tables(world: World, careers: Sequence[Career], rng: np.random.Generator) -> Tables:
    """Every table but readings and plan, as the owner of the careers would have written them."""
    settings = world.settings
    return {
        "tools": [_tool_row(c, rng) for c in careers],
        "runs": [row for c in careers for row in c.runs],
        "events": [row for c in careers for row in sorted(c.events, key=lambda r: r["date"]) if _on_record(c, row)],
        "plants": [
            {
                "plant_id": s.plant_id,
                "coolant_temp_c": f"{s.coolant_temp_c:g}",
                "chloride_mg_m2_day": f"{s.chloride_mg_m2_day:g}",
                "so2_mg_m2_day": f"{s.so2_mg_m2_day:g}",
                "conditioned": str(int(s.conditioned)),
            }
            for s in settings.sites
        ],
        "climate": [row for s in settings.sites for row in _climate_rows(settings, s.plant_id, world)],
        "resins": [
            _filled(
                resin_id=r.resin_id,
                family=r.family,
                filler_pct=f"{r.filler_pct:g}" if r.filler_pct else "",
                filler_kind=r.filler_kind,
                corrosive=str(int(r.corrosive)),
            )
            for r in settings.resins
        ],
    }


def _on_record(career: Career, row: Row) -> bool:
    """Whether an event was written down: of a tool whose history starts late, renewals and what called for them are lost."""
    since = career.tool.history_from
    return since is None or row["event"] not in ("worn", "retool", "refurbish") or row["date"] >= iso(since)


def _filled(**cells: str) -> Row:
    return {name: text for name, text in cells.items() if text}


def _climate_rows(settings: Fleet, plant_id: str, world: World) -> list[Row]:
    weather, first = world.weather[plant_id], settings.first_day
    months = [divmod(first.year * 12 + first.month - 1 + i, 12) for i in range(len(weather.temp_c))]
    return [
        {"plant_id": plant_id, "month": f"{year:04d}-{month + 1:02d}", "temp_c": f"{t:g}", "rh_pct": f"{rh:g}", "place": weather.place}
        for (year, month), t, rh in zip(months, weather.temp_c.tolist(), weather.rh_pct.tolist(), strict=True)
    ]


def _tool_row(career: Career, rng: np.random.Generator) -> Row:
    tool = career.tool
    price = RETOOL_PRICE[tool.service_class] * (1.0 + 0.25 * math.log2(tool.cavities)) * rng.uniform(0.85, 1.2)
    written, hardness = rng.random(), HARDNESS_HRC.get(tool.steel)
    measured = int(rng.integers(hardness[0], hardness[1] + 1)) if hardness else None
    steel_text = hardness_text = ""
    if measured is not None and written < 0.15:
        hardness_text = str(measured)
    elif not tool.usual_steel or written < 0.65:
        steel_text = tool.steel
    if not tool.steel_stated:
        steel_text = hardness_text = ""
    low, high = tool.band
    first_run = date.fromisoformat(career.runs[0]["started_on"]).toordinal() if career.runs else tool.commissioned
    counted = tool.opening_known and (tool.opening_shots > 0 or first_run - tool.commissioned >= SURELY_NEW_DAYS)
    per_month = tool.shots_per_run * tool.runs_per_year / 12.0
    step = max(1.0, 10.0 ** math.floor(math.log10(per_month) - 1.0))
    return _filled(
        tool_id=tool.tool_id,
        service_class=tool.service_class if tool.class_stated else "",
        band_low=f"{low:.0f}" if low else "",
        band_high=f"{high:.0f}" if high else "",
        design_id=tool.design.design_id,
        maker_id=tool.maker_id,
        cavities=str(tool.cavities),
        cavity_steel=steel_text,
        hardness_hrc=hardness_text,
        commissioned_on=iso(tool.commissioned),
        opening_shots=str(tool.opening_shots) if counted else "",
        opening_life_shots=str(tool.opening_life_shots) if counted else "",
        history_from="" if tool.history_from is None else iso(tool.history_from),
        plant_id=tool.first_site,
        coating=COATING_WORDS.get(tool.coating, ("",))[int(tool.tool_id[-1]) % 2] if tool.coating else "",
        cycle_time_s=f"{tool.cycle_time_s:g}",
        shots_per_month=f"{step * round(per_month / step):.0f}" if rng.random() < 0.25 else "",
        replacement_cost=f"{round(price, -2):.0f}",
        refurbish_cost=f"{round(price * REFURBISH_SHARE_OF_PRICE, -2):.0f}",
        lead_time_weeks=str(int(rng.integers(7, 18))),
    )


def csv_bytes(columns: Sequence[str], rows: Sequence[Row]) -> bytes:
    """A CSV file of `rows`: UTF-8, line feeds, a column for every name in `columns`."""
    text = io.StringIO()
    writer = csv.DictWriter(text, columns, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue().encode()


def write_tables(tables: Mapping[str, Sequence[Row]], folder: Path) -> None:
    """Write each table that has rows as `folder`/NAME.csv; columns beyond the known ones come last."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, rows in tables.items():
        if rows:
            known = COLUMNS[name]
            unknown = sorted({column for row in rows for column in row} - set(known))
            (folder / f"{name}.csv").write_bytes(csv_bytes((*known, *unknown), rows))
