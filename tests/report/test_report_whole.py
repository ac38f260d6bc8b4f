"""Files are there whole or not at all."""

import os
from pathlib import Path

import pytest

from wearfit.errors import Refusal
from wearfit.report.whole import write_whole


def test_a_file_of_the_kind_is_replaced_and_another_is_not(tmp_path: Path) -> None:
    place = tmp_path / "x.pdf"
    write_whole(place, b"%PDF-1", b"%PDF-")
    write_whole(place, b"%PDF-2", b"%PDF-")
    assert place.read_bytes() == b"%PDF-2"
    place.write_bytes(b"my letter")
    with pytest.raises(Refusal, match="not written over"):
        write_whole(place, b"%PDF-3", b"%PDF-")
    assert place.read_bytes() == b"my letter"
    assert [path.name for path in tmp_path.iterdir()] == ["x.pdf"]


def test_a_disk_that_is_full_leaves_what_was_there(tmp_path: Path) -> None:
    import resource
    import signal

    place = tmp_path / "x.pdf"
    place.write_bytes(b"%PDF-old")
    child = os.fork()
    if child == 0:  # a process of its own, for the limit on the size of files cannot be raised again
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (100, 100))
        try:
            write_whole(place, b"%PDF-" + bytes(1000), b"%PDF-")
        except Refusal:
            os._exit(7)
        os._exit(0)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 7
    assert place.read_bytes() == b"%PDF-old"
    assert [path.name for path in tmp_path.iterdir()] == ["x.pdf"]
