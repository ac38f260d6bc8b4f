"""Files that come as names and bytes are read as the same files in a folder."""

import io
import zipfile
from pathlib import Path

import pytest

from wearfit.errors import Refusal
from wearfit.records.readers.dropped import files_dropped, name_of
from wearfit.records.readers.read import read, read_handed

TOOLS = b"tool_id,service_class,commissioned_on\nT1,103,2020-01-01\n"
RUNS = b"tool_id,plant_id,resin_id,started_on,ended_on,shots\nT1,north,abs,2020-02-01,2020-02-20,90000\n"


def zipped(**files: bytes) -> bytes:
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w") as archive:
        for name, inside in files.items():
            archive.writestr(f"{name}.csv", inside)
    return content.getvalue()


def test_they_are_the_same_upload_as_a_folder_of_them(tmp_path: Path):
    (tmp_path / "tools.csv").write_bytes(TOOLS)
    (tmp_path / "runs.csv").write_bytes(RUNS)
    (tmp_path / "letter.docx").write_bytes(b"Dear Ines")
    files = [("tools.csv", TOOLS), ("runs.csv", RUNS), ("letter.docx", b"Dear Ines")]
    there, here = read(tmp_path), read_handed(name_of(files), files_dropped(files))
    assert here.digest == there.digest
    assert list(here.rows) == list(there.rows)
    assert here.findings == there.findings
    assert here.name == "letter.docx, runs.csv, tools.csv"


def test_what_is_in_an_archive_lies_beside_the_others():
    both = files_dropped([("old.zip", zipped(tools=TOOLS)), ("runs.csv", RUNS)])
    assert both.files == (("runs.csv", RUNS), ("tools.csv", TOOLS))


@pytest.mark.parametrize(
    ("files", "says"),
    [
        ([("letter.docx", b"Dear Ines")], "no file that can be read"),
        ([("a.zip", zipped(tools=TOOLS)), ("tools.csv", TOOLS)], "Two of the files are named tools.csv"),
        ([("a.zip", b"PK no archive")], "a.zip"),
        ([("a\x07.csv", RUNS)], "cannot be shown"),
    ],
)
def test_what_cannot_be_taken_is_refused_in_a_sentence(files: list[tuple[str, bytes]], says: str):
    with pytest.raises(Refusal, match=says):
        files_dropped(files)
