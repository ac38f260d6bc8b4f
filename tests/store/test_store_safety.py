"""Nothing is lost: two at once, a killed process, a full disk."""

import pickle
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from sqlalchemy import Engine, create_engine, event, text

from wearfit.errors import Refusal
from wearfit.records.identity import Row
from wearfit.records.upload import Upload
from wearfit.store.address import address_of
from wearfit.store.engine import Database
from wearfit.store.store import Store

_HERE = Path(__file__).parent


def _versions(url: str) -> list[tuple[str, int, int, str]]:
    """Every version of every row: key, occurrence, version, values."""
    engine = create_engine(url if "://" in url else f"sqlite:///{url}")
    with engine.connect() as raw:
        found = raw.execute(text("SELECT key, occurrence, version, values_json FROM row_versions ORDER BY 1, 2, 3")).all()
    engine.dispose()
    return [tuple(row) for row in found]


@pytest.mark.parametrize("made", [True, False], ids=["on a store", "where there is none yet"])
def test_two_processes_adding_at_once_lose_nothing(made: bool, url: str, tmp_path: Path, runs: Callable, upload_of: Callable) -> None:
    uploads_each = 25
    if made:
        Store.open(url).close()
    writers, given = [], []
    for process in range(2):
        # Each upload has rows of its own, and one that both processes change in every upload.
        mine = [
            upload_of(runs([process * 1000 + i], "shared") + runs(range(i, i + 20), f"{process}-{i}"), f"{process}-{i}")
            for i in range(uploads_each)
        ]
        given += mine
        pickled = tmp_path / f"{process}.pickle"
        pickled.write_bytes(pickle.dumps(mine))
        command = [sys.executable, str(_HERE / "add_uploads.py"), url, str(pickled)]
        writers.append(subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True))
    for writer in writers:
        assert writer.stdout.readline() == "ready\n"
    for writer in writers:
        writer.stdin.write("go\n")
        writer.stdin.flush()
    acknowledged = []
    for writer in writers:
        out, err = writer.communicate()
        assert writer.returncode == 0, err
        acknowledged += [int(line) for line in out.split()]

    assert sorted(acknowledged) == list(range(1, 2 * uploads_each + 1))
    with Store.open(url) as store:
        rows = {row.key: row for row in store.rows()}
        assert sorted(stored.digest for stored in store.uploads()) == sorted(upload.digest for upload in given)
    own = [row for upload in given for row in upload.rows[1:]]
    assert [rows[row.key] for row in own] == own
    shared = given[0].rows[0].key
    assert [version for key, _, version, _ in _versions(url) if key == shared] == list(range(1, 2 * uploads_each + 1))


def _state(path: Path) -> tuple[list[Row], list[str], list[tuple[str, int, int, str]]]:
    with Store.open(str(path)) as store:
        for stored in store.uploads():
            store.files(stored.id)
        state = store.rows(), [stored.digest for stored in store.uploads()]
    return *state, _versions(str(path))


