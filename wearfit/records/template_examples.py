"""The example rows of the template: one small invented history that hangs together over all the tables."""

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Final

from wearfit.records.template_names import EXAMPLE

Value = str | float | dt.date
Examples = Mapping[str, Sequence[Mapping[str, Value]]]

_day = dt.date.fromisoformat

_ONE, _TWO = EXAMPLE + "1", EXAMPLE + "2"
_INLAND, _COAST, _STORE = EXAMPLE + "inland", EXAMPLE + "coast", EXAMPLE + "store"
_PP, _ABS = EXAMPLE + "pp", EXAMPLE + "abs"
_LID, _TRAY, _BOX = EXAMPLE + "lid", EXAMPLE + "tray", EXAMPLE + "box"


def _run(tool: str, plant: str, resin: str, first: str, last: str, **counted: float) -> dict[str, Value]:
    return {"tool_id": tool, "plant_id": plant, "resin_id": resin, "started_on": _day(first), "ended_on": _day(last), **counted}


def _event(tool: str, date: str, event: str, **more: Value) -> dict[str, Value]:
    return {"tool_id": tool, "date": _day(date), "event": event, **more}


def _step(date: str, value: Value) -> dict[str, Value]:
    return {
        "tool_id": _ONE, "date": _day(date), "feature": "parting line step", "value": value, "limit": 0.15, "new_value": 0,
        "resolution": 0.01,
    }  # fmt: skip


def _year_of_air(plant: str, place: str, temps: Sequence[float], humidities: Sequence[float]) -> list[dict[str, Value]]:
    return [
        {"plant_id": plant, "month": f"2024-{month:02}", "temp_c": temp, "rh_pct": rh, "place": place}
        for month, (temp, rh) in enumerate(zip(temps, humidities, strict=True), start=1)
    ]


EXAMPLES: Final[Examples] = {
    "tools": [
        {
            "tool_id": _ONE, "service_class": "103", "design_id": _LID, "maker_id": EXAMPLE + "maker", "cavities": 4,
            "cavity_steel": "prehard", "commissioned_on": _day("2024-01-15"), "opening_shots": 0, "opening_life_shots": 0,
            "history_from": _day("2024-01-15"), "plant_id": _INLAND, "coating": "nitride", "cycle_time_s": 30, "shots_per_month": 15_000,
            "replacement_cost": 42_000, "refurbish_cost": 6_500, "lead_time_weeks": 12,
        },
        {
            "tool_id": _TWO, "band_low": 100_000, "band_high": 300_000, "design_id": _TRAY, "maker_id": EXAMPLE + "maker", "cavities": 2,
            "hardness_hrc": 52, "commissioned_on": _day("2024-03-01"), "plant_id": _COAST, "cycle_time_s": 40, "shots_per_month": 8_000,
            "replacement_cost": 30_000, "refurbish_cost": 5_000, "lead_time_weeks": 10,
        },
    ],
    "runs": [
        _run(_ONE, _INLAND, _PP, "2024-02-05", "2024-03-31", shots=120_000, active_cavities=4, cycle_time_s=30, setups=1),
        _run(_ONE, _INLAND, _PP, "2024-05-06", "2024-06-30", parts=465_600, scrap_parts=14_400, active_cavities=4),
        _run(_ONE, _INLAND, _ABS, "2024-09-02", "2024-10-06", shots=70_000),
        _run(_ONE, _COAST, _ABS, "2024-11-11", "2024-12-08", shots=50_000),
        _run(_TWO, _COAST, _PP, "2024-03-11", "2024-04-05", shots=30_000),
        _run(_TWO, _COAST, _PP, "2024-05-06", "2024-05-24", shots=25_000),
        _run(_TWO, _COAST, _PP, "2024-10-07", "2024-10-25", shots=20_000),
    ],
    "counter": [
        {"tool_id": _ONE, "date": _day(date), "counter_shots": shots}
        for date, shots in (
            ("2024-02-04", 0), ("2024-03-31", 120_000), ("2024-06-30", 240_000), ("2024-10-06", 310_000), ("2024-12-08", 360_000),
        )
    ],
    "events": [
        _event(_ONE, "2024-04-08", "service", cost=400, note="Stripped, cleaned and greased."),
        _event(_ONE, "2024-10-07", "worn", last_good_on=_day("2024-09-27"), note="Flash along the parting line."),
        _event(_ONE, "2024-10-14", "retool", cause="wear", back_on=_day("2024-11-04"), shots_at=310_000, cost=21_000),
        _event(_ONE, "2024-11-05", "move", plant_id=_COAST),
        _event(_ONE, "2024-12-09", "order", due_on=_day("2025-03-10"), cost=42_000),
        _event(_TWO, "2024-04-15", "modify", cause="design_change", renewed_share=0.2, cost=3_500, note="Rib moved in both cavities."),
        _event(_TWO, "2024-06-03", "store", plant_id=_STORE, preserved=1),
        _event(_TWO, "2024-09-09", "take_out"),
        _event(_TWO, "2024-09-16", "refurbish", cause="planned", back_on=_day("2024-09-27"), shots_at=55_000, cost=5_000),
        _event(_TWO, "2024-10-28", "hold", note="Sharp edge at the gate."),
        _event(_TWO, "2024-10-30", "release"),
    ],
    "readings": [
        _step("2024-02-04", "<0.01"),
        _step("2024-04-08", 0.06),
        _step("2024-07-01", 0.11),
        _step("2024-10-07", 0.16),
        _step("2024-12-09", 0.02),
    ],
    "plants": [
        {
            "plant_id": _INLAND, "latitude": 50, "longitude": 10, "coolant_temp_c": 12, "chloride_mg_m2_day": 3, "so2_mg_m2_day": 5,
            "conditioned": 0,
        },
        {
            "plant_id": _COAST, "latitude": 39, "longitude": 0, "coolant_temp_c": 10, "chloride_mg_m2_day": 60, "so2_mg_m2_day": 4,
            "conditioned": 1,
        },
        {"plant_id": _STORE, "latitude": 39, "longitude": 0, "conditioned": 0},
    ],
    "climate": [
        *_year_of_air(_INLAND, "outdoor", (1, 2, 6, 10, 14, 18, 20, 19, 15, 10, 5, 2), (86, 82, 76, 70, 70, 71, 71, 73, 79, 84, 88, 88)),
        *_year_of_air(_COAST, "hall", (22, 22, 22, 22, 23, 24, 24, 24, 24, 23, 22, 22), (45, 45, 46, 47, 48, 50, 50, 50, 49, 48, 46, 45)),
    ],
    "resins": [
        {"resin_id": _PP, "family": "PP", "filler_pct": 20, "filler_kind": "T", "corrosive": 0},
        {"resin_id": _ABS, "family": "ABS"},
    ],
    "plan": [
        {"month": "2025-01", "tool_id": _ONE, "shots": 15_000, "plant_id": _COAST, "resin_id": _ABS, "product_id": _BOX},
        {"month": "2025-02", "design_id": _TRAY, "units": 12_000, "plant_id": _COAST, "resin_id": _PP, "product_id": _BOX},
    ],
    "bill": [
        {"product_id": _BOX, "design_id": _LID, "parts_per_unit": 1},
        {"product_id": _BOX, "design_id": _TRAY, "parts_per_unit": 2},
    ],
    "aliases": [{"old_tool_id": EXAMPLE + "old-1", "tool_id": _ONE, "since": _day("2024-04-01")}],
}  # fmt: skip
"""Table to rows, each row from column to value; what is not named is blank."""
