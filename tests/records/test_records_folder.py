"""The plain form: a folder of files as people write them, with the row numbers that a spreadsheet shows."""

import os
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest
from fleets import about, csv_of, fleet

from wearfit.errors import Refusal
from wearfit.records.readers.forms import files_of
from wearfit.records.readers.read import read
from wearfit.records.upload import digest_of

HandOver = Callable[[Mapping[str, str | bytes]], Path]


@pytest.fixture
def hand_over(tmp_path: Path) -> HandOver:
    """A folder with the given files in it."""

    def write(files: Mapping[str, str | bytes]) -> Path:
        folder = tmp_path / "history"
        folder.mkdir()
        for name, content in files.items():
            (folder / name).write_bytes(content if isinstance(content, bytes) else content.encode())
        return folder

    return write


RUNS = "tool_id,plant_id,resin_id,started_on,ended_on,shots\n"
TOOLS = "tool_id,commissioned_on\n"


def test_a_folder_is_read_table_by_table(hand_over: HandOver):
    upload = read(hand_over({f"{name}.csv": csv_of(rows) for name, rows in fleet().items()}))
    assert upload.name == "history"
    assert upload.counts == {"tools": 1, "runs": 1, "events": 1, "plants": 2, "resins": 2}
    assert upload.findings == ()
    run = next(row for row in upload.rows if row.table == "runs")
    assert run.values == {
        "tool_id": "T1", "plant_id": "Heath", "resin_id": "R1", "started_on": "2020-01-10", "ended_on": "2020-01-19", "shots": "1000",
    }  # fmt: skip
    assert run.row == 2


def test_one_file_named_as_a_table_is_read_alone(hand_over: HandOver):
    folder = hand_over({"Tools.CSV": TOOLS + "T1,2020-01-01\n", "runs.csv": RUNS})
    assert read(folder / "Tools.CSV").counts == {"tools": 1}
    assert read(folder).empty_tables == ("runs",)


def test_names_match_regardless_of_case_spaces_hyphens_and_underscores(hand_over: HandOver):
    upload = read(hand_over({"TOOLS.csv": "\ufeffTool ID, Commissioned-On ,Cavity Steel\nT1,2020-01-01,Copper alloy\n"}))
    assert upload.rows[0].values == {"tool_id": "T1", "commissioned_on": "2020-01-01", "cavity_steel": "copper_alloy"}
    assert upload.findings == ()


def test_a_byte_order_mark_and_windows_line_ends_change_nothing(hand_over: HandOver, tmp_path: Path):
    plain = TOOLS + "Ł1,2020-01-01\n"
    marked = tmp_path / "tools.csv"
    marked.write_bytes(b"\xef\xbb\xbf" + plain.replace("\n", "\r\n").encode())
    assert read(marked).rows == read(hand_over({"tools.csv": plain})).rows


def test_near_names_are_offered_not_guessed(hand_over: HandOver):
    upload = read(hand_over({"tools.csv": "tool_id,commissioned_on,cavites,colour\nT1,2020-01-01,4,red\n", "tool.csv": "x\n1\n"}))
    near, other = about(upload.findings, "tools", "cavites")[0], about(upload.findings, "tools", "colour")[0]
    assert "'cavities'" in near.repair and near.severity == "note"
    assert "Nothing needs doing" in other.repair
    assert upload.rows[0].values["cavites"] == "4" and "cavities" not in upload.rows[0].values
    (table,) = about(upload.findings, "tool", None)
    assert "'tools'" in table.repair


def test_unknown_columns_are_kept_under_their_own_header(hand_over: HandOver):
    upload = read(hand_over({"tools.csv": "tool_id,commissioned_on,Rack,Rack,\nT1,2020-01-01, 7 ,8,stray\nT2,2020-01-01,,,\n"}))
    assert upload.rows[0].values == {"tool_id": "T1", "commissioned_on": "2020-01-01", "Rack": "7", "Rack (2)": "8", "column 5": "stray"}
    assert upload.rows[1].values == {"tool_id": "T2", "commissioned_on": "2020-01-01"}


def test_rows_that_cannot_be_read_are_set_aside_and_the_rest_is_read(hand_over: HandOver):
    text = RUNS + (
        "T1,Heath,R1,2020-01-10,2020-01-19,1000\n"
        "\n"
        'T1,Heath,R1,"soon",2020-01-19,1000\n'
        ",Heath,R1,2020-02-10,2020-02-19,twelve\n"
        "T1,Heath,R1,2020-03-10,2020-03-19,\n"
        "T1,Heath,R1,2020-04-10,2020-04-19,1000,five\n"
        "T1,Heath,R1,2020-05-10,2020-05-19\n"
        'T1,Heath,R1,2020-06-10,2020-06-19,"1000",,\n'
        ",,,,,\n"
    )
    upload = read(hand_over({"runs.csv": text}))
    assert [row.row for row in upload.rows] == [2, 9]
    assert upload.counts == {"runs": 7}
    assert [(f.row, f.column, f.value) for f in upload.findings] == [
        (4, "started_on", "soon"),
        (5, "tool_id", None),
        (5, "shots", "twelve"),
        (6, "shots", None),
        (7, None, "five"),
        (8, "shots", None),
    ]
    assert {f.severity for f in upload.findings} == {"set_aside"}
    assert all(f.problem.endswith(".") and f.repair.endswith(".") for f in upload.findings)


