"""What is taken away: text stays text, whatever it looks like."""

import csv
import io
import zipfile
from xml.etree import ElementTree

import pytest
from python_calamine import CalamineWorkbook

from wearfit.workflow.downloads import as_csv, as_workbook

EVIL = ['=HYPERLINK("http://example.org","open")', "+1+1", "-2+3", "@SUM(A1)", "\t=1", "=cmd|' /C calc'!A0"]
_SHEET = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"


@pytest.mark.parametrize("text", EVIL)
def test_text_that_looks_like_a_formula_stays_text_in_csv(text: str) -> None:
    content = as_csv(("Tool", "Shots"), [(text, -5)]).decode("utf-8-sig")
    _, (tool, shots) = csv.reader(io.StringIO(content, newline=""))
    assert tool == f"'{text}"
    assert shots == "-5"  # a number is a number, whatever its sign


def test_ordinary_text_is_written_as_it_is() -> None:
    rows = [("Łódź, 3", None), ("a\nb", 1.5), ('"x"', 0)]
    content = as_csv(("Plant", "n"), rows)
    assert content.startswith(b"\xef\xbb\xbf")
    read = list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline="")))
    assert read == [["Plant", "n"], ["Łódź, 3", ""], ["a\nb", "1.5"], ['"x"', "0"]]


def test_a_workbook_holds_no_formula_and_no_link() -> None:
    content = as_workbook("fleet", ("Tool", "Shots"), [(text, 7) for text in EVIL])
    with zipfile.ZipFile(io.BytesIO(content)) as parts:
        sheet = ElementTree.fromstring(parts.read("xl/worksheets/sheet1.xml"))
    assert not sheet.findall(f".//{_SHEET}f")
    assert not sheet.findall(f".//{_SHEET}hyperlink")
    rows = CalamineWorkbook.from_filelike(io.BytesIO(content)).get_sheet_by_name("fleet").to_python()
    assert [row[0] for row in rows[1:]] == EVIL
    assert [row[1] for row in rows[1:]] == [7.0] * len(EVIL)


def test_a_workbook_may_be_empty_and_its_name_long() -> None:
    content = as_workbook("f" * 60, ("Tool",), [])
    assert CalamineWorkbook.from_filelike(io.BytesIO(content)).sheet_names == ["f" * 31]
