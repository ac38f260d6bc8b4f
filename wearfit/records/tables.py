"""The record tables: every table and column, its unit, its bounds and what it means."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Final

from wearfit.records.columns import Column, Table

CLASSES: Final = ("101", "102", "103", "104", "105")
STEELS: Final = ("prehard", "hard", "stainless", "aluminium", "copper_alloy")
EVENTS: Final = (
    "worn", "retool", "refurbish", "retire", "service", "modify", "store", "take_out", "move", "hold", "release", "order",
)  # fmt: skip
CAUSES: Final = ("wear", "damage", "planned", "obsolete", "design_change")

# No number of a fleet is larger; what is, is a slip that would drown all others. Judgement: one shot a second for 300 years is 1e10.
MOST: Final = 1e15
_MOST: Final = {
    "shots": 1e10, "shots a month": 1e8, "parts": 1e12, "units": 1e12, "parts a unit": 1e6, "set-ups": 1e5, "weeks": 5_200, "money": 1e12,
    "mg/(m2 day)": 1e6,
}  # fmt: skip

_WHOLE_UNITS: Final = ("shots", "parts", "set-ups", "units", "shots a month")


def _id(name: str, meaning: str) -> Column:
    return Column(name, "text", required=True, meaning=meaning)


def _amount(
    name: str, meaning: str, unit: str, low: float | None = 0, high: float | None = None, required: bool = False, default: str = ""
) -> Column:
    whole = unit in _WHOLE_UNITS
    high = _MOST.get(unit, MOST) if high is None else high
    return Column(name, "number", required=required, low=low, high=high, unit=unit, meaning=meaning, default=default, whole=whole)


TOOL_ID: Final = _id("tool_id", "The tool's own number, written the same way in every table. An insert set is a tool of its own.")

TOOLS: Final = Table(
    "tools",
    (
        TOOL_ID,
        Column("service_class", "choice", choices=CLASSES, meaning="Service class of a mould for a machine up to 400 t. Blank with "
               "no band: not known, and the forecast mixes all the classes. Over 400 t leave it blank and give the band."),
        _amount("band_low", "Fewest shots that the purchase order promises, in place of the class's band. Alone it is a floor.",
                "shots", low=1),
        _amount("band_high", "Most shots that the purchase order allows for, in place of the class's band. Alone it is a cap.",
                "shots", low=1),
        Column("design_id", "text", meaning="Drawing that the tool was cut from; sister tools share it and learn from each "
               "other, and so do insert sets of one base for one part."),
        Column("maker_id", "text", meaning="Toolmaker."),
        Column("cavities", "count", low=1, high=10_000, unit="cavities", whole=True, default="1",
               meaning="How many parts one shot makes with every cavity open."),
        Column("cavity_steel", "choice", choices=STEELS, meaning="What the cavities are cut in. Blank: most likely what is usual "
               "for the class; the others are weighed beside it."),
        _amount("hardness_hrc", "Hardness of the cavities, in place of the name of the steel.", "HRC", high=75),
        Column("commissioned_on", "date", required=True, meaning="Day on which the tool was accepted for production."),
        _amount("opening_shots", "Shots made before the first recorded run, since commissioning. Blank: none if the first run "
                "lies within 60 days of commissioning, else not known and reckoned from the time since and usual use.", "shots"),
        _amount("opening_life_shots", "Of those, the shots made since the last retool or refurbishment.", "shots"),
        Column("history_from", "date", meaning="Renewals before this day would not be in the events table. Blank: the first recorded run."),
        Column("plant_id", "text", meaning="Plant where the tool is, until a later move or run says otherwise."),
        Column("coating", "text", meaning="Coating of the cavities: chrome, nickel, nitride, pvd or dlc. Blank: none."),
        _amount("cycle_time_s", "Usual time from one shot to the next.", "s", low=0.5, high=86400),
        _amount("shots_per_month", "Shots expected in a usual month ahead.", "shots a month"),
        _amount("replacement_cost", "Price of a new tool; one currency throughout.", "money"),
        _amount("refurbish_cost", "Price of a refurbishment; one currency throughout.", "money"),
        _amount("lead_time_weeks", "Median time from order to a replacement that makes good parts.", "weeks"),
    ),
    key=("tool_id",), required=True, meaning="One row a tool.",
)  # fmt: skip

RUNS: Final = Table(
    "runs",
    (
        TOOL_ID,
        _id("plant_id", "Plant that made the run."),
        _id("resin_id", "Resin moulded."),
        Column("started_on", "date", required=True, meaning="First day of the run."),
        Column("ended_on", "date", required=True, meaning="Last day of the run, itself counted."),
        _amount("shots", "Machine cycles made. Where blank, they are reckoned from the parts.", "shots"),
        _amount("parts", "Good parts made, out of all cavities together.", "parts"),
        Column("active_cavities", "count", low=1, high=10_000, unit="cavities", whole=True,
               meaning="Cavities open in this run. Blank: all of the tool's."),
        _amount("scrap_parts", "Parts thrown away, start-up included. Blank: 3 % of all, a judgement.", "parts"),
        _amount("cycle_time_s", "Time from one shot to the next in this run.", "s", low=0.5, high=86400),
        _amount("setups", "Times the tool was set up for this run. Blank: one, and none where the run goes on from one of "
                "the same tool, plant and resin that ended at most 3 days before.", "set-ups"),
    ),
    key=("tool_id", "plant_id", "resin_id", "started_on"), required=True, repeats=True, one_of=(("shots", "parts"),),
    meaning="One row a production run of one tool at one plant in one resin.",
)  # fmt: skip

COUNTER: Final = Table(
    "counter",
    (
        TOOL_ID,
        Column("date", "date", required=True, meaning="Day of the reading."),
        _amount("counter_shots", "What the shot counter showed, on its own zero; only differences count.", "shots", required=True),
    ),
    key=("tool_id", "date"), meaning="Readings of the shot counters.",
)  # fmt: skip

EVENTS_TABLE: Final = Table(
    "events",
    (
        TOOL_ID,
        Column("date", "date", required=True, meaning="Day of the event."),
        Column("event", "choice", required=True, choices=EVENTS, meaning="worn: found worn out. retool: new cavities. refurbish: "
               "part of the life restored. retire: never used again. service: stripped, cleaned, greased. modify: the cavity "
               "changed. store, take_out: laid up and fetched back. move: sent to another plant. hold, release: stopped for a "
               "hazard on the part, and freed. order: a replacement ordered."),
        Column("cause", "choice", choices=CAUSES, meaning="Why a tool was renewed or retired; planned: ahead of wear. Blank: not stated."),
        # Blanked, the wear-out counts as exact on its date, a little more than is known; without its row it would be none at all.
        Column("last_good_on", "date", meaning="Day on which the parts were last known good; it wore out between then and the date."),
        Column("back_on", "date", meaning="Day on which the tool was back in service."),
        Column("plant_id", "text", meaning="Where a move went to, or the place of a store, written as a row of plants."),
        Column("preserved", "flag", meaning="1 where a stored tool was oiled or wrapped, 0 where it was not."),
        # Blanked, nothing counts as cut new, as it would without the row, which still tells that the cavity was changed.
        _amount("renewed_share", "Share of the wearing surface that a modification cut new.", "share, 0 to 1", high=1, default="0"),
        _amount("shots_at", "Shots since commissioning at the event.", "shots"),
        Column("due_on", "date", meaning="Day on which an ordered replacement is due."),
        _amount("cost", "What it cost; one currency throughout.", "money"),
        Column("note", "text", free=True, meaning="Anything else, in free words; defects that it names, such as flash, are weighed."),
    ),
    key=("tool_id", "date", "event"), required=True, meaning="What happened to the tools other than running.",
)  # fmt: skip

READINGS: Final = Table(
    "readings",
    (
        TOOL_ID,
        Column("date", "date", required=True, meaning="Day of the measurement."),
        _id("feature", "What was measured, such as a gate diameter or a parting line step."),
        Column("value", "value", required=True, low=-MOST, high=MOST, unit="as measured",
               meaning="The result; <0.02 means below what the gauge can show."),
        _amount("limit", "Value at which the tool is worn out.", "as measured", low=-MOST, required=True),
        # Blanked, a dimension of 12 mm with a limit of 12.3 would have run from 0, and look all but worn out from its first day.
        replace(_amount("new_value", "Value when new.", "as measured", low=-MOST, default="0"), blank_misleads=True),
        _amount("resolution", "Smallest step that the gauge shows.", "as measured"),
    ),
    key=("tool_id", "date", "feature"), repeats=True,
    meaning="Inspection measurements that run from new to their limit as the tool wears. Two in a row over it are a wear-out.",
)  # fmt: skip

PLANTS: Final = Table(
    "plants",
    (
        _id("plant_id", "Plant or store, written the same way in every table."),
        _amount("latitude", "North positive.", "degrees", low=-90, high=90),
        _amount("longitude", "East positive.", "degrees", low=-180, high=180),
        _amount("coolant_temp_c", "Temperature at which cooling water enters the moulds.", "degC", low=-40, high=200),
        _amount("chloride_mg_m2_day", "Chloride deposited from the air.", "mg/(m2 day)"),
        _amount("so2_mg_m2_day", "Sulphur dioxide deposited from the air.", "mg/(m2 day)"),
        Column("conditioned", "flag", meaning="1 where the hall air is dried or conditioned, 0 where it is not."),
    ),
    key=("plant_id",), meaning="Plants and stores, and the air they stand in.",
)  # fmt: skip

CLIMATE: Final = Table(
    "climate",
    (
        _id("plant_id", "Plant."),
        Column("month", "month", meaning="Month of a monthly mean."),
        Column("timestamp", "timestamp", meaning="Local date and time of an hourly record, such as 2024-07-01T14:00."),
        # Wider than air can be: kelvin and Fahrenheit, and hygrometers that pass 100, are told from the whole of a plant's rows.
        _amount("temp_c", "Air temperature.", "degC", low=-90, high=345, required=True),
        _amount("rh_pct", "Relative humidity.", "%", high=110, required=True),
        Column("place", "choice", choices=("outdoor", "hall"), meaning="Where it was measured.", default="outdoor"),
    ),
    key=("plant_id", "month", "timestamp", "place"), one_of=(("month", "timestamp"),), meaning="Air at the plants, by month or by hour.",
)  # fmt: skip

RESINS: Final = Table(
    "resins",
    (
        _id("resin_id", "Resin, written the same way in every table."),
        _id("family", "ISO 1043-1 symbol of the polymer, such as ABS, PP, PVC-P or PA66."),
        _amount("filler_pct", "Filler by mass. Blank: none.", "%", high=100),
        Column("filler_kind", "text", meaning="ISO 1043-2 symbol of the filler, such as GF, MF or T."),
        Column("corrosive", "flag", meaning="1 where the resin gives off acid when hot, 0 where it does not. Blank: as its family does."),
    ),
    key=("resin_id",), meaning="Resins.",
)  # fmt: skip

PLAN: Final = Table(
    "plan",
    (
        Column("month", "month", required=True, meaning="Month in which it is to be made."),
        Column("tool_id", "text", meaning="Tool that is to make it."),
        Column("design_id", "text", meaning="Or the design; the shots are shared by its live tools as they were used of late."),
        _amount("shots", "Machine cycles to be made.", "shots"),
        _amount("units", "Or units of the product to be made.", "units"),
        Column("plant_id", "text", meaning="Plant that is to make it."),
        Column("resin_id", "text", meaning="Resin it is to be made in."),
        Column("product_id", "text", meaning="Product it is made for."),
    ),
    key=("month", "tool_id", "design_id", "product_id"), repeats=True, one_of=(("tool_id", "design_id"), ("shots", "units")),
    meaning="What is to be made.",
)  # fmt: skip

BILL: Final = Table(
    "bill",
    (
        _id("product_id", "Product."),
        _id("design_id", "Design it needs; several products may share one."),
        _amount("parts_per_unit", "Parts of this design in one unit of the product.", "parts a unit", required=True),
    ),
    key=("product_id", "design_id"), meaning="Which designs a product needs.",
)  # fmt: skip

ALIASES: Final = Table(
    "aliases",
    (
        _id("old_tool_id", "Number that the tool had before."),
        _id("tool_id", "Number that it has now."),
        Column("since", "date", meaning="First day of the new number."),
    ),
    key=("old_tool_id",), meaning="Tools that were given another number.",
)  # fmt: skip


def _by_name(tables: Iterable[Table]) -> dict[str, Table]:
    return {table.name: table for table in tables}


TABLES: Final[dict[str, Table]] = _by_name((TOOLS, RUNS, COUNTER, EVENTS_TABLE, READINGS, PLANTS, CLIMATE, RESINS, PLAN, BILL, ALIASES))
