"""What is forecast on a past day hangs on nothing that came later."""

import datetime as dt
from collections.abc import Sequence

import numpy as np
import pytest
from histories import Cells, assert_same, event, rows_of, run, tool
from hypothesis import given
from hypothesis import strategies as st
from random_examples import examples

from wearfit.evidence.backtest import Known, common_layout, know, usual_runs
from wearfit.evidence.baselines import baselines
from wearfit.model.priors import read_priors
from wearfit.records.assemble import assemble
from wearfit.records.known_rows import BEGUN_ON, known_by
from wearfit.records.tables import TABLES

DAY = dt.date(2021, 6, 30)
TOOLS = [tool(f"T{i}", service_class=("102", "103", "104")[i % 3]) for i in range(6)]


def past() -> tuple[list[Cells], list[Cells]]:
    """Six tools with two runs a year; the first five wore out once, each after other amounts of shots."""
    runs = [
        run(f"{year}-{month:02d}-01", f"{year}-{month:02d}-20", 20_000 + 9_000 * i + 3_000 * k, f"T{i}", setups="1")
        for i in range(6)
        for k, (year, month) in enumerate([(2020, 2), (2020, 9), (2021, 2)])
    ]
    return runs, [event("2020-09-20", "retool", f"T{i}", cause="wear") for i in range(5)]


def known_on(day: dt.date, runs: Sequence[Cells], events: Sequence[Cells], **others: Sequence[Cells]) -> Known:
    rows = rows_of({"tools": TOOLS, "runs": runs, "events": events, **others})
    return know(assemble(known_by(rows, day), ["events"]).as_of(day))


later = st.dates(DAY + dt.timedelta(days=1), dt.date(2024, 12, 1))
shots = st.integers(1, 400_000)
of_tool = st.sampled_from([row["tool_id"] for row in TOOLS])
later_runs = st.lists(st.tuples(later, st.integers(0, 20), shots, of_tool), max_size=6)
later_events = st.lists(
    st.tuples(later, st.sampled_from(["worn", "retool", "refurbish", "retire", "modify", "store", "move"]), of_tool, st.booleans()),
    max_size=4,
    unique_by=lambda drawn: drawn[:3],
)


@examples(10)
@given(later_runs, later_events, shots)
def test_nothing_later_changes_what_was_known(
    runs_to_come: list[tuple[dt.date, int, int, str]], events_to_come: list[tuple[dt.date, str, str, bool]], planned: int
) -> None:
    runs, events = past()
    to_come = {(day, of): run(str(day), str(day + dt.timedelta(days=days)), made, of) for day, days, made, of in runs_to_come}
    happened = [event(str(day), kind, of, cause="wear" if stated else "") for day, kind, of, stated in events_to_come]
    plan = [{"month": "2021-08", "tool_id": "T1", "shots": str(planned)}]
    readings = [
        {"tool_id": "T2", "date": "2021-09-01", "feature": "flash", "value": "0.2", "limit": "0.13"},
        {"tool_id": "T2", "date": "2021-10-01", "feature": "flash", "value": "0.2", "limit": "0.13"},
    ]
    bare = known_on(DAY, runs, events)
    with_future = known_on(DAY, [*runs, *to_come.values()], [*events, *happened], plan=plan, readings=readings)
    assert with_future.fingerprint == bare.fingerprint
    assert_same(with_future.exposures, bare.exposures)
    assert_same(with_future.live, bare.live)


def test_what_came_earlier_does() -> None:
    runs, events = past()
    extra = [*events, event("2021-02-20", "retool", "T5", cause="wear")]
    assert known_on(DAY, runs, extra).fingerprint != known_on(DAY, runs, events).fingerprint


def test_rivals_forecast_the_same_with_and_without_the_future() -> None:
    runs, events = past()
    priors, points = read_priors(), np.linspace(0.0, 200_000.0, 11)
    told = []
    for more in ([], [event("2021-07-20", "retool", f"T{i}", cause="wear") for i in range(6)]):
        known = known_on(DAY, [*runs, *(run("2021-07-01", "2021-07-20", 150_000, f"T{i}") for i in range(6))], [*events, *more])
        assert usual_runs(known.exposures)["T0"] == 23_000
        rivals = baselines(known.exposures, known.live, priors)
        told.append({(name, tool_id): within(points) for name, rival in rivals.items() for tool_id, within in rival.within.items()})
    assert told[0].keys() == told[1].keys()
    assert len(told[0]) == 18
    for key, chances in told[0].items():
        np.testing.assert_array_equal(chances, told[1][key], err_msg=str(key))
        assert chances[0] == 0.0
        assert (np.diff(chances) >= 0.0).all()
        assert chances[-1] > 0.0


@pytest.mark.parametrize("table", BEGUN_ON)
def test_every_dated_table_is_cut_by_a_column_that_it_must_have(table: str) -> None:
    column = TABLES[table].column(BEGUN_ON[table])
    assert (column.kind, column.required) == ("date", True)


def test_one_layout_holds_what_was_known_on_every_day() -> None:
    runs, events = past()
    histories = [known_on(day, runs, events).exposures for day in (dt.date(2020, 6, 30), DAY)]
    layout = common_layout(histories)
    assert common_layout([*histories, histories[0]]) == layout
    for one in histories:
        alone = common_layout([one])
        assert all(getattr(layout, name) >= getattr(alone, name) for name in layout.__dataclass_fields__)
