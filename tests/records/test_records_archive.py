"""A ZIP archive: read as the folder it was made of, and nothing of it trusted."""

import io
import stat
import struct
import zipfile
from pathlib import Path

import pytest
from handed_books import packed

from wearfit.errors import Refusal
from wearfit.records.readers import archive, zips
from wearfit.records.readers.archive import unpacked
from wearfit.records.readers.forms import files_of
from wearfit.records.readers.limits import ENTRIES
from wearfit.records.readers.read import read

TOOLS = b"tool_id,commissioned_on\nT1,2020-01-01\n"
RUNS = b"tool_id,plant_id,resin_id,started_on,ended_on,shots\nT1,Heath,R1,2020-02-01,2020-02-02,100\n"


def test_an_archive_gives_the_same_upload_as_the_folder(tmp_path: Path):
    folder = tmp_path / "history"
    folder.mkdir()
    for name, content in (("tools.csv", TOOLS), ("runs.csv", RUNS)):
        (folder / name).write_bytes(content)
    for wrap in ("", "history/"):
        members = {f"{wrap}runs.csv": RUNS, f"{wrap}tools.csv": TOOLS}
        (tmp_path / "history.zip").write_bytes(packed({wrap: "", **members} if wrap else members))
        upload = read(tmp_path / "history.zip")
        assert (upload.rows, upload.digest, upload.files) == (read(folder).rows, read(folder).digest, read(folder).files)
        assert upload.name == "history.zip"


def test_what_systems_leave_behind_is_skipped_and_what_people_put_in_is_told():
    members = {
        "h/": "", "h/tools.csv": TOOLS, "__MACOSX/h/._tools.csv": "x", "h/.DS_Store": "x", "h/Thumbs.db": "x", "h/~$tools.xlsx": "x",
        "h/.~lock.tools.ods#": "x", "h/.git/config": "x", "h/2023/runs.csv": RUNS, "h/photo.jpg": "x",
        "h/old.zip": packed({"runs.csv": RUNS}),
    }  # fmt: skip
    handed = unpacked("history.zip", packed(members))
    assert handed.files == (("tools.csv", TOOLS),)
    assert [finding.value for finding in handed.findings] == ["photo.jpg", "old.zip", "2023"]
    assert {finding.severity for finding in handed.findings} == {"note"}


def test_nothing_is_written_to_the_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    def none(*_: object) -> None:
        raise AssertionError("unpacked to the disk")

    for way in ("extract", "extractall"):
        monkeypatch.setattr(zipfile.ZipFile, way, none)
    monkeypatch.chdir(tmp_path)
    unpacked("history.zip", packed({"tools.csv": TOOLS}))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "member", ["../x.csv", "h/../../x.csv", "/x.csv", "C:x.csv", "c:/x.csv", "h\\x.csv", "..\\x.csv", "__MACOSX/../x.csv", "x.csv/.."]
)
def test_a_member_that_leads_out_is_refused_by_name(member: str):
    with pytest.raises(Refusal) as refused:
        unpacked("history.zip", packed({"tools.csv": TOOLS, member: RUNS}))
    assert refused.value.problem == f"{member} in history.zip leads out of the folder."


def test_a_link_or_device_is_refused_by_name():
    for kind in (stat.S_IFLNK, stat.S_IFIFO, stat.S_IFCHR):
        made = io.BytesIO()
        with zipfile.ZipFile(made, "w") as new:
            entry = zipfile.ZipInfo("tools.csv")
            entry.create_system = 3
            entry.external_attr = (kind | 0o644) << 16
            new.writestr(entry, "/etc/passwd")
        with pytest.raises(Refusal, match=r"tools\.csv in history\.zip leads out of the folder"):
            unpacked("history.zip", made.getvalue())


def test_two_members_of_one_name_are_refused():
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as new:
        new.writestr("tools.csv", TOOLS)
        with pytest.warns(UserWarning, match="Duplicate name"):
            new.writestr("tools.csv", RUNS)
    with pytest.raises(Refusal, match=r"two files named tools\.csv"):
        unpacked("history.zip", made.getvalue())


