"""Text as a grid: whatever its encoding, line ends and delimiter."""

import codecs
import time
from collections.abc import Mapping, Sequence

import pytest

from wearfit.errors import Refusal
from wearfit.records.choices import Choices
from wearfit.records.findings import Finding
from wearfit.records.readers.delimiters import delimiter_of
from wearfit.records.readers.encodings import encoding_of
from wearfit.records.readers.forms import grids_of
from wearfit.records.readers.grid import Grid


def read_text(content: bytes, name: str = "tools.csv", encodings: Mapping[str, str] | None = None) -> tuple[Grid, Sequence[Finding]]:
    (grid,), findings = grids_of([(name, content)], Choices(encodings=encodings or {}))
    return grid, findings


SHEET = "tool_id,note\nŁ1,größer\n"
CELLS = [("tool_id", "note"), ("Ł1", "größer")]


@pytest.mark.parametrize(
    "content",
    [
        SHEET.encode(),
        codecs.BOM_UTF8 + SHEET.encode(),
        codecs.BOM_UTF16_LE + SHEET.encode("utf-16-le"),
        codecs.BOM_UTF16_BE + SHEET.encode("utf-16-be"),
        codecs.BOM_UTF32_LE + SHEET.encode("utf-32-le"),
        codecs.BOM_UTF8 + SHEET.replace("tool_id", '"tool_id"').encode(),
        SHEET.replace("\n", "\r\n").encode(),
        SHEET.replace("\n", "\r").encode(),
        SHEET.rstrip().encode(),
        SHEET.replace(",", ";").encode(),
        SHEET.replace(",", "\t").encode("utf-16"),
        SHEET.replace(",", "|").encode(),
        ("sep=;\r\n" + SHEET.replace(",", ";")).encode(),
        ('"sep=|"\n' + SHEET.replace(",", "|")).encode("utf-16"),
    ],
)
def test_encodings_line_ends_and_delimiters_that_are_sure_change_nothing_and_are_not_told(content: bytes):
    grid, findings = read_text(content)
    assert grid.cells == CELLS
    assert (grid.source, grid.name) == ("tools.csv", "tools")
    assert findings == ()


def test_semicolons_are_kept_in_mind():
    assert read_text(b"a;b\n1;2\n")[0].semicolons
    assert not read_text(b"a,b\n1,2\n")[0].semicolons


WRITTEN = [
    ("cp1252", "München;Grat größer;25 °C"),
    ("cp1252", "Évreux;réparé;½ mm"),
    ("cp1252", "São João;injeção nº 3"),
    ("cp1252", "Århus;slibning på køl"),
    ("cp1252", "worn – flash;£ 500"),
    ("cp1250", "Łódź;Gdańsk"),
    ("cp1250", "Dělicí rovina;otřep čištění"),
    ("cp1250", "Győr;hűtés"),
    ("cp1250", "żądanie działu;5 mm i 3 µm"),
    ("cp1254", "İzmir;aşınma değişti"),
    ("cp1257", "Šiauliai;įmonė"),
    ("cp1251", "Тверь;завод"),
    ("cp1253", "Αθήνα;εργοστάσιο"),
    ("cp932", "大阪工場;名古屋の金型"),
    ("gb18030", "深圳工厂;东莞模具"),
    ("big5", "台北工廠;模具"),
    ("cp949", "부산 공장;금형"),
    ("mac_roman", "München;größer;Oberfläche"),
    ("cp852", "Łódź;Gdańsk"),
]


@pytest.mark.parametrize(("codec", "line"), WRITTEN)
def test_a_guess_is_the_encoding_whose_words_a_language_has_and_is_told_with_some_of_them(codec: str, line: str):
    grid, (told,) = read_text(f"a;b;c\n{line}\n".encode(codec))
    assert grid.cells[1] == tuple(line.split(";"))
    assert (told.severity, told.table, told.row, told.value, told.source) == ("note", "tools", None, codec, "tools.csv")
    assert f"'{next(word for word in line.replace(';', ' ').split() if not word.isascii())}'" in told.problem
    assert "[encodings]" in told.repair and '"tools.csv" = ' in told.repair


def test_where_two_encodings_are_possible_both_readings_are_shown():
    _, (told,) = read_text("a;b\n1;Győr\n".encode("cp1250"))
    assert "'Gyõr'" in told.problem and "as cp1250 they would be 'Győr'" in told.problem
    assert '"tools.csv" = "cp1250"' in told.repair
    _, (alike,) = read_text("a;b\n1;München\n".encode("cp1252"))
    assert "cp1250 would give the same words" in alike.problem


def test_files_that_came_together_help_each_other():
    open_word = "a;b\n1;záruka\n2;údržba\n".encode("cp1250")
    doubtful = "a;b\n1;Győr\n".encode("cp1250").replace("ő".encode("cp1250"), "ń".encode("cp1250"))
    assert encoding_of("x.csv", doubtful, None, {}).codec == "cp1252"  # Gyñr
    grids, _ = grids_of([("runs.csv", doubtful), ("tools.csv", open_word), ("plants.csv", "a\nŁódź żółw\n".encode("cp1250"))])
    assert {grid.name: grid.cells[1][-1] for grid in grids} == {"runs": "Gyńr", "tools": "záruka", "plants": "Łódź żółw"}


