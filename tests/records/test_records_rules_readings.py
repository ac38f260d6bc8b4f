"""Readings within the tool's own time."""

import pytest
from fleets import about, event, fleet, records_of, tool


@pytest.mark.parametrize(
    ("date", "said"),
    [
        ("2019-12-31", "before the tool was commissioned on 2020-01-01"),
        ("2021-06-02", "after the tool was retired on 2021-06-01"),
        ("2020-01-01", ""),
        ("2021-06-01", ""),
    ],
)
def test_a_reading_outside_the_tools_time_is_set_aside(date: str, said: str):
    reading = {"tool_id": "T1", "feature": "flash", "value": "0.1", "limit": "0.13"}
    readings = [{**reading, "date": "2020-06-01"}, {**reading, "date": date}]
    records = records_of(fleet(tools=[tool()], readings=readings, events=[event("2021-06-01", "retire", cause="obsolete")]))
    assert len(records.tables["readings"]) == (1 if said else 2)
    found = [(finding.row, finding.severity, said in finding.problem) for finding in about(records.findings, "readings", "date")]
    assert found == ([(3, "set_aside", True)] if said else [])