@pytest.mark.parametrize("made", [True, False], ids=["on a store", "where there is none yet"])
def test_a_writer_killed_at_any_point_leaves_all_or_nothing(
    made: bool, path: Path, tmp_path: Path, runs: Callable, upload_of: Callable
) -> None:
    first, grown = upload_of(runs(range(400))), upload_of(runs([*range(200), *range(1000, 1600)]))
    if made:
        with Store.open(str(path)) as store:
            store.add_upload(first)
    pickled, copies = tmp_path / "upload.pickle", tmp_path / "copies"
    pickled.write_bytes(pickle.dumps(grown))
    copies.mkdir()
    command = [sys.executable, str(_HERE / "die_adding.py"), str(path), str(pickled), str(copies)]
    done = subprocess.run(command, check=False, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr

    after = _state(copies / "whole.db")
    died = sorted(copies.glob("died*.db"))
    assert len(died) >= 20
    # Unfinished work had reached the disk in some: the log beside the store holds more than its 32-byte header.
    assert any(log.stat().st_size > 32 for log in copies.glob("died*.db-*al"))
    before = _state(path)
    for copy in died:
        assert _state(copy) == before, copy
        with Store.open(str(copy)) as store:
            store.add_upload(grown)
        assert _state(copy) == after, copy


@pytest.fixture
def small_disk() -> Iterator[Callable[[int], None]]:
    """Limits every database opened from now on to so many pages, where SQLite then reports a full disk."""
    listening = []

    def limit(pages: int) -> None:
        def set_up(connection: sqlite3.Connection, entry: object) -> None:
            connection.execute(f"PRAGMA max_page_count={pages}")

        event.listen(Engine, "connect", set_up)
        listening.append(set_up)

    yield limit
    for set_up in listening:
        event.remove(Engine, "connect", set_up)


def test_a_full_disk_is_a_sentence_and_stores_nothing(
    path: Path, runs: Callable, upload_of: Callable, small_disk: Callable[[int], None]
) -> None:
    first, grown = upload_of(runs(range(10))), upload_of(runs(range(5000)))
    with Store.open(str(path)) as store:
        store.add_upload(first)
    before = _state(path)
    page = 4096  # https://www.sqlite.org/pragma.html#pragma_page_size: the default
    small_disk(path.stat().st_size // page + 20)
    with Store.open(str(path)) as store:
        with pytest.raises(Refusal, match="is full"):
            store.add_upload(grown)
        assert store.rows() == before[0]
    assert _state(path) == before


def test_a_reader_goes_on_while_another_writes(url: str, runs: Callable, upload_of: Callable) -> None:
    with Store.open(url) as store:
        store.add_upload(upload_of(runs([1])))
    database = Database(address_of(url))
    with Store.open(url) as store:
        with database.writing() as writer:
            writer.execute(text("UPDATE row_versions SET file_row = 99"))
            assert [row.row for row in store.rows()] == [2]
        assert [row.row for row in store.rows()] == [99]
    database.close()


def test_one_reading_sees_one_state(url: str, runs: Callable, upload_of: Callable) -> None:
    with Store.open(url) as store:
        store.add_upload(upload_of(runs([1])))
    database, count = Database(address_of(url)), text("SELECT count(*) FROM row_versions")
    with database.reading() as reader:
        assert reader.scalar(count) == 1
        with Store.open(url) as store:
            store.add_upload(upload_of(runs([1, 2])))
        assert reader.scalar(count) == 1
    with database.reading() as reader:
        assert reader.scalar(count) == 2
    database.close()


def test_a_copy_taken_of_a_closed_store_is_whole(path: Path, tmp_path: Path, runs: Callable, upload_of: Callable) -> None:
    upload: Upload = upload_of(runs(range(30)))
    with Store.open(str(path)) as store:
        store.add_upload(upload)
    shutil.copy(path, tmp_path / "copy.db")
    with Store.open(str(tmp_path / "copy.db")) as copy:
        assert copy.rows() == list(upload.rows)


# What SQLite locks of the file while it has it open: 510 bytes from the one after its pending byte (os_unix.c, SHARED_FIRST).
_MAY_CLEAR_THE_LOG = """
import fcntl, sys
with open(sys.argv[1], "r+b") as file:
    try:
        fcntl.lockf(file, fcntl.LOCK_EX | fcntl.LOCK_NB, 510, 0x40000000 + 2)
    except OSError:
        sys.exit("somebody has it open")
"""


def _unused(path: Path) -> bool:
    """Whether another process takes a store for one that nobody has open, and may so clear its log away."""
    return subprocess.run([sys.executable, "-c", _MAY_CLEAR_THE_LOG, str(path)], check=False, capture_output=True).returncode == 0


@pytest.mark.skipif(sys.platform == "win32", reason="locks go with their file there")
def test_opening_a_store_again_takes_no_lock_from_those_who_have_it_open(path: Path, tmp_path: Path) -> None:
    """A process that closes a file loses all its locks on it; a page that was at work then saw a damaged store."""
    other_name = tmp_path / "linked.db"
    with Store.open(str(path)) as first:
        assert first.rows() == []
        assert not _unused(path)
        other_name.symlink_to(path)
        for name in (path, other_name):
            with Store.open(str(name), must_exist=True) as second:
                assert second.rows() == []
            assert not _unused(path)
    assert _unused(path)
    path.write_bytes(b"no store")
    with pytest.raises(Refusal, match="not a SQLite file"):  # looked at again, now that nobody has it open
        Store.open(str(path))
