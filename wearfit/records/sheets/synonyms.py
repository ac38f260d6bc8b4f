"""The words that owners of moulds write for tables and columns, each only where it can mean nothing else.

English trade wording, common practice, from memory. A word may stand for several tables; then the header tells which. A word
that could mean a second thing in its table is not taken: it stands in OFFERED, and is offered to the reader.
"""

from collections.abc import Iterable, Mapping
from functools import cache
from typing import Final

from wearfit.records.columns import Table
from wearfit.records.names import bare_name
from wearfit.records.tables import TABLES

Words = tuple[str, ...]

TABLE_WORDS: Final[Mapping[str, Words]] = {
    "tools": ("tool list", "tool register", "tool asset list", "asset list", "tooling", "tooling list", "moulds", "mould list",
              "mould register"),
    "runs": ("run log", "run list", "production", "production log", "production runs", "production data", "shot log",
             "production history"),
    "counter": ("counters", "counter readings", "shot counter", "shot counters", "shot readings", "shot log", "meter readings"),
    "events": (
        "event log", "repairs", "repair log", "repair history", "maintenance", "maintenance log", "maintenance history", "retools",
        "retool history", "retool log", "tool history", "mould history", "tool events", "services", "service history",
    ),
    "readings": ("inspections", "inspection log", "inspection results", "measurements", "measurement log", "dimensions",
                 "gauge readings"),
    "plants": ("plant list", "factories", "factory list", "sites", "site list", "moulders", "moulder list"),
    "climate": ("weather", "weather data", "climate data", "humidity", "temperature and humidity"),
    "resins": ("resin list", "materials", "material list", "polymers", "polymer list", "resin grades", "material grades"),
    "plan": ("production plan", "plans", "forecast", "demand", "demand plan", "planned production"),
    "bill": ("bom", "bill of materials", "parts list", "product structure"),
    "aliases": ("alias", "alias list", "renumbered", "renumbered tools", "renumbering", "old numbers", "tool renumbering"),
}  # fmt: skip


def _ids(stems: Iterable[str], *more: str) -> Words:
    """Every stem alone and with what people put behind it, then the words that stand as they are."""
    ends = ("", " id", " no", " nr", " num", " number", " code", " ref")
    return (*(stem + end for stem in stems for end in ends), *more)


_TOOL: Final = _ids(("tool", "mould"), "tool and mould no", "tool/mould", "mould/tool")
_PLANT: Final = _ids(("plant", "factory", "site", "moulder", "moulding plant"), "plant name", "factory name", "site name", "moulder name")
_RESIN: Final = _ids(("resin", "material", "compound"), "resin name", "material name", "resin grade", "material grade", "moulding material")
_DESIGN: Final = _ids(("design", "drawing"), "design name", "dwg no", "dwg")
_PRODUCT: Final = _ids(("product",), "product name", "sku")
_SHOTS: Final = (
    "cycles",
    "strokes",
    "no of shots",
    "number of shots",
    "shots made",
    "machine cycles",
    "machine shots",
    "shots run",
    "shot count",
)
_NOTE: Final = ("notes", "remark", "remarks", "comment", "comments")