def test_a_cell_over_two_lines_is_one_row(hand_over: HandOver):
    text = 'tool_id,date,event,note\nT1,2020-01-01,service,"first line\nsecond, ""line"""\nT1,2020-01-02,seize,\n'
    upload = read(hand_over({"events.csv": text}))
    assert upload.rows[0].values["note"] == 'first line\nsecond, "line"'
    assert upload.findings[0].row == 3


def test_an_unknown_event_is_set_aside_with_the_near_word(hand_over: HandOver):
    upload = read(hand_over({"events.csv": "tool_id,date,event\nT1,2020-01-01,refurbis\nT1,2020-01-01,party\n"}))
    near, none = upload.findings
    assert upload.rows == ()
    assert (near.severity, near.column, near.value) == ("set_aside", "event", "refurbis")
    assert "'refurbish'" in near.repair
    assert "one of" in none.repair


def test_repeated_keys_are_told(hand_over: HandOver):
    runs = (
        RUNS + "T1,Heath,R1,2020-01-10,2020-01-19,1000\nT1,Heath,R1,2020-01-10,2020-01-19,2000\nT1,Heath,R1,2020-01-10,2020-01-19,1000.0\n"
    )
    tools = "tool_id,commissioned_on,cavities\nT1,2020-01-01,2\nT1,2020-01-01,4\nT1,2020-01-01,4\n"
    upload = read(hand_over({"runs.csv": runs, "tools.csv": tools}))
    told = [(f.table, f.row, f.problem, f.severity) for f in upload.findings]
    assert [(table, row, severity) for table, row, _, severity in told] == [
        ("tools", 3, "note"), ("tools", 4, "note"), ("runs", 3, "note"), ("runs", 4, "note"),
    ]  # fmt: skip
    assert "this later row is the one used" in told[0][2]
    assert "same as row 3" in told[1][2]
    assert "both count" in told[2][2]
    assert "same as row 2" in told[3][2]
    assert [row.occurrence for row in upload.rows if row.table == "runs"] == [0, 1, 0]


def test_a_return_to_older_values_is_the_row_that_is_used(hand_over: HandOver):
    tools = "tool_id,commissioned_on,cavities\nT1,2020-01-01,2\nT1,2020-01-01,4\nT1,2020-01-01,2\n"
    findings = read(hand_over({"tools.csv": tools})).findings
    assert ["this later row is the one used" in f.problem for f in findings] == [True, True]


def test_the_digest_tells_where_one_file_ends_and_the_next_begins():
    assert digest_of([("a", b"bc")]) != digest_of([("ab", b"c")])
    assert digest_of([("a", b"1b"), ("b", b"")]) != digest_of([("a", b"1"), ("b", b"b")])


@pytest.mark.parametrize(
    ("files", "said"),
    [
        ({"tools.csv": b""}, "tools.csv is empty"),
        ({"tools.csv": b"\n\n"}, "tools.csv is empty"),
        ({"tools.csv": b"PK\x03\x04\x00\x00"}, "damaged"),
        ({"tools.csv": b"tool_id\0,commissioned_on"}, "not text"),
        ({"tools.csv": "tool_id,comissioned on\nT1,2020-01-01\n"}, "no column commissioned_on"),
        ({"tools.csv": "tool_id,Tool ID,commissioned_on\nT1,T1,2020-01-01\n"}, "two columns named tool_id"),
        ({"runs.csv": "tool_id,plant_id,resin_id,started_on,ended_on\n"}, "neither a column shots nor parts"),
        ({"tools.csv": TOOLS + '"T1,2020-01-01\nT2,2020-01-01\n'}, "double quote"),
        ({"invoices.csv": "a,b\n"}, "named as a table"),
        ({}, "holds no file"),
        ({"photo.jpg": b"\xff\xd8\xff"}, "holds no file"),
    ],
)
def test_a_hand_over_that_cannot_be_used_is_refused_in_a_sentence(hand_over: HandOver, files: dict, said: str):
    with pytest.raises(Refusal) as refused:
        read(hand_over(files))
    assert said in refused.value.problem
    assert refused.value.status == 1
    for sentence in (refused.value.problem, refused.value.repair):
        assert sentence.endswith(".") and "\n" not in sentence


