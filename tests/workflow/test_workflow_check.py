"""What a check counts and lists, and that it looks at records as a recalibration would."""

from collections.abc import Callable
from pathlib import Path

import pytest

from wearfit.errors import Refusal
from wearfit.records.tables import TABLES
from wearfit.workflow.check import TableCount, check

Write = Callable[..., Path]


def test_rows_are_used_set_aside_or_said_before(write_history: Write):
    runs = (
        "tool_id,plant_id,resin_id,started_on,ended_on,shots\n"
        "T1,north,abs,2020-02-01,2020-02-20,90000\n"
        "T1,north,abs,2020-02-01,2020-02-20,90000\n"
        "T1,north,abs,2020-03-01,2020-02-20,-5\n"
        "T9,north,abs,2020-03-01,2020-03-20,5000\n"
    )
    found = check(write_history(runs=runs))
    assert found.refusal is None
    assert found.tables["runs"] == TableCount(rows=4, used=1, set_aside=2)
    assert found.tables["tools"] == TableCount(rows=2, used=2, set_aside=0)
    aside = {(f.table, f.row) for f in found.findings if f.severity == "set_aside"}
    assert aside == {("runs", 4), ("runs", 5)}
    assert "climate" not in found.tables


def test_the_document_has_what_every_answer_carries(write_history: Write):
    found = check(write_history())
    document = found.as_json()
    assert document["as_of"] == "2021-02-20"
    assert document["calibration"] is None
    assert len(document["fingerprint"]) == 64
    assert {"table", "row", "column", "value", "problem", "repair", "severity", "source"} == set(document["findings"][0])


def test_findings_come_in_order_of_tables_and_rows(write_history: Write):
    found = check(write_history(tools="tool_id,commissioned_on,rack\nT1,2020-01-01,A\nT2,2020-01-01,B\n"))
    places = [(list(TABLES).index(f.table), f.row or 0) for f in found.findings]
    assert places == sorted(places)
    assert len(places) > 2


def test_what_the_exposures_notice_is_listed_too(write_history: Write):
    found = check(write_history(events="tool_id,date,event,cause\nT1,2020-01-02,retool,wear\n"))
    assert any(f.table == "events" and "tells nothing about wear" in f.problem for f in found.findings)


def test_records_that_cannot_be_used_still_say_what_was_noticed(write_history: Write):
    found = check(write_history(tools="tool_id,commissioned_on\nT1,soon\nT2,later\n"))
    assert found.refusal is not None
    assert found.refusal.status == 1
    document = found.as_json()
    assert document["error"] == found.refusal.problem
    assert document["repair"] == found.refusal.repair
    assert document["tables"]["tools"] == {"rows": 2, "used": 0, "set_aside": 2}
    assert len(document["findings"]) >= 2


def test_a_table_that_is_missing_refuses(write_history: Write):
    found = check(write_history(events=None))
    assert found.refusal is not None
    assert "events" in found.refusal.problem


def test_a_path_with_nothing_at_it_is_wrong_use(tmp_path: Path):
    with pytest.raises(Refusal) as refused:
        check(tmp_path / "nowhere")
    assert refused.value.status == 2