COLUMN_WORDS: Final[Mapping[str, Mapping[str, Words]]] = {
    "tools": {
        "tool_id": _TOOL,
        "service_class": ("class", "tool class", "mould class", "class of tool", "class of mould"),
        "band_low": ("guaranteed shots", "guarantee shots", "shot guarantee", "minimum shots", "min shots", "shots guaranteed"),
        "band_high": ("maximum shots", "max shots"),
        "design_id": _DESIGN,
        "maker_id": ("maker", "toolmaker", "tool maker", "mouldmaker", "mould maker", "made by", "built by", "toolmaker name",
                     "maker name"),
        "cavities": ("cav", "cavs", "no of cavities", "no of cav", "number of cavities", "cavity count", "impressions",
                     "number of impressions", "no of impressions"),
        "cavity_steel": ("steel", "steel grade", "cavity material", "cavity steel grade", "steel of cavities"),
        "hardness_hrc": ("hrc", "rockwell c", "hardness rockwell c"),
        "commissioned_on": ("commissioned", "commissioning date", "date commissioned", "date of commissioning", "commissioning",
                            "in service since",
                            "in service from", "in service date", "put into service", "acceptance date", "accepted on", "date accepted",
                            "start of production", "sop", "sop date"),
        "opening_shots": ("opening count", "initial shots", "starting shots", "shots at start"),
        "history_from": ("history since", "history starts", "records from", "records since"),
        "plant_id": (*_PLANT, "plant now", "current plant"),
        "coating": ("surface coating", "cavity coating"),
        "cycle_time_s": ("cycle time", "cycle seconds", "cycle time sec", "cycle time secs", "cycle time seconds", "cycle sec"),
        "shots_per_month": ("monthly shots", "shots/month", "shots a month", "expected shots per month"),
        "replacement_cost": ("cost of replacement", "replacement price", "new tool cost", "new tool price", "price of a new tool"),
        "refurbish_cost": ("refurbishment cost", "refurb cost", "cost of refurbishment"),
        "lead_time_weeks": ("lead time wk", "lead time wks", "weeks lead time"),
    },
    "runs": {
        "tool_id": _TOOL,
        "plant_id": _PLANT,
        "resin_id": (*_RESIN, "grade", "polymer"),
        "started_on": ("start", "started", "start date", "date started", "date start", "start day", "from", "from date", "date from",
                       "begin",
                       "began", "begin date", "beginning", "first day", "run start", "run started", "run from", "production start",
                       "start of run",
                       "run start date"),
        "ended_on": ("end", "ended", "end date", "date ended", "date end", "end day", "to", "to date", "date to", "until", "till",
                     "finish", "finished",
                     "finish date", "date finished", "last day", "run end", "run ended", "run to", "run until", "production end",
                     "end of run",
                     "run end date"),
        "shots": _SHOTS,
        "parts": ("good parts", "parts good", "good pieces", "good qty", "good quantity", "qty", "quantity", "pieces", "pcs",
                  "ok parts", "parts ok",
                  "parts made", "parts produced", "no of parts", "number of parts", "good"),
        "active_cavities": ("open cavities", "cavities open", "cavities used", "cavities in use", "cavities active", "cavities run",
                            "cavities running",
                            "active cav"),
        "scrap_parts": ("scrap", "scrapped", "scrapped parts", "scrap qty", "scrap quantity", "scrap pcs", "scrap pieces", "rejects",
                        "rejected",
                        "rejected parts", "reject parts", "reject qty", "bad parts", "parts scrapped", "parts rejected"),
        "cycle_time_s": ("cycle time", "cycle seconds", "cycle time sec", "cycle time secs", "cycle time seconds", "cycle sec",
                         "actual cycle time"),
        "setups": ("no of setups", "number of setups", "set-ups made", "setup count"),
    },
    "counter": {
        "tool_id": _TOOL,
        "date": ("reading date", "date of reading", "date read", "read on", "reading day", "day of reading", "read date"),
        "counter_shots": ("counter", "counter reading", "counter value", "shot counter", "shot counter reading", "reading", "meter",
                          "meter reading",
                          "counter count", "shots on counter", "counter shots reading"),
    },
    "events": {
        "tool_id": _TOOL,
        "date": ("event date", "date of event", "day of event", "event day", "repair date", "date of repair", "service date"),
        "event": ("event type", "type of event", "event kind", "action", "activity"),
        "cause": ("reason", "root cause", "event cause", "reason for event"),
        "last_good_on": ("last good", "last good date", "last good parts on", "last known good", "parts last good"),
        "back_on": ("back", "back in service", "back in service on", "returned to service", "return to service"),
        "plant_id": (*_PLANT, "moved to", "move to", "destination", "destination plant", "to plant"),
        "preserved": ("oiled", "oiled or wrapped", "wrapped", "preservation"),
        "renewed_share": ("share renewed", "share of surface renewed"),
        "shots_at": ("shots at event", "shots since commissioning", "shots when done"),
        "due_on": ("due", "due date", "delivery due", "due day"),
        "cost": ("costs", "price", "repair cost", "cost of repair", "amount"),
        "note": (*_NOTE, "description", "details", "text"),
    },
    "readings": {
        "tool_id": _TOOL,
        "date": ("inspection date", "date of inspection", "measured on", "date measured", "date of measurement", "measurement date",
                 "inspected on"),
        "feature": ("characteristic", "dimension", "measured feature", "feature measured", "what was measured", "measuring point",
                    "measurement point"),
        "value": ("measured value", "measurement", "measured", "result", "actual value"),
        "limit": ("wear limit", "limit value", "reject limit", "rejection limit"),
        "new_value": ("value when new", "value as new", "new", "as new", "initial value", "original value"),
        "resolution": ("gauge resolution", "smallest step", "resolution of gauge"),
    },
    "plants": {
        "plant_id": _PLANT,
        "latitude": ("lat",),
        "longitude": ("long", "lon", "lng"),
        "coolant_temp_c": ("coolant temperature", "coolant temp", "cooling water temperature", "cooling water temp"),
        "chloride_mg_m2_day": ("chloride deposition", "chloride deposition rate"),
        "so2_mg_m2_day": ("so2 deposition", "so2 deposition rate", "sulphur dioxide deposition"),
        "conditioned": ("air conditioned", "air conditioning", "aircon", "air con", "hall conditioned", "conditioned hall",
                        "dried or conditioned"),
    },
    "climate": {
        "plant_id": _PLANT,
        "month": ("year month", "year and month", "calendar month"),
        "timestamp": ("date time", "date and time", "date/time", "time stamp", "local time"),
        "temp_c": ("temp", "temperature", "air temperature", "air temp", "mean temperature", "mean temp", "average temperature",
                   "average temp", "avg temp"),
        "rh_pct": ("rh", "humidity", "relative humidity", "rel humidity", "mean rh", "mean humidity", "average humidity",
                   "mean relative humidity"),
        "place": ("indoor or outdoor", "indoors or outdoors", "where measured"),
    },
    "resins": {
        "resin_id": (*_RESIN, "grade"),
        "family": ("polymer", "polymer family", "polymer type", "base polymer", "resin family", "resin type", "material family",
                   "material type",
                   "iso 1043", "iso 1043 symbol"),
        "filler_pct": ("filler content", "filler percent", "filler percentage", "percent filler", "% filler", "filler %"),
        "filler_kind": ("filler type", "type of filler", "kind of filler"),
        "corrosive": ("corrosive resin", "is corrosive", "gives off acid"),
    },
    "plan": {
        "month": ("planned month", "year month", "calendar month", "production month"),
        "tool_id": _TOOL,
        "design_id": _DESIGN,
        "shots": (*_SHOTS, "planned shots", "shots planned"),
        "units": ("planned units", "units planned", "product units", "units to make"),
        "plant_id": _PLANT,
        "resin_id": _RESIN,
        "product_id": _PRODUCT,
    },
    "bill": {
        "product_id": _PRODUCT,
        "design_id": _DESIGN,
        "parts_per_unit": ("qty per unit", "quantity per unit", "pieces per unit", "per unit", "parts per product", "qty per product"),
    },
    "aliases": {
        "old_tool_id": _ids(("old tool", "old mould", "previous tool", "previous mould", "former tool", "former mould"), "old id",
                            "old no",
                            "old number", "previous number", "former number"),
        "tool_id": (*_TOOL, *_ids(("new tool", "new mould")), "new id", "new no", "new number"),
        "since": ("since date", "from", "valid from", "from date", "date changed", "changed on", "renumbered on", "date renumbered"),
    },
}  # fmt: skip

