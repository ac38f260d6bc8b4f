"""Fillers that can only be shares are read as percent, once told; a lone small one is noted and stands."""

from collections.abc import Mapping

import pytest
from fleets import about, fleet, read_of, records_of, region_of, rows_of

from wearfit.records.assemble import assemble
from wearfit.records.records import Records


def _resins(**fillers: str) -> Records:
    return records_of(fleet(resins=[{"resin_id": name, "family": "PP", "filler_pct": filler} for name, filler in fillers.items()]))


def _fillers(records: Records) -> Mapping[str, float]:
    resins = records.tables["resins"]
    return dict(zip(resins["resin_id"], resins["filler_pct"].fillna(-1.0), strict=True))


def test_shares_become_percent():
    records = _resins(R1="0.3", R2="0.07", R3="0", R4="")
    assert _fillers(records) == {"R1": 30.0, "R2": 7.0, "R3": 0.0, "R4": -1.0}
    (told,) = about(records.findings, "resins", "filler_pct")
    assert (told.severity, told.row, told.value) == ("repaired", None, "0.3") and "row 2, where 0.3 is read as 30" in told.problem


@pytest.mark.parametrize("others", ["30", "1"])
def test_one_among_percents_is_noted_and_stands(others: str):
    records = _resins(R1="0.3", R2=others)
    assert _fillers(records)["R1"] == 0.3
    (told,) = about(records.findings, "resins", "filler_pct")
    assert (told.severity, told.row) == ("note", 2)


def test_percents_are_left_alone():
    records = _resins(R1="30", R2="1", R3="0", R4="")
    assert _fillers(records) == {"R1": 30.0, "R2": 1.0, "R3": 0.0, "R4": -1.0}
    assert about(records.findings, "resins", "filler_pct") == []


def test_each_sheet_is_judged_by_itself():
    sheets = fleet(resins=[])
    rows = rows_of(sheets)
    for source, fillers in (("old.csv", {"R1": "0.3", "R2": "0.5"}), ("new.csv", {"R3": "30", "R4": "0.5"})):
        resins = [{"resin_id": name, "family": "PP", "filler_pct": filler} for name, filler in fillers.items()]
        rows += read_of(region_of("resins", resins, source)).rows
    records = assemble(rows)
    assert _fillers(records) == {"R1": 30.0, "R2": 50.0, "R3": 30.0, "R4": 0.5}
    told = about(records.findings, "resins", "filler_pct")
    assert {(f.source, f.severity) for f in told} == {
        ("old.csv", "repaired"),
        ("new.csv", "note"),
    }
