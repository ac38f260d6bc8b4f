"""What is written can be read again, without loss."""

import datetime as dt
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from fleets import checked, event, fleet, fleets, records_of, rows_of, tool
from hypothesis import given
from hypothesis import strategies as st

from wearfit.errors import Refusal
from wearfit.records.assemble import assemble
from wearfit.records.readers.read import read
from wearfit.records.records import Records
from wearfit.records.tables import TABLES
from wearfit.records.write import write_folder, write_rows


def _read_back(folder: Path) -> Records:
    upload = read(folder)
    assert [f for f in upload.findings if f.severity == "set_aside"] == []
    return assemble(upload.rows, upload.empty_tables)


@checked
@given(fleets(), st.dates(dt.date(2020, 1, 1), dt.date(2022, 1, 1)))
def test_records_written_and_read_are_the_same_records(sheets: dict, day: dt.date):
    # A tool is set aside where a counter alone tells its use, and a cut can take the runs and leave the counter.
    try:
        records = records_of({**sheets, "counter": []})
    except Refusal:  # every run was unreadable
        return
    with TemporaryDirectory() as folder:
        write_folder(records, Path(folder) / "whole")
        assert _read_back(Path(folder) / "whole").fingerprint == records.fingerprint
        cut = records.as_of(day)
        if len(cut.tables["tools"]):
            write_folder(cut.tables, Path(folder) / "cut")
            assert _read_back(Path(folder) / "cut").fingerprint == cut.fingerprint


@checked
@given(fleets())
def test_rows_written_and_read_are_the_same_rows(sheets: dict):
    rows = rows_of(sheets)
    with TemporaryDirectory() as folder:
        write_rows(rows, folder)
        again = read(folder).rows
    assert [(row.table, row.key, row.occurrence, row.values) for row in again] == [
        (row.table, row.key, row.occurrence, row.values) for name in TABLES for row in rows if row.table == name
    ]


def test_awkward_texts_and_every_table_come_back(tmp_path: Path):
    sheets = fleet(
        tools=[tool('Ł "7", b', coating="=1+1", maker_id="NA")],
        runs=[
            {
                "tool_id": 'Ł "7", b',
                "plant_id": "Heath",
                "resin_id": "R1",
                "started_on": "2020-01-10",
                "ended_on": "2020-01-19",
                "parts": "970",
            }
        ],
        events=[event("2020-02-01", "service", 'Ł "7", b', note="two\nlines, 'and' \"more\"", renewed_share="0.1")],
        readings=[{"tool_id": 'Ł "7", b', "date": "2020-02-01", "feature": "gate", "value": "<0.020", "limit": "0.2"}],
        counter=[{"tool_id": 'Ł "7", b', "date": "2020-02-01", "counter_shots": "123456789"}],
        climate=[
            {"plant_id": "Heath", "month": "2020-02", "temp_c": "-5.25", "rh_pct": "80"},
            {"plant_id": "Heath", "timestamp": "2020-02-01 14:30", "temp_c": "5", "rh_pct": "80", "place": "hall"},
        ],
        plan=[{"month": "2021-01", "tool_id": 'Ł "7", b', "shots": "5"}],
        bill=[{"product_id": "P", "design_id": "D", "parts_per_unit": "2"}],
        aliases=[{"old_tool_id": "A", "tool_id": 'Ł "7", b', "since": "2020-01-01"}],
    )
    records = records_of(sheets)
    assert all(len(frame) for frame in records.tables.values())
    written = write_folder(records, tmp_path / "new" / "folder")
    assert {file.stem for file in written} == set(TABLES)
    again = _read_back(tmp_path / "new" / "folder")
    assert again.fingerprint == records.fingerprint
    assert again.tables["events"].loc[0, "note"] == "two\nlines, 'and' \"more\""


def test_unknown_columns_come_back_from_rows(tmp_path: Path):
    rows = rows_of(fleet(tools=[tool(Rack="7"), tool("T2", Shelf="8")]))
    write_rows(rows, tmp_path)
    assert [row.values.get("Rack") for row in read(tmp_path).rows if row.table == "tools"] == ["7", None]


def test_a_fleet_without_events_writes_an_empty_events_table(tmp_path: Path):
    records = records_of(fleet(events=[]))
    write_folder(records, tmp_path)
    assert read(tmp_path).empty_tables == ("events",)
    assert _read_back(tmp_path).fingerprint == records.fingerprint


def test_nothing_is_written_over(tmp_path: Path):
    (tmp_path / "runs.csv").write_text("mine")
    with pytest.raises(Refusal, match=r"runs\.csv is already in"):
        write_folder(records_of(fleet()), tmp_path)
    assert [file.name for file in tmp_path.iterdir()] == ["runs.csv"]
    assert (tmp_path / "runs.csv").read_text() == "mine"