OFFERED: Final[Mapping[str, Mapping[str, Words]]] = {
    "tools": {
        "tool_id": ("tool name", "mould name", "asset no", "asset tag", "inventory no", "name"),
        "hardness_hrc": ("hardness", "steel hardness"),
        "commissioned_on": ("build date", "built", "date built", "delivery date", "delivered", "date received", "po date",
                            "purchase date", "first used", "date"),
        "opening_shots": ("shots to date", "shots so far", "total shots", "shots"),
        "design_id": ("part no", "part number", "part"),
        "maker_id": ("supplier",),
        "plant_id": ("location",),
        "replacement_cost": ("price", "cost", "tool cost", "tool price", "purchase price"),
        "lead_time_weeks": ("lead time", "delivery time"),
        "shots_per_month": ("shots per year", "annual shots", "annual volume"),
    },
    "runs": {
        "tool_id": ("tool name", "mould name"),
        "plant_id": ("location", "supplier", "hall"),
        "started_on": ("date", "day", "production date", "run date"),
        "ended_on": ("date", "day", "production date", "run date"),
        "shots": ("total shots", "counter", "counter reading", "count"),
        "parts": ("total parts", "output", "units", "produced"),
        "active_cavities": ("cavities", "cav", "no of cavities", "number of cavities"),
    },
    "counter": {"counter_shots": ("shots", "shot count", "total shots", "cycles", "strokes", "cumulative shots", "count"),
                "date": ("day",)},
    "events": {
        "tool_id": ("tool name", "mould name"),
        "date": ("day", "date in", "date out", "order date", "start", "end"),
        "event": ("type", "kind", "work done", "what", "what was done", "repair", "work"),
        "shots_at": ("shots", "total shots", "counter", "counter reading", "count", "cycles"),
        "back_on": ("date in", "returned", "return date"),
        "plant_id": ("location", "supplier"),
    },
    "readings": {
        "feature": ("defect", "defect code", "measure", "point"),
        "value": ("reading", "actual", "max", "min"),
        "limit": ("upper limit", "lower limit", "tolerance", "max", "min"),
        "new_value": ("nominal", "nominal value", "target"),
        "date": ("day",),
    },
    "plants": {"plant_id": ("name", "location", "city"), "coolant_temp_c": ("water temperature", "water temp"), "so2_mg_m2_day": ("so2",),
               "chloride_mg_m2_day": ("chloride",)},
    "climate": {"month": ("date", "period"), "timestamp": ("date", "time", "hour"), "plant_id": ("location", "station"),
                "place": ("location", "hall")},
    "resins": {"resin_id": ("name",), "family": ("type",), "filler_pct": ("filler", "glass content"), "filler_kind": ("filler",
                                                                                                                      "reinforcement")},
    "plan": {"month": ("date", "period"), "units": ("qty", "quantity", "pieces", "volume"), "shots": ("qty", "quantity"),
             "product_id": ("item", "article")},
    "bill": {"parts_per_unit": ("qty", "quantity", "number", "pieces"), "design_id": ("part", "part no", "part number"),
             "product_id": ("item", "article")},
    "aliases": {"since": ("date",), "old_tool_id": ("was", "before"), "tool_id": ("now", "number")},
}  # fmt: skip


