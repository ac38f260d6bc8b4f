"""Folders of another machine, and folders that a program carries elsewhere, are warned about; others are not."""

import subprocess
import sys
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text

from wearfit.store import folder
from wearfit.store.folder import file_system_of, folder_caution, is_on_network, synced_folder
from wearfit.store.store import Store

# Lines as proc(5) has them: numbers, root, mount point, options, fields that may be missing, a dash, type, source, options.
MOUNTS = """\
21 1 8:1 / / rw,relatime shared:1 - ext4 /dev/sda1 rw
36 21 0:35 / /mnt/share rw shared:7 - nfs4 server:/share rw,vers=4.2
37 21 0:36 / /mnt/with\\040blank rw - cifs //server/share rw
38 36 8:2 / /mnt/share/local rw - xfs /dev/sdb1 rw
39 21 0:37 / /mnt/tunnel rw - fuse.sshfs user@server: rw
40 21 0:38 / /mnt/twice rw - nfs server:/old rw
41 21 8:3 / /mnt/twice rw - ext4 /dev/sdc1 rw
42 21 0:39 / /mnt/image rw - fuse.fuse-overlayfs fuse-overlayfs rw
"""


@pytest.mark.parametrize(
    ("path", "kind", "network"),
    [
        ("/srv/wearfit.db", "ext4", False),
        ("/mnt/share/wearfit.db", "nfs4", True),
        ("/mnt/shared/wearfit.db", "ext4", False),
        ("/mnt/with blank/a/wearfit.db", "cifs", True),
        ("/mnt/share/local/wearfit.db", "xfs", False),
        ("/mnt/tunnel/wearfit.db", "fuse.sshfs", True),
        ("/mnt/twice/wearfit.db", "ext4", False),
        ("/mnt/image/wearfit.db", "fuse.fuse-overlayfs", False),
    ],
)
@pytest.mark.skipif(sys.platform == "win32", reason="paths of POSIX")
def test_the_innermost_mount_counts(path: str, kind: str, network: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    listed = tmp_path / "mountinfo"
    listed.write_text(MOUNTS)
    monkeypatch.setattr(folder, "MOUNTS", listed)
    assert file_system_of(Path(path)) == kind
    assert is_on_network(Path(path)) == network
    assert ("network folder" in folder_caution(Path(path))) == network


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="Linux alone lists its mounts so")
@pytest.mark.parametrize("path", ["/", "/proc/self", "/dev/shm", "/sys", "/etc"])
def test_the_type_is_what_another_program_says(path: str) -> None:
    said = subprocess.run(["stat", "--file-system", "--format=%T", path], capture_output=True, text=True, check=True).stdout.strip()
    # stat names types by their number, which some share.
    assert file_system_of(Path(path)) in {
        said,
        *({"ext2": ("ext3", "ext4"), "ext2/ext3": ("ext4",), "overlayfs": ("overlay",)}.get(said, ())),
    }


def test_where_the_platform_tells_nothing_nothing_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(folder, "MOUNTS", tmp_path / "nowhere")
    assert file_system_of(tmp_path) == ""
    assert not is_on_network(tmp_path)


@pytest.mark.parametrize(
    ("name", "mark", "synced"),
    [
        ("Moulds", None, False),
        ("OurDrive - Works", None, True),
        ("CloudStorage", None, True),
        ("my sync", None, True),
        ("async", None, False),
        ("drive belts", None, False),
        ("Moulds", ".stfolder", True),
        ("Moulds", ".sync_1234.db", True),
        ("Moulds", ".gitignore", False),
    ],
)
def test_folders_that_are_carried_elsewhere(name: str, mark: str | None, synced: bool, tmp_path: Path) -> None:
    place = tmp_path / name
    (place / "tools").mkdir(parents=True)
    if mark is not None:
        (place / mark).touch()
    path = place / "tools" / "wearfit.db"
    assert synced_folder(path) == (place if synced else None)
    caution = folder_caution(path)
    assert (str(place) in caution) == synced
    with Store.open(str(path)) as store:
        assert store.cautions() == ((caution,) if synced else ())


def test_on_a_network_folder_no_memory_is_shared(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The write-ahead log needs memory that all who have the file open share: https://www.sqlite.org/wal.html."""

    def mode() -> str:
        engine = create_engine(f"sqlite:///{path}")
        with engine.connect() as raw:
            found = raw.execute(text("PRAGMA journal_mode")).scalar_one()
        engine.dispose()
        return str(found)

    monkeypatch.setattr("wearfit.store.opening.is_on_network", lambda _: True)
    with Store.open(str(path)) as store:
        store.set_setting("seed", "5")
    assert mode() == "delete"
    monkeypatch.undo()
    with Store.open(str(path)) as store:
        assert store.setting("seed") == "5"
    assert mode() == "wal"


@pytest.mark.server
def test_nothing_is_said_of_a_server(database: str) -> None:
    with Store.open(database) as store:
        assert store.cautions() == ()
