"""`wearfit template`: written once, never over a file, and handed back it can be read."""

from pathlib import Path

import pytest
from run_command import Run

from wearfit.records.tables import TABLES
from wearfit.records.template import template


def test_it_writes_the_workbook_and_says_what_to_do(wearfit: Run, tmp_path: Path):
    said = wearfit("template", "records.xlsx")
    assert said.status == 0
    assert "wearfit check" in said.out
    assert (tmp_path / "records.xlsx").read_bytes() == template()
    document = wearfit("template", tmp_path / "again.XLSX", "--json").document
    columns = sum(len(table.columns) for table in TABLES.values())
    assert (document["path"], document["tables"], document["columns"]) == (str(tmp_path / "again.XLSX"), len(TABLES), columns)


def test_a_file_that_is_there_is_not_written_over(wearfit: Run, tmp_path: Path):
    (tmp_path / "mine.xlsx").write_text("mine")
    said = wearfit("template", "mine.xlsx")
    assert said.status == 2
    assert "not written over" in said.err
    assert (tmp_path / "mine.xlsx").read_text() == "mine"


@pytest.mark.parametrize("name", ["records.csv", "records", "nowhere/records.xlsx"])
def test_another_ending_or_a_missing_folder_is_wrong_use(wearfit: Run, tmp_path: Path, name: str):
    said = wearfit("template", name, "--json")
    assert said.status == 2
    assert set(said.document) == {"error", "repair"}
    assert list(tmp_path.iterdir()) == []


def test_what_it_writes_passes_its_own_check(wearfit: Run):
    assert wearfit("template", "records.xlsx").status == 0
    said = wearfit("check", "records.xlsx", "--json")
    assert said.status == 0
    assert sum(table["set_aside"] for table in said.document["tables"].values()) == 0
    assert {finding["severity"] for finding in said.document["findings"]} <= {"note"}
