"""Records cut at a day before anything happened are refused with the first day that would do."""

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import pytest

from wearfit.errors import Refusal
from wearfit.records.assemble import assemble
from wearfit.records.findings import Finding
from wearfit.records.readers.read import read
from wearfit.records.records import Records
from wearfit.records.template_names import EXAMPLE
from wearfit.workflow.history import history_of


@pytest.fixture
def records(write_history: Callable[..., Path]) -> Records:
    upload = read(write_history())
    return assemble(upload.rows, upload.empty_tables)


def test_the_latest_day_is_the_default(records: Records):
    history = history_of(records)
    assert history.day == dt.date(2021, 2, 20)
    assert history.exposures.lives == 3
    assert history.exposures.wear_outs == 1


def test_the_history_knows_nothing_of_what_came_after_its_day(records: Records):
    early = history_of(records, dt.date(2020, 4, 1))
    assert early.exposures.lives == 2
    assert early.exposures.wear_outs == 0
    assert early.fingerprint != history_of(records).fingerprint


@pytest.mark.parametrize(("day", "first"), [(dt.date(2019, 12, 31), "2020-01-01"), (dt.date(2020, 1, 31), "2020-02-01")])
def test_a_day_before_the_first_is_refused(records: Records, day: dt.date, first: str):
    with pytest.raises(Refusal, match=first) as refused:
        history_of(records, day)
    assert refused.value.status == 1


def of_example(findings: tuple[Finding, ...]) -> list[Finding]:
    return [finding for finding in findings if "template's example" in finding.problem]


def test_example_rows_left_beside_tools_of_the_owners_own_are_noted(write_history: Callable[..., Path]):
    tools = f"tool_id,service_class,commissioned_on\nT1,103,2020-01-01\n{EXAMPLE}1,102,2020-01-01\n"
    runs = (
        "tool_id,plant_id,resin_id,started_on,ended_on,shots\n"
        f"T1,north,abs,2020-02-01,2020-02-20,90000\n{EXAMPLE}1,north,abs,2020-02-01,2020-02-20,90000\n"
    )
    upload = read(write_history(tools=tools, runs=runs))
    (noted,) = of_example(history_of(assemble(upload.rows, upload.empty_tables)).findings)
    assert (noted.table, noted.value, noted.severity) == ("tools", f"{EXAMPLE}1", "note")


@pytest.mark.parametrize("names", [("T1", "T2"), (f"{EXAMPLE}1", f"{EXAMPLE}2")], ids=["none", "nothing else"])
def test_example_rows_alone_or_none_at_all_are_not_noted(write_history: Callable[..., Path], names: tuple[str, str]):
    one, two = names
    tools = f"tool_id,service_class,commissioned_on\n{one},103,2020-01-01\n{two},102,2020-01-01\n"
    runs = f"tool_id,plant_id,resin_id,started_on,ended_on,shots\n{one},north,abs,2020-02-01,2020-02-20,90000\n"
    upload = read(write_history(tools=tools, runs=runs, events="tool_id,date,event\n"))
    assert of_example(history_of(assemble(upload.rows, upload.empty_tables)).findings) == []