def test_a_missing_required_column_offers_the_near_one(hand_over: HandOver):
    with pytest.raises(Refusal, match="If 'comissioned on' is commissioned_on, rename it"):
        read(hand_over({"tools.csv": "tool_id,comissioned on\nT1,2020-01-01\n"}))


def test_nothing_outside_the_folder_is_followed(hand_over: HandOver, tmp_path: Path):
    folder = hand_over({"tools.csv": TOOLS})
    outside = tmp_path / "secret.csv"
    outside.write_text(RUNS)
    (folder / "runs.csv").symlink_to(outside)
    with pytest.raises(Refusal, match=r"runs\.csv leads out of the folder"):
        read(folder)
    (folder / "runs.csv").unlink()
    (folder / "runs.csv").symlink_to(os.path.join("..", "secret.csv"))
    with pytest.raises(Refusal, match=r"runs\.csv leads out of the folder"):
        read(folder)
    (folder / "runs.csv").unlink()
    (folder / "plants.csv").write_text("plant_id\nHeath\n")
    (folder / "sites").mkdir()
    (folder / "sites" / "runs.csv").symlink_to(outside)
    assert read(folder).counts == {"tools": 0, "plants": 1}


def test_other_files_of_a_folder_are_left_alone_and_told(hand_over: HandOver):
    folder = hand_over(
        {
            "tools.csv": TOOLS + "T1,2020-01-01\n", ".hidden.csv": "x", "~$tools.xlsx": "x", "Thumbs.db": "x", "rows.csv": "x\n",
            "a.jpg": "x", "b.jpg": "x", "c.jpg": "x", "d.jpg": "x", "old.zip": "x",
        }
    )  # fmt: skip
    (folder / "2023").mkdir()
    (folder / "2023" / "runs.csv").write_text(RUNS)
    handed = files_of(folder)
    assert [name for name, _ in handed.files] == ["rows.csv", "tools.csv"]
    assert [finding.problem for finding in handed.findings] == [
        "a.jpg, b.jpg, c.jpg and 1 more are in no form that can be read and were left out.",
        "old.zip: an archive within a folder or archive is not read.",
        "2023: a folder within a folder is not read.",
    ]
    assert {(finding.severity, finding.row, finding.source) for finding in handed.findings} == {
        ("note", None, "a.jpg"), ("note", None, "old.zip"), ("note", None, "2023"),
    }  # fmt: skip
    assert {"a.jpg", "rows.csv"} <= {finding.source for finding in read(folder).findings}


def test_several_files_may_hold_the_same_table(hand_over: HandOver):
    upload = read(hand_over({"tools.csv": TOOLS + "T1,2020-01-01\n", "Tools.CSV": TOOLS + "T2,2020-01-01\n"}))
    assert upload.counts == {"tools": 2}
    assert sorted((row.values["tool_id"], row.source) for row in upload.rows) == [("T1", "tools.csv"), ("T2", "Tools.CSV")]


def test_a_letter_beside_the_tables_costs_nothing_but_a_table_as_txt_is_refused(hand_over: HandOver, tmp_path: Path):
    letter = '"Dear all,\nsee the files beside.\n'
    upload = read(hand_over({"tools.csv": TOOLS + "T1,2020-01-01\n", "read me.txt": letter}))
    (told,) = [finding for finding in upload.findings if finding.source == "read me.txt"]
    assert told.severity == "set_aside" and "double quote" in told.problem
    assert upload.counts == {"tools": 1}
    (tmp_path / "history" / "runs.txt").write_text(letter)
    with pytest.raises(Refusal, match=r"runs\.txt has a double quote"):
        read(tmp_path / "history")


def test_a_name_that_cannot_be_shown_is_refused(hand_over: HandOver):
    with pytest.raises(Refusal) as refused:
        read(hand_over({"tools\x1b[2J.csv": TOOLS}))
    assert "x1b" in refused.value.problem and refused.value.problem.isprintable()


def test_bytes_are_kept_as_they_came_and_the_digest_is_of_them(hand_over: HandOver, tmp_path: Path):
    content = b"\xef\xbb\xbf" + TOOLS.encode() + b"T1,2020-01-01\r\n"
    upload = read(hand_over({"tools.csv": content, "runs.csv": RUNS}))
    assert dict(upload.files) == {"tools.csv": content, "runs.csv": RUNS.encode()}
    again = tmp_path / "another name"
    again.mkdir()
    (again / "runs.csv").write_bytes(RUNS.encode())
    (again / "tools.csv").write_bytes(content)
    assert read(again).digest == upload.digest
    (again / "tools.csv").write_bytes(content + b"\n")
    assert read(again).digest != upload.digest
