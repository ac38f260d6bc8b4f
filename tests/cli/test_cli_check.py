"""`wearfit check` in tables and as JSON."""

from pathlib import Path

import pytest
from run_command import Run

from wearfit.cli.check import MOST_LINES

RUNS = "tool_id,plant_id,resin_id,started_on,ended_on,shots\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = tmp_path / "history"
    folder.mkdir()
    (folder / "tools.csv").write_text("tool_id,service_class,commissioned_on,rack\nT[1],103,2020-01-01,A\n")
    (folder / "runs.csv").write_text(RUNS + "T[1],north,abs,2020-02-01,2020-02-20,90000\nT[1],north,abs,2020-03-01,2020-03-20,-5\n")
    (folder / "events.csv").write_text("tool_id,date,event\n")
    return folder


def test_findings_do_not_fail_a_check_and_nothing_is_stored(wearfit: Run, folder: Path, tmp_path: Path):
    said = wearfit("check", folder, "--json")
    assert said.status == 0
    assert said.document["tables"]["runs"] == {"rows": 2, "used": 1, "set_aside": 1}
    assert any(f["severity"] == "set_aside" and f["row"] == 3 for f in said.document["findings"])
    assert not list(tmp_path.glob("*.db"))


def test_what_was_set_aside_is_shown_first(wearfit: Run, folder: Path):
    out = wearfit("check", folder).out
    assert out.index("Set aside until repaired: runs (1)") < out.index("Used as it is")


def test_square_brackets_in_a_name_are_no_markup(wearfit: Run, folder: Path):
    rows = "T[1],north,abs,2020-02-01,2020-02-20,90000\nT[red]9,north,abs,2020-03-01,2020-03-20,5\n"
    (folder / "runs.csv").write_text(RUNS + rows)
    assert "T[red]9" in wearfit("check", folder).out


def test_a_long_list_says_how_much_of_it_is_not_shown(wearfit: Run, folder: Path):
    rows = "".join(f"T[1],north,abs,2020-02-01,2020-02-20,-{i}\n" for i in range(1, MOST_LINES + 8))
    (folder / "runs.csv").write_text(RUNS + "T[1],north,abs,2020-02-01,2020-02-20,90000\n" + rows)
    out = wearfit("check", folder).out
    assert f"runs ({MOST_LINES + 7})" in out
    assert "7 more like these are not shown" in out
    assert len(wearfit("check", folder, "--json").document["findings"]) >= MOST_LINES + 7


def test_records_that_cannot_be_used_fail_and_still_list_why(wearfit: Run, folder: Path):
    (folder / "tools.csv").write_text("tool_id,commissioned_on\nT[1],soon\n")
    said = wearfit("check", folder)
    assert said.status == 1
    assert "'soon' is not a date" in said.out.replace("\n", " ")
    as_json = wearfit("check", folder, "--json")
    assert as_json.status == 1
    assert {"error", "repair", "tables", "findings"} <= as_json.document.keys()
