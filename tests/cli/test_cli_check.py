"""`wearfit check` in tables and as JSON."""

import shutil
from pathlib import Path

import pytest
from rich.console import Console
from run_command import Run

from wearfit.cli.check import LONGEST_VALUE, MOST_LINES, _source
from wearfit.records.choices import read_choices
from wearfit.records.findings import Finding
from wearfit.store.store import Store

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


def unfolded(text: str) -> str:
    return " ".join(text.split())


def test_how_the_files_were_read_comes_before_what_their_rows_say(wearfit: Run, folder: Path):
    (folder / "runs.csv").write_text(
        "Mould No.;plant_id;resin_id;started_on;ended_on;shots\n"
        "T[1];north;abs;13.02.2020;20.02.2020;90000\nT[1];north;abs;01.03.2020;20.03.2020;-5\n"
    )
    out = wearfit("check", folder).out
    reading, aside = out.index("How the files were read"), out.index("Set aside until repaired: runs (1)")
    assert reading < out.index("Mould No.") < aside
    assert reading < out.index("13.02.2020") < aside
    assert out.count("13.02.2020") == 1
    findings = wearfit("check", folder, "--json").document["findings"]
    assert all(finding["source"] for finding in findings if finding["table"] == "runs" and finding["row"] is not None)


@pytest.mark.parametrize("columns", ["80", "200"])
def test_the_sheet_or_file_is_named_where_a_table_came_from_more_than_one(
    wearfit: Run, folder: Path, columns: str, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setenv("COLUMNS", columns)
    for year in ("2021", "2022"):
        (folder / f"runs {year}.csv").write_text(RUNS + f"T[1],north,abs,{year}-02-01,{year}-02-20,-5\n")
    out = wearfit("check", folder).out
    assert max(map(len, out.splitlines())) <= int(columns)
    aside = out[out.index("Set aside until repaired: runs (3)") :]
    for name in ("runs.csv", "runs 2021.csv", "runs 2022.csv"):
        assert name in unfolded(aside)
    document = wearfit("check", folder, "--json").document
    assert document["tables"]["runs"] == {"rows": 4, "used": 1, "set_aside": 3}
    assert {f["source"] for f in document["findings"] if f["severity"] == "set_aside"} == {"runs.csv", "runs 2021.csv", "runs 2022.csv"}


def test_sheets_of_one_workbook_are_told_apart_on_a_narrow_screen():
    long = "Werkzeuge und Läufe aller Standorte.xlsx"
    narrow = Console(width=80)
    shown = [
        " ".join(_source(narrow, Finding("runs", None, None, None, "", "", "note", f"{long}, sheet {sheet}")).split())
        for sheet in ("Runs 2023", "Runs 2024", "Runs 2024 (2)", "R" * 90)
    ]
    assert shown[:3] == [
        f"{long[:n].rstrip()}…, sheet {sheet}" for n, sheet in ((22, "Runs 2023"), (22, "Runs 2024"), (18, "Runs 2024 (2)"))
    ]
    assert all(len(said) <= LONGEST_VALUE for said in shown)


def test_a_table_of_one_file_does_not_repeat_its_name_on_every_line(wearfit: Run, folder: Path):
    out = wearfit("check", folder).out
    assert "runs.csv" not in out[out.index("Set aside until repaired: runs (1)") :]


def test_long_cells_are_cut(wearfit: Run, folder: Path):
    (folder / "runs.csv").write_text(
        RUNS + "T[1],north,abs,2020-02-01,2020-02-20,9\nT[1],north,abs,2020-03-01,2020-03-20," + "9x" * 900 + "\n"
    )
    out = wearfit("check", folder).out
    assert "9x" * (LONGEST_VALUE // 2 + 300) not in out.replace("\n", "")
    assert "…" in out


@pytest.mark.parametrize("form", ["zip", "csv"])
def test_other_forms_of_records(wearfit: Run, folder: Path, tmp_path: Path, form: str):
    if form == "zip":
        path = Path(shutil.make_archive(str(tmp_path / "packed"), "zip", folder))
        assert wearfit("check", path, "--json").document["tables"] == wearfit("check", folder, "--json").document["tables"]
    else:
        said = wearfit("check", folder / "tools.csv", "--json")
        assert said.status == 1
        assert said.document["tables"] == {"tools": {"rows": 1, "used": 0, "set_aside": 0}}


def test_choices_are_taken_from_the_file_before_the_store_and_no_store_is_made(wearfit: Run, folder: Path, tmp_path: Path):
    (folder / "runs.csv").write_text(RUNS + "T[1],north,abs,01/02/2020,03/02/2020,90000\n")
    assert wearfit("check", folder, "--json").document["tables"]["runs"]["used"] == 0
    choices = tmp_path / "choices.toml"
    choices.write_text('[dates.runs]\nstarted_on = "day month year"\nended_on = "day month year"\n')
    read = wearfit("check", folder, "--choices", choices, "--json")
    assert read.document["tables"]["runs"]["used"] == 1
    assert read.document["as_of"] == "2020-02-03"
    assert not list(tmp_path.glob("*.db"))
    with Store.open(str(tmp_path / "wearfit.db")) as store:
        store.keep_choices(read_choices(choices.read_text().replace("day month", "month day")))
    assert wearfit("check", folder, "--json").document["as_of"] == "2020-03-02"
    assert wearfit("check", folder, "--choices", choices, "--json").document["as_of"] == "2020-02-03"


def test_choices_that_are_wrong_are_wrong_use(wearfit: Run, folder: Path, tmp_path: Path):
    choices = tmp_path / "choices.toml"
    choices.write_text('[dates.runs]\nstarted_on = "american"\n')
    said = wearfit("check", folder, "--choices", choices)
    assert said.status == 2
    assert "american" in said.err


def test_a_narrow_screen_names_the_value_that_a_sentence_leaves_out(wearfit: Run, folder: Path, monkeypatch: pytest.MonkeyPatch):
    with (folder / "tools.csv").open("a") as tools:
        tools.write("T[1],103,2020-01-01,A\n")
    findings = wearfit("check", folder, "--json").document["findings"]
    (noted,) = [f for f in findings if f["table"] == "tools" and f["value"] == "T[1]" and "T[1]" not in f["problem"]]
    monkeypatch.setenv("COLUMNS", "80")
    assert f"T[1]: {noted['problem'].split()[0]}" in unfolded(wearfit("check", folder).out)