def test_utf16_without_a_mark_is_recognised_and_told():
    for codec in ("utf-16-le", "utf-16-be"):
        grid, (told,) = read_text(SHEET.encode(codec))
        assert grid.cells == CELLS
        assert codec in told.problem


def test_what_the_user_chooses_is_used_without_a_word():
    content = "tool_id\nGyõr\n".encode("cp1252")
    assert read_text(content, encodings={"Tools.csv": "cp1250"})[0].cells[1] == ("Győr",)
    assert read_text(content, encodings={"tools.csv": "cp1252"})[0].cells[1] == ("Gyõr",)
    assert read_text(content, encodings={"tools.csv": "cp1252"})[1] == ()
    marked, _ = read_text(codecs.BOM_UTF8 + SHEET.encode(), encodings={"tools.csv": "utf-8"})
    assert marked.cells == CELLS
    both, _ = read_text(codecs.BOM_UTF16_LE + SHEET.encode("utf-16-le"), encodings={"tools.csv": "utf-16-le"})
    assert both.cells == CELLS


@pytest.mark.parametrize(
    ("content", "encodings", "said"),
    [
        ("a\nŁ\n".encode("cp1250"), {"tools.csv": "utf-8"}, "not text in utf-8"),
        (codecs.BOM_UTF8 + b"a\n\xff\n", {}, "begins as utf-8"),
        (codecs.BOM_UTF16_LE + b"a", {}, "begins as utf-16"),
        (b"a,b\n1,\x00\x01\n", {}, "not text"),
        (bytes(range(256)) * 4, {}, "not text"),
        (b"%PDF-1.7\n", {}, "a PDF document"),
        (b"\xef\xbb\xbf <!DOCTYPE html><html>", {}, "a web page"),
        (b"<?xml version='1.0'?><a/>", {}, "an XML document"),
    ],
)
def test_what_is_no_text_is_refused_in_a_sentence(content: bytes, encodings: Mapping[str, str], said: str):
    with pytest.raises(Refusal) as refused:
        read_text(content, encodings=encodings)
    assert said in refused.value.problem and "tools.csv" in refused.value.problem
    assert refused.value.problem.endswith(".") and refused.value.repair.endswith(".")


@pytest.mark.parametrize(
    ("head", "delimiter"),
    [
        ("a,b\n1,2\n", ","),
        ("a;b\n1,5;2,5\n3,5;4,5\n", ";"),
        ("tool;wear\nT1;1,5\nT2;2,5\nT3;3,5\nT4;4,5;late\n", ";"),
        ("id,note\n1,first; second\n2,third; fourth\n", ","),
        ('id,note\n1,"a;b;c"\n2,"d;e;f"\n', ","),
        ('id;note\n1;"a,b"\n2;"d,e"\n', ";"),
        ("Tool list, 2024\n\nid;made\n1;2\n3;4\n5;6\n7;8\n", ";"),
        ("id\tnote\n1\ta, b\n2\tc, d\n", "\t"),
        ("id|note\n1|a\n", "|"),
        ("1,2\n3,4\n", ","),
        ("word\nanother\n", ","),
        ("", ","),
    ],
)
def test_the_delimiter_is_the_one_that_cuts_the_lines_alike(head: str, delimiter: str):
    assert delimiter_of(head) == delimiter


def test_a_text_without_a_delimiter_has_one_column_and_blank_lines_stay():
    assert read_text(b"tool_id\n\nT1\n")[0].cells == [("tool_id",), (), ("T1",)]


def test_cells_stay_as_they_are_typed():
    long = "x" * 200_000
    grid, _ = read_text(f'a,b\n" two\nlines ","5"" pipe"\n=1+1,\x07\x0b\u2028\n{long},5" pipe\n'.encode())
    assert grid.cells == [("a", "b"), (" two\nlines ", '5" pipe'), ("=1+1", "\x07\x0b\u2028"), (long, '5" pipe')]


def test_an_open_quote_is_named_with_the_line_where_its_row_begins():
    text = b'a,b\n1,"two\nlines"\n3,4\n5,"open\n6,7\n8,9\n'
    with pytest.raises(Refusal, match=r"tools\.csv has a double quote without its fellow in the row that begins at line 5\."):
        read_text(text)


def test_words_that_come_again_are_held_once():
    grid, _ = read_text(b"a,b\n" + b"plant one,plant one\n" * 50)
    assert len({id(cell) for row in grid.cells[1:] for cell in row}) == 1


@pytest.mark.slow
def test_four_hundred_thousand_rows_are_read_within_the_limit():
    lines = (f"T{i % 2000:05},P{i % 8},R{i % 9},2014-04-25,2014-04-30,{9000 + i % 7919},4,{i % 31},30,1,night" for i in range(400_000))
    content = ("tool_id,plant_id,resin_id,started_on,ended_on,shots,a,b,c,d,e\n" + "\n".join(lines)).encode()
    start = time.process_time()
    grid, _ = read_text(content, "runs.csv")
    assert time.process_time() - start < 1.5
    assert len(grid.cells) == 400_001


def test_a_long_line_costs_no_more_than_its_length():
    content = (b"x" * 300_000 + b"\n") * 3 + "é\n".encode("cp1252") + b"y" * 300_000
    start = time.process_time()
    assert read_text(content)[0].cells[3] == ("é",)
    assert time.process_time() - start < 2.0
