"""The way in: one reader for each form, a sentence for every other one, and the same cells whatever the form."""

import datetime as dt
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from fleets import checked
from handed_books import ods, packed, xlsx
from hypothesis import given
from hypothesis import strategies as st

from wearfit.errors import Refusal
from wearfit.records.choices import Choices
from wearfit.records.readers.forms import READERS, Reader, files_of, grids_of
from wearfit.records.readers.read import read

HISTORY: dict[str, list[list[str | float]]] = {
    "events": [
        ["tool_id", "date", "event", "note"],
        ["K 1", "2021-08-02", "service", 'größer, "Grat"; § 5'],
        ["K 2", "2021-11-08", "hold"],
    ],
    "runs": [
        ["tool_id", "plant_id", "resin_id", "started_on", "ended_on", "shots"],
        ["K 1", "Hütte", "PE weiß", "2021-01-18", "2021-01-29", 30000.0],
        [],
        ["K 2", "Hütte", "PE weiß", "2021-02-15", "2021-02-26", 24000.0],
    ],
    "tools": [["tool_id", "commissioned_on", "cavities"], ["K 1", "2021-01-11", 4.0], ["K 2", "2021-02-08", ""], ["K 3", "", 1.0]],
}


def text_of(cell: str | float) -> str:
    return cell if isinstance(cell, str) else str(int(cell)) if cell.is_integer() else repr(cell)


def text_files(delimiter: str, codec: str, suffix: str) -> dict[str, bytes]:
    def quoted(cell: str) -> str:
        return '"' + cell.replace('"', '""') + '"' if any(mark in cell for mark in ',;\t"\n') else cell

    return {
        name + suffix: "".join(delimiter.join(quoted(text_of(cell)) for cell in row) + "\r\n" for row in rows).encode(codec)
        for name, rows in HISTORY.items()
    }


def in_folder(files: dict[str, bytes]) -> Callable[[Path], Path]:
    def put(path: Path) -> Path:
        for name, content in files.items():
            (path / name).write_bytes(content)
        return path

    return put


def as_file(name: str, content: bytes) -> Callable[[Path], Path]:
    def put(path: Path) -> Path:
        (path / name).write_bytes(content)
        return path / name

    return put


FORMS = {
    "UTF-8 with commas": in_folder(text_files(",", "utf-8", ".csv")),
    "UTF-8 with a mark": in_folder(text_files(",", "utf-8-sig", ".csv")),
    "cp1252 with semicolons": in_folder(text_files(";", "cp1252", ".csv")),
    "UTF-16 with tabs": in_folder(text_files("\t", "utf-16", ".txt")),
    "ZIP": as_file("history.zip", packed({f"history/{name}": content for name, content in text_files(",", "utf-8", ".csv").items()})),
    "XLSX": as_file("history.xlsx", xlsx(HISTORY)),
    "ODS": as_file("history.ods", ods(HISTORY)),
    "mixed": in_folder({**text_files(",", "utf-8", ".csv"), "tools.csv": b"", "tools.xlsx": xlsx({"tools": HISTORY["tools"]})}),
}


@pytest.mark.parametrize("form", FORMS)
def test_the_same_history_has_the_same_cells_in_every_form(form: str, tmp_path: Path):
    def trimmed(row: list[str]) -> list[str]:
        while row and row[-1] == "":
            row.pop()
        return row

    grids, _ = grids_of(files_of(FORMS[form](tmp_path)).files)
    cells = {grid.name: [trimmed([text_of(cell) for cell in row]) for row in grid.cells] for grid in grids}
    assert cells == {name: [trimmed([text_of(cell) for cell in row]) for row in rows] for name, rows in HISTORY.items()}


@pytest.mark.parametrize("form", FORMS)
def test_the_same_history_has_the_same_rows_in_every_form(form: str, tmp_path: Path):
    upload = read(FORMS[form](tmp_path))
    assert sorted((row.table, row.key, row.values["tool_id"]) for row in upload.rows) == [
        ("events", '["K 1", "2021-08-02", "service"]', "K 1"),
        ("events", '["K 2", "2021-11-08", "hold"]', "K 2"),
        ("runs", '["K 1", "Hütte", "PE weiß", "2021-01-18"]', "K 1"),
        ("runs", '["K 2", "Hütte", "PE weiß", "2021-02-15"]', "K 2"),
        ("tools", '["K 1"]', "K 1"),
        ("tools", '["K 2"]', "K 2"),
    ]
    assert {row.row for row in upload.rows if row.table == "runs"} == {2, 4}
    assert {finding.row for finding in upload.findings if finding.severity == "set_aside"} == {4}  # K 3 has no date


