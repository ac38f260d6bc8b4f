"""Small fleets at random, whose events often fall on the days on which runs begin and end."""

import datetime as dt
from collections.abc import Mapping, Sequence

from histories import Cells, event, exposures_of, records_of, run, state_of, tool
from hypothesis import assume
from hypothesis import strategies as st
from random_examples import examples

from wearfit.exposures.live import LiveTools
from wearfit.exposures.table import Exposures

Tables = Mapping[str, Sequence[Cells]]

checked = examples(10)

DAY_ONE = dt.date(2020, 1, 1)
END = "2023-12-31"
CAUSES = ("", "wear", "damage", "planned", "obsolete", "design_change")
KINDS = ("worn", "retool", "refurbish", "modify", "service", "store", "take_out", "move", "hold", "release", "order")
NAMES = ("T1", "T2", "T3")
PLANTS = ({"plant_id": "Heath", "conditioned": "1"}, {"plant_id": "Salt Quay", "coolant_temp_c": "14"})
CLIMATE = tuple({"plant_id": "Salt Quay", "month": f"2020-{m:02d}", "temp_c": str(4 + 2 * m), "rh_pct": "75"} for m in range(1, 13))
OTHERS: Tables = {"plants": PLANTS, "climate": CLIMATE}


def iso(offset: int) -> str:
    return (DAY_ONE + dt.timedelta(offset)).isoformat()


@st.composite
def _runs(draw: st.DrawFn, tool_id: str) -> list[Cells]:
    """Runs one after the other, some sharing a day with the one before; whole shots a day."""
    day, rows = draw(st.integers(0, 80)), []
    for _ in range(draw(st.integers(1, 5))):
        length = draw(st.one_of(st.just(1), st.integers(2, 70)))
        cells = {
            "plant_id": draw(st.sampled_from(("Heath", "Salt Quay"))),
            "resin_id": draw(st.sampled_from(("R1", "R2"))),
            "setups": draw(st.sampled_from(("", "", "0", "1"))),
            "cycle_time_s": draw(st.sampled_from(("", "20", "30", "50"))),
        }
        rows.append(run(iso(day), iso(day + length - 1), draw(st.integers(1, 300)) * length, tool_id, **cells))
        day += length - 1 + draw(st.sampled_from((0, 1, 1, 2, 4, 5, 40)))
    keys = [(row["plant_id"], row["resin_id"], row["started_on"]) for row in rows]
    assume(len(set(keys)) == len(keys))
    return rows


def _near(rows: Sequence[Cells]) -> st.SearchStrategy[int]:
    """Days anywhere, but often those on which a run begins or ends."""
    edges = [
        (dt.date.fromisoformat(row[column]) - DAY_ONE).days + shift
        for row in rows
        for column in ("started_on", "ended_on")
        for shift in (-1, 0, 1)
    ]
    return st.one_of(st.sampled_from(sorted({max(day, 0) for day in edges})), st.integers(0, 300))


@st.composite
def _events(draw: st.DrawFn, tool_id: str, rows: Sequence[Cells], kinds: Sequence[str]) -> list[Cells]:
    found: dict[tuple[int, str], Cells] = {}
    for _ in range(draw(st.integers(0, 6))):
        day, kind = draw(_near(rows)), draw(st.sampled_from(kinds))
        cells = {"cause": draw(st.sampled_from(CAUSES)), "renewed_share": draw(st.sampled_from(("", "0.25", "0.5", "1")))}
        last_good = draw(st.one_of(st.none(), _near(rows)))
        if last_good is not None and last_good <= day:
            cells["last_good_on"] = iso(last_good)
        if kind == "move":
            cells["plant_id"] = draw(st.sampled_from(("", "Heath", "Salt Quay")))
        found[day, kind] = event(iso(day), kind, tool_id, **cells)
    if "worn" in kinds and draw(st.booleans()):
        last = dt.date.fromisoformat(rows[-1]["started_on"])
        day = max([(last - DAY_ONE).days + draw(st.integers(0, 80)), *(key[0] for key in found)])
        found[day, "retire"] = event(iso(day), "retire", tool_id, cause=draw(st.sampled_from(CAUSES)))
    return list(found.values())


@st.composite
def fleets(draw: st.DrawFn, kinds: Sequence[str] = KINDS) -> dict[str, Sequence[Cells]]:
    names = NAMES[: draw(st.integers(1, 3))]
    runs = {name: draw(_runs(name)) for name in names}
    events = {name: draw(_events(name, runs[name], kinds)) for name in names}
    tools = [
        tool(
            name,
            service_class=draw(st.sampled_from(("103", "101", ""))),
            cavity_steel=draw(st.sampled_from(("", "stainless"))),
            opening_life_shots=draw(st.sampled_from(("", "0", "2500"))),
        )
        for name in names
    ]
    return {"tools": tools, "runs": [r for name in names for r in runs[name]], "events": [e for name in names for e in events[name]]}


def exposed(tables: Tables, as_of: str = END) -> Exposures:
    return exposures_of(tables["runs"], tables["events"], tables["tools"], as_of, **OTHERS)


def stood(tables: Tables) -> tuple[Exposures, LiveTools]:
    return state_of(records_of(tables["runs"], tables["events"], tables["tools"], END, **OTHERS))
