"""No file exhausts the machine: each bound that is broken is one sentence, and the reader of workbooks may die without harm."""

import os
import time
from dataclasses import fields, replace
from pathlib import Path

import pytest
from handed_books import ods_of_xml, sheet_xml, with_part, xlsx, xlsx_of_xml

from wearfit.errors import Refusal
from wearfit.records.readers import files, handover
from wearfit.records.readers.forms import grids_of
from wearfit.records.readers.limits import ALL_BYTES, BOUNDS, FILE_BYTES, Bounds
from wearfit.records.readers.read import read
from wearfit.records.readers.workbook import grids_of_workbook


def refused(content: bytes, bounds: Bounds = BOUNDS, name: str = "history.xlsx") -> str:
    with pytest.raises(Refusal) as told:
        grids_of([(name, content)], bounds=bounds)
    problem, repair = told.value.problem, told.value.repair
    assert told.value.status == 1
    assert problem.startswith(name) and problem.endswith(".") and repair.endswith(".") and (problem + repair).isprintable()
    return problem


def test_the_largest_sheets_of_owners_pass():
    assert BOUNDS.rows >= 1_048_576 and BOUNDS.columns >= 16_384
    assert BOUNDS.cells >= 1_048_576 * 25
    assert FILE_BYTES <= ALL_BYTES


FAR = sheet_xml('<row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c r="XFD1048576"><v>2</v></c></row>')


def test_one_cell_in_the_last_corner_is_refused_by_its_address():
    content = xlsx_of_xml(FAR)
    assert len(content) < 10_000
    problem = refused(content)
    assert "sheet runs" in problem and "row 1,048,576 and column XFD" in problem and "30,000,000 cells" in problem


@pytest.mark.parametrize(
    "far",
    [
        '<row><c r="A1"><v>1</v></c></row><row r="2"><c r="XFD1048576"><v>2</v></c></row>',
        '<row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c r="XFD1048576" t="inlineStr"><is><t>x</t></is></c></row>',
        '<row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c r="&#88;FD1048576"><v>2</v></c></row>',
        '<row r="1"><c r="A1"><v>1</v></c></row><row r="1048575"/><row><c r="XFC1"/><c r="XFC1048576"/><c t="n"><v>2</v></c></row>',
    ],
)
def test_the_far_corner_is_seen_however_it_is_written(far: str):
    assert "column XFD" in refused(xlsx_of_xml(sheet_xml(far)))


def test_the_far_corner_is_seen_in_a_sheet_that_lies_elsewhere():
    book = xlsx({"runs": [["a"]]})
    links = '<Relationships><Relationship Id="rId1" Type="x/worksheet" Target="/elsewhere/one.xml"/></Relationships>'
    assert "column XFD" in refused(with_part(with_part(book, "elsewhere/one.xml", FAR), "xl/_rels/workbook.xml.rels", links))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"rows": 3}, "row 4 and column B; at most 3 rows"),
        ({"columns": 1}, "column B; at most 1 columns"),
        ({"cells": 7}, "at most 7 cells"),
        ({"sheets": 0}, "sheets"),
        ({"unpacked_bytes": 200}, "unpacks to more than the 200 bytes"),
    ],
)
def test_every_bound_of_a_workbook_holds_in_both_forms(change: dict[str, int], said: str):
    rows = [["a", "b"]] * 4
    bounds = replace(BOUNDS, **change)
    assert said in refused(xlsx({"runs": rows}), bounds)
    cells = '<table:table-cell office:value-type="float" office:value="1" table:number-columns-repeated="2"/>'
    body = f'<table:table table:name="runs"><table:table-row table:number-rows-repeated="4">{cells}</table:table-row></table:table>'
    assert said in refused(ods_of_xml(body), bounds, "history.ods")


@pytest.mark.parametrize(
    ("change", "said"), [({"rows": 3}, "more than 3 rows"), ({"columns": 1}, "a row of 2 cells"), ({"cells": 7}, "more than the 7 cells")]
)
def test_every_bound_of_a_text_holds(change: dict[str, int], said: str):
    with pytest.raises(Refusal) as told:
        grids_of([("runs.csv", b"a,b\n" * 4)], bounds=replace(BOUNDS, **change))
    assert said in told.value.problem and "runs.csv" in told.value.problem


@pytest.mark.parametrize("way", ["rows", "columns"])
def test_a_filled_cell_that_is_repeated_cannot_explode(way: str):
    times = {"rows": ("1048576", "1"), "columns": ("1", "1048576")}[way]
    cell = f'<table:table-cell office:value-type="string" table:number-columns-repeated="{times[1]}"><text:p>x</text:p></table:table-cell>'
    row = f'<table:table-row table:number-rows-repeated="{times[0]}">{cell * 40}</table:table-row>'
    start = time.process_time()
    assert "reaches to row" in refused(ods_of_xml(f'<table:table table:name="runs">{row}</table:table>'), name="history.ods")
    assert time.process_time() - start < 1.0


def test_many_sheets_share_one_bound():
    bounds = replace(BOUNDS, cells=10)
    assert "sheet b" in refused(xlsx({"a": [["x"] * 6], "b": [["x"] * 6]}), bounds)
    with pytest.raises(Refusal, match=r"more than the 10 cells that are read together; b\.csv"):
        grids_of([("a.csv", b"1,2,3,4,5,6\n"), ("b.csv", b"1,2,3,4,5,6\n")], bounds=bounds)