@pytest.mark.parametrize("reader", READERS, ids=lambda reader: reader.form)
def test_every_reader_turns_down_other_forms_and_refuses_rubbish_in_a_sentence(reader: Reader, tmp_path: Path):
    other = tmp_path / "records.unknown"
    other.write_bytes(b"x")
    assert not reader.accepts(other)
    for rubbish in (b"", b"\x00\xff" * 50, b'"' * 7, b",,,\n", b"PK\x03\x04", b"\xff\xfe", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"):
        for suffix in (".csv", ".tsv", ".txt", ".xlsx", ".xlsm", ".ods", ".zip"):
            file = tmp_path / f"tools{suffix}"
            file.write_bytes(rubbish)
            if reader.accepts(file):
                with pytest.raises(Refusal) as refused:
                    grids_of(reader.files(file).files)
                assert refused.value.problem.startswith(file.name) and refused.value.problem.endswith(".")


def test_every_form_has_one_reader(tmp_path: Path):
    paths = [tmp_path, *(tmp_path / f"tools{suffix}" for suffix in (".csv", ".TSV", ".txt", ".xlsx", ".XLSM", ".ods", ".xls", ".zip"))]
    for path in paths[1:]:
        path.write_bytes(b"x")
    assert [sum(reader.accepts(path) for reader in READERS) for path in paths] == [1] * len(paths)


def test_nothing_there_and_no_known_form_are_wrong_use(tmp_path: Path):
    with pytest.raises(Refusal, match="nothing at") as refused:
        read(tmp_path / "absent")
    assert refused.value.status == 2
    (tmp_path / "records.doc").write_bytes(b"x")
    with pytest.raises(Refusal, match="not records in a form") as refused:
        read(str(tmp_path / "records.doc"))
    assert refused.value.status == 2


def test_an_empty_file_beside_others_is_told_and_alone_refused(tmp_path: Path):
    (tmp_path / "plan.csv").write_bytes(b" ,\r\n\r\n")
    with pytest.raises(Refusal, match=r"plan\.csv is empty\."):
        read(tmp_path)
    (tmp_path / "tools.csv").write_bytes(b"tool_id,commissioned_on\nT1,2020-01-01\n")
    (told,) = [finding for finding in read(tmp_path).findings if finding.source == "plan.csv"]
    assert (told.severity, told.table, told.problem) == ("note", "plan", "plan.csv is empty.")


def test_a_file_that_may_not_be_read_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    (tmp_path / "tools.csv").mkdir()
    (tmp_path / "runs.csv").write_text("x")

    def denied(_: Path) -> bytes:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", denied)
    with pytest.raises(Refusal, match=r"runs\.csv cannot be opened: Permission denied\."):
        read(tmp_path)


def test_choices_and_the_day_reach_those_who_use_them(tmp_path: Path):
    (tmp_path / "list.csv").write_bytes("tool_id,commissioned_on\nGyõr,2020-01-01\n".encode("cp1252"))
    (tmp_path / "events.csv").write_text("tool_id,date,event\nT1,2030-01-01,service\n")
    upload = read(tmp_path, Choices(tables={"list": "tools"}, encodings={"list.csv": "cp1250"}), dt.date(2025, 1, 1))
    assert [(row.table, row.values["tool_id"]) for row in upload.rows] == [("tools", "Győr")]


@checked
@given(st.binary(max_size=400))
def test_any_bytes_are_grids_or_a_refusal(content: bytes):
    said = None
    try:
        grids, _ = grids_of([("tools.csv", content)])
    except Refusal as refusal:
        grids, said = (), refusal.problem
    if said is None:
        assert any(cell for grid in grids for row in grid.cells for cell in row)
    else:
        assert said.startswith("tools.csv") and said.isprintable()


def test_the_way_in_and_the_reader_of_workbooks_load_no_frame_library():
    for module in ("read", "workbook_process"):
        program = f"import sys; import wearfit.records.readers.{module}; print('pandas' in sys.modules or 'numpy' in sys.modules)"
        assert subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True).stdout.strip() == "False"