def flagged(content: bytes, flag: int) -> bytes:
    """The archive with a flag set on its one member, in both places."""
    changed = bytearray(content)
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        at = changed.index(mark) + offset
        changed[at] |= flag
    return bytes(changed)


def test_a_protected_archive_is_refused():
    with pytest.raises(Refusal, match=r"history\.zip is protected with a password"):
        unpacked("history.zip", flagged(packed({"tools.csv": TOOLS}), 1))


def test_an_archive_packed_by_another_method_is_refused():
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_LZMA) as new:
        new.writestr("tools.csv", TOOLS)
    with pytest.raises(Refusal, match="packed by a method that is not read"):
        unpacked("history.zip", made.getvalue())


@pytest.mark.parametrize("cut", [10, 60, 120, 200])
def test_a_damaged_archive_is_refused(cut: int):
    whole = packed({"tools.csv": TOOLS, "runs.csv": RUNS})
    for content in (whole[:-cut], whole[: len(whole) // 4] + b"\xff\xff\xff" + whole[len(whole) // 4 + 3 :]):
        with pytest.raises(Refusal, match=r"history\.zip is damaged"):
            unpacked("history.zip", content)


def resized(content: bytes, size: int) -> bytes:
    """The archive with another unpacked size in both its headers."""
    changed = bytearray(content)
    for mark, offset in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        at = changed.index(mark) + offset
        changed[at : at + 4] = struct.pack("<I", size)
    return bytes(changed)


def test_sizes_in_the_header_are_not_believed():
    content = packed({"tools.csv": bytes(3_000_000)})
    with pytest.raises(Refusal, match="damaged"):
        unpacked("history.zip", resized(content, 10))
    with pytest.raises(Refusal, match=r"unpacks to more than the 1 MiB that are still allowed, by tools\.csv"):
        unpacked("history.zip", resized(content, 4_000_000), file_bytes=1 << 20)


def test_a_bomb_is_refused_before_it_is_unpacked(monkeypatch: pytest.MonkeyPatch):
    content = packed({f"{i}.csv": bytes(2 << 20) for i in range(4)})
    assert len(content) < 20_000
    read_bytes = 0
    original = zipfile.ZipExtFile.read

    def counted(self: zipfile.ZipExtFile, size: int = -1) -> bytes:
        nonlocal read_bytes
        piece = original(self, size)
        read_bytes += len(piece)
        return piece

    monkeypatch.setattr(zipfile.ZipExtFile, "read", counted)
    with pytest.raises(Refusal, match="unpacks to more than"):
        unpacked("history.zip", content, all_bytes=3 << 20)
    assert read_bytes <= (3 << 20) + zips.PIECE


def test_too_many_entries_are_refused_by_their_number():
    many = packed({"tools.csv": TOOLS}) + zips._ENTRY_MARK * (ENTRIES + 1)
    with pytest.raises(Refusal, match="holds about 10,002 files"):
        unpacked("history.zip", many)


def test_what_is_no_archive_is_refused(tmp_path: Path):
    (tmp_path / "history.zip").write_bytes(b"tool_id\nT1\n")
    with pytest.raises(Refusal, match="is not a ZIP archive"):
        read(tmp_path / "history.zip")
    (tmp_path / "history.zip").write_bytes(packed({"photo.jpg": "x"}))
    with pytest.raises(Refusal, match="holds no file that can be read as a table"):
        read(tmp_path / "history.zip")
    (tmp_path / "history.csv").write_bytes(packed({"tools.csv": TOOLS}))
    with pytest.raises(Refusal, match="is a ZIP archive and not what its name says"):
        read(tmp_path / "history.csv")
    assert archive.accepts(tmp_path / "history.zip") and not archive.accepts(tmp_path)


def test_a_name_that_cannot_be_shown_is_refused(tmp_path: Path):
    (tmp_path / "history.zip").write_bytes(packed({"tools\n.csv": TOOLS}))
    with pytest.raises(Refusal) as refused:
        files_of(tmp_path / "history.zip")
    assert refused.value.problem.isprintable()
