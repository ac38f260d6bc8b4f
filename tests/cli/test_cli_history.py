"""`wearfit history` on a store whose records were corrected: who, when, what; the past shown, written out and brought back."""

import csv
from pathlib import Path

import pytest
from run_command import Run

from wearfit.records.readers.read import read
from wearfit.store.actor import acting_as
from wearfit.store.store import Store

TOOLS = "tool_id,commissioned_on\nT1,2020-01-01\n[bold]T2,2020-01-01\n"
RUNS = "tool_id,plant_id,resin_id,started_on,ended_on,shots\nT1,north,abs,2020-02-01,2020-02-20,{}\n"
EVENTS = "tool_id,date,event\nT1,2020-06-01,retool\n"


@pytest.fixture
def corrected(tmp_path: Path) -> str:
    """A store whose one run was corrected by another user."""
    url = str(tmp_path / "wearfit.db")
    with Store.open(url) as store:
        for name, shots in (("ada", 90_000), ("ben", 80_000)):
            folder = tmp_path / name
            folder.mkdir()
            for table, text in (("tools", TOOLS), ("runs", RUNS.format(shots)), ("events", EVENTS)):
                (folder / f"{table}.csv").write_text(text)
            with acting_as(name):
                store.add_upload(read(folder))
    return url


def test_it_lists_who_did_what(wearfit: Run, corrected: str):
    document = wearfit("history", "--store", corrected, "--json").document
    assert [(line["line"], line["by"], line["did"], line["about"]) for line in document["lines"]] == [
        (1, "ada", "records", "ada"),
        (2, "ben", "records", "ben"),
    ]
    assert {"as_of", "calibration", "fingerprint"} <= document.keys()
    shown = wearfit("history", "--store", corrected)
    assert (shown.status, shown.err) == (0, "")
    assert "stored records: ben" in shown.out


def test_versions_of_a_tools_rows(wearfit: Run, corrected: str):
    document = wearfit("history", "--store", corrected, "--tool", "T1", "--json").document
    run = [version for version in document["versions"] if version["table"] == "runs"]
    assert [(version["by"], version["changed"]["shots"]) for version in run] == [("ada", [None, "90000"]), ("ben", ["90000", "80000"])]
    assert "shots 90000 → 80000" in wearfit("history", "--store", corrected, "--tool", "T1").out
    assert "[bold]T2" in wearfit("history", "--store", corrected, "--tool", "[bold]T2").out
    nowhere = wearfit("history", "--store", corrected, "--tool", "T9")
    assert (nowhere.status, nowhere.out) == (1, "")


def test_the_past_is_written_out_and_brought_back(wearfit: Run, corrected: str, tmp_path: Path):
    out = tmp_path / "then"
    document = wearfit("history", "--store", corrected, "--after", "1", "--out", out, "--json").document
    assert document["rows"] == {"events": 1, "runs": 1, "tools": 2}
    with (out / "runs.csv").open() as file:
        assert [row["shots"] for row in csv.DictReader(file)] == ["90000"]
    restored = wearfit("history", "--store", corrected, "--restore", "1", "--json").document
    assert (restored["brought_back"], restored["withdrawn"], restored["line"]) == (1, 0, 3)
    again = wearfit("history", "--store", corrected, "--restore", "1")
    assert "nothing was changed" in again.out
    with Store.open(corrected) as store:
        assert [row.values["shots"] for row in store.rows({"runs"})] == ["90000"]
    back = wearfit("history", "--store", corrected, "--restore", "2")
    assert "1 rows brought back" in " ".join(back.out.split())
    assert wearfit("history", "--store", corrected, "--restore", "9").status == 2