LAUGHS = "".join(f'<!ENTITY l{i} "{f"&l{i - 1};" * 10 if i else "ha"}">' for i in range(10))


def test_declarations_are_refused_wherever_they_stand():
    doctype = f"<?xml version='1.0'?><!DOCTYPE worksheet [{LAUGHS}]>"
    sheet = doctype + sheet_xml("<row><c t='inlineStr'><is><t>&l9;</t></is></c></row>").partition("?>")[2]
    assert "XML declarations" in refused(xlsx_of_xml(sheet))
    book = xlsx({"runs": [["a"]]})
    for part in ("xl/sharedStrings.xml", "xl/styles.xml", "xl/workbook.xml", "docProps/custom.xml"):
        assert "XML declarations" in refused(with_part(book, part, doctype + "<worksheet>&l9;</worksheet>"))
    late = "<?xml version='1.0'?><!--" + "x" * 262_100 + f"--><!DOCTYPE worksheet [{LAUGHS}]><worksheet/>"
    assert "XML declarations" in refused(with_part(book, "xl/styles.xml", late))
    utf16 = (doctype.replace("'1.0'", "'1.0' encoding='UTF-16'") + "<worksheet/>").encode("utf-16")
    assert "damaged" in refused(with_part(book, "xl/worksheets/sheet1.xml", utf16))
    with_laughs = ods_of_xml("<table:table/>")
    assert "XML declarations" in refused(with_part(with_laughs, "content.xml", doctype + "<a>&l9;</a>"), name="history.ods")


LITTLE_MEMORY = replace(BOUNDS, memory_bytes=64 << 20)


def test_a_reader_that_runs_out_of_memory_is_one_sentence():
    # One text of the workbook in 3,000 cells, each of which its reader fills with a copy.
    big = xlsx({"runs": [["x" * 30_000] * 10] * 300})
    assert len(big) < 50_000
    assert "needs more than the 64 MiB of memory" in refused(big, LITTLE_MEMORY)
    assert len(grids_of([("history.xlsx", big)])[0][0].cells) == 300
    assert len(grids_of([("history.xlsx", xlsx({"runs": [["a"]]}))], bounds=LITTLE_MEMORY)[0]) == 1


def test_where_the_look_before_fails_the_reader_dies_alone():
    """The library asks for hundreds of gigabytes over this one and ends its process."""
    assert "needs more than the 5,120 MiB of memory" in refused(xlsx_of_xml(FAR), replace(BOUNDS, cells=10**12))


def test_a_reader_that_takes_too_long_is_stopped():
    big = xlsx({"runs": [[float(row)] * 20 for row in range(20_000)]})
    assert "takes longer than the 0 seconds" in refused(big, replace(BOUNDS, wall_s=0))
    long = "<table:table-row><table:table-cell/></table:table-row>" * 1_000_000
    content = ods_of_xml(f'<table:table table:name="runs">{long}</table:table>')
    assert "takes longer than the 1 seconds" in refused(content, replace(BOUNDS, cpu_s=1), "history.ods")


def test_a_reader_that_dies_of_something_else_is_one_sentence(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("wearfit.records.readers.workbook._MODULE", "wearfit.records.readers.no_such_module")
    with pytest.raises(Refusal, match="the program that reads workbooks stopped over it"):
        grids_of_workbook("history.xlsx", xlsx({"runs": [["a"]]}) + bytes(1 << 20), "workbook")


def test_no_process_is_left_behind():
    def children() -> set[str]:
        return set(Path(f"/proc/{os.getpid()}/task/{os.getpid()}/children").read_text().split())

    before = children()
    refused(xlsx_of_xml(FAR))
    refused(xlsx({"runs": [["a"]]}), replace(BOUNDS, wall_s=0))
    assert children() <= before


def test_files_that_are_too_large_or_too_many_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    for name in ("runs.csv", "tools.csv", "events.csv"):
        (tmp_path / name).write_text("tool_id\nT1\n")
    with (tmp_path / "large.csv").open("wb") as large:
        large.truncate(FILE_BYTES + 1)
    with pytest.raises(Refusal, match=r"large\.csv has 256 MiB; at most 256 MiB"):
        read(tmp_path / "large.csv")
    (tmp_path / "large.csv").unlink()
    monkeypatch.setattr(handover, "FILES", 2)
    with pytest.raises(Refusal, match="holds 3 files of records; at most 2"):
        read(tmp_path)
    monkeypatch.undo()
    monkeypatch.setattr(files, "ALL_BYTES", 20)
    with pytest.raises(Refusal, match="more than the 20 bytes that are read together"):
        read(tmp_path)


def test_every_bound_is_positive_and_none_is_forgotten():
    assert {field.name for field in fields(Bounds)} == {
        "rows", "columns", "cells", "sheets", "unpacked_bytes", "memory_bytes", "cpu_s", "wall_s",
    }  # fmt: skip
    assert all(getattr(BOUNDS, field.name) > 0 for field in fields(Bounds))