@cache
def exact_names(table: str) -> Mapping[str, str]:
    """Column by its bare name."""
    return {bare_name(name): name for name in TABLES[table].names}


@cache
def trade_words(table: str) -> Mapping[str, str]:
    """Column by every bare word that stands for it and is not the name of a column itself."""
    exact = exact_names(table)
    words = {bare_name(word): column for column, listed in COLUMN_WORDS[table].items() for word in listed}
    return {word: column for word, column in words.items() if word not in exact}


@cache
def names_without_unit(table: str) -> Mapping[str, str]:
    """Columns by their bare names without the unit at the end, such as "lead time"; good only where a header says the unit itself."""
    ends = ("_mg_m2_day", "_weeks", "_hrc", "_pct", "_c", "_s")
    stems = {name: next((name.removesuffix(end) for end in ends if name.endswith(end)), "") for name in TABLES[table].names}
    return {bare_name(stem): name for name, stem in stems.items() if stem}


@cache
def phrases(table: str) -> Mapping[str, tuple[str, ...]]:
    """The columns that a phrase may be offered for; names and taken words first, for the nearest of equals is the first."""
    by_phrase: dict[str, tuple[str, ...]] = {name: (name,) for name in TABLES[table].names}
    for listed in (COLUMN_WORDS[table], OFFERED.get(table, {})):
        for column, words in listed.items():
            for word in words:
                by_phrase[word] = tuple(dict.fromkeys((*by_phrase.get(word, ()), column)))
    return by_phrase


@cache
def tables_by_word() -> Mapping[str, frozenset[str]]:
    """What headers are made of: by bare name or word, the tables of which some column may be called so."""
    tables: dict[str, set[str]] = {}
    for table in TABLES:
        for listed in (exact_names(table), names_without_unit(table), trade_words(table)):
            for word in listed:
                tables.setdefault(word, set()).add(table)
    return {word: frozenset(names) for word, names in tables.items()}


def columns_wanted(table: Table) -> int:
    """How many columns a header of the table has at the least."""
    return sum(column.required for column in table.columns) + len(table.one_of)
