"""What lies at a store's path: made, opened, or refused and left as it was."""

import os
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from wearfit.errors import Refusal
from wearfit.store.store import Store


def _refusal(path: Path, must_exist: bool = False) -> Refusal:
    with pytest.raises(Refusal) as refused:
        Store.open(str(path), must_exist)
    return refused.value


def _contents(folder: Path) -> dict[str, bytes]:
    return {file.name: file.read_bytes() for file in folder.iterdir()}


@pytest.mark.parametrize("content", [None, b""])
def test_a_missing_or_empty_file_becomes_a_store(path: Path, content: bytes | None) -> None:
    if content is not None:
        path.write_bytes(content)
    with Store.open(f"sqlite:///{path}") as store:
        assert store.rows() == []
        assert store.calibrations() == []
    assert _contents(path.parent).keys() == {path.name}
    with Store.open(str(path), must_exist=True) as store:
        assert store.uploads() == []


@pytest.mark.parametrize("content", [None, b""])
def test_a_store_that_must_exist(path: Path, content: bytes | None) -> None:
    if content is not None:
        path.write_bytes(content)
    refusal = _refusal(path, must_exist=True)
    assert str(path) in refusal.problem
    assert "wearfit recalibrate PATH" in refusal.repair
    assert refusal.status == 1
    assert path.exists() == (content is not None)


def test_an_empty_database_is_not_yet_a_store(path: Path) -> None:
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE t (x)")
        other.execute("DROP TABLE t")
    other.close()
    assert "no store" in _refusal(path, must_exist=True).problem
    with Store.open(str(path)) as store:
        assert store.rows() == []


def test_a_folder_that_does_not_exist(tmp_path: Path) -> None:
    refusal = _refusal(tmp_path / "nowhere" / "wearfit.db")
    assert "does not exist" in refusal.problem
    assert not (tmp_path / "nowhere").exists()


def test_a_folder_is_not_a_store(tmp_path: Path) -> None:
    assert "is a folder" in _refusal(tmp_path).problem


@pytest.mark.parametrize("content", [b"tool_id,service_class\nA1,101\n", b"x", b"\0" * 4096])
def test_other_bytes_are_refused_untouched(path: Path, content: bytes) -> None:
    path.write_bytes(content)
    assert "not a SQLite file" in _refusal(path).problem
    assert _contents(path.parent) == {path.name: content}


@pytest.mark.parametrize("journal", ["DELETE", "WAL"])
@pytest.mark.parametrize("tables", [["songs"], ["songs", "alembic_version"]])
def test_another_programs_database_is_refused_untouched(path: Path, journal: str, tables: list[str]) -> None:
    other = sqlite3.connect(path)
    other.execute(f"PRAGMA journal_mode={journal}")
    for table in tables:
        other.execute(f"CREATE TABLE {table} (version_num TEXT)")
        other.execute(f"INSERT INTO {table} VALUES ('0001')")
    other.commit()
    other.close()
    before = _contents(path.parent)
    assert "tables of another program" in _refusal(path).problem
    assert _contents(path.parent) == before


def test_a_newer_store_is_refused_untouched(path: Path) -> None:
    Store.open(str(path)).close()
    newer = sqlite3.connect(path)
    newer.execute("UPDATE alembic_version SET version_num = '9999'")
    newer.commit()
    newer.close()
    before = _contents(path.parent)
    refusal = _refusal(path)
    assert "newer wearfit" in refusal.problem
    assert _contents(path.parent) == before


@pytest.mark.parametrize("left", [0.999, 0.5, 0.01])
def test_a_store_that_is_cut_short_is_refused_untouched(path: Path, runs: Callable, upload_of: Callable, left: float) -> None:
    with Store.open(str(path)) as store:
        store.add_upload(upload_of(runs(range(500))))
    whole = path.read_bytes()
    path.write_bytes(whole[: int(len(whole) * left)])
    before = _contents(path.parent)
    refusal = _refusal(path)
    assert f"cut short: of {len(whole):,} bytes" in refusal.problem
    assert refusal.status == 1
    assert _contents(path.parent) == before


def test_a_head_alone_is_refused_untouched(path: Path) -> None:
    Store.open(str(path)).close()
    path.write_bytes(path.read_bytes()[:60])
    before = _contents(path.parent)
    assert "cut short" in _refusal(path).problem
    assert _contents(path.parent) == before


def test_a_damaged_store_is_a_sentence(path: Path, runs: Callable, upload_of: Callable) -> None:
    with Store.open(str(path)) as store:
        store.add_upload(upload_of(runs(range(500))))
    content = bytearray(path.read_bytes())
    page = 4096  # https://www.sqlite.org/pragma.html#pragma_page_size: the default
    content[2 * page :] = b"\xff" * (len(content) - 2 * page)
    path.write_bytes(content)
    with pytest.raises(Refusal, match="is damaged"), Store.open(str(path)) as store:
        store.rows()


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that every user can reach, unlike pytest's own."""
    with tempfile.TemporaryDirectory() as folder:
        os.chmod(folder, 0o755)
        yield Path(folder)


_OPEN_WITHOUT_RIGHTS = """
import os, sys
from wearfit.errors import Refusal
from wearfit.store.store import Store
if os.geteuid() == 0:  # root may write anywhere
    os.seteuid(65534)
try:
    Store.open(sys.argv[1])
except Refusal as refusal:
    print(refusal)
"""


@pytest.mark.parametrize("closed", ["folder", "file"])
def test_a_place_that_cannot_be_written(open_folder: Path, closed: str) -> None:
    path = open_folder / "wearfit.db"
    Store.open(str(path)).close()
    before = _contents(open_folder)
    os.chmod(path, 0o666 if closed == "folder" else 0o444)
    os.chmod(open_folder, 0o555 if closed == "folder" else 0o777)
    said = subprocess.run([sys.executable, "-c", _OPEN_WITHOUT_RIGHTS, str(path)], capture_output=True, text=True, check=True)
    os.chmod(open_folder, 0o755)
    assert said.stdout.startswith(f"The store {path} cannot be written."), said
    assert _contents(open_folder) == before
    os.chmod(path, 0o666)
    Store.open(str(path)).close()  # and once it can be, all is well


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="needs the kernel's own file system")
def test_a_place_where_no_file_can_be_made() -> None:
    # Root passes every check of rights here, so that SQLite is the first to notice.
    refusal = _refusal(Path("/proc/wearfit.db"))
    assert "cannot be" in refusal.problem
