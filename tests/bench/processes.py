"""Processes of a benchmark: what they began, what they used, and a browser that gives way to them."""

import os
import re
import shlex
import sys
from pathlib import Path

OF_MAXRSS = 1 << (20 if sys.platform == "darwin" else 10)  # from `ru_maxrss` to MB: bytes on macOS


def gives_way(place: Path, nice: int) -> Path:
    """A program that starts the browser so that it gives way; a Chromium that may would go before everything else of the machine.

    Where Linux shares processors by sessions (`kernel.sched_autogroup_enabled`, usual on desktops), a priority counts within a session
    alone, and the browser has one of its own: so the session is told, too.
    """
    browser = os.environ.get("CHROMIUM", "/usr/bin/chromium")
    may_not = "setpriv --bounding-set -sys_nice" if os.geteuid() == 0 else ""
    place.write_text(
        f'#!/bin/sh\necho {nice} 2> /dev/null > /proc/self/autogroup\nexec nice -n {nice} {may_not} {shlex.quote(browser)} "$@"\n'
    )
    place.chmod(0o700)
    return place


def below(process: int) -> list[int]:
    """Processes that a process began, and those that they began, which are still there."""
    begun = Path(f"/proc/{process}/task").glob("*/children")
    children = [int(child) for listed in begun for child in _said(listed).split()]
    return [found for child in children for found in (child, *below(child))]


def used_by(process: int, ended: bool = True) -> float:
    """Processor time of a process so far, with that of its processes that ended or without; 0 if it is gone. [s]"""
    used = _said(Path(f"/proc/{process}/stat")).rpartition(")")[2].split()[11 : 15 if ended else 13]
    return sum(map(int, used)) / os.sysconf("SC_CLK_TCK")


def _said(of_process: Path) -> str:
    """What a file of a process says; nothing if the process is gone, whose time its parent then has."""
    try:
        return of_process.read_text()
    except (FileNotFoundError, ProcessLookupError):
        return ""


def most_memory(process: int) -> float:
    """[MB]"""
    most = re.search(r"VmHWM:\s+(\d+) kB", Path(f"/proc/{process}/status").read_text())
    assert most is not None
    return int(most[1]) / 1000
