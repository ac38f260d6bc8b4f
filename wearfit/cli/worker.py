"""`wearfit worker`: the process that `wearfit recalibrate --keep-warm` left behind."""

from collections.abc import Sequence
from typing import Any, Literal

from rich.console import Console

from wearfit.cli.options import Common
from wearfit.cli.output import Answer
from wearfit.cli.tables import print_line
from wearfit.workflow.resident_workers import end_all, seen
from wearfit.workflow.wording import count


def worker(action: Literal["status", "stop"] = "status", *, common: Common = Common()) -> Answer:  # noqa: B008
    """The process that `wearfit recalibrate --keep-warm` leaves behind, warm, for the next recalibration.

    Parameters
    ----------
    action
        status shows it; stop ends it, and a calibration under way in it. Nothing that is stored is lost.
    common
        What every command takes.
    """
    stopped = action == "stop"
    workers = end_all() if stopped else seen()
    return Answer({"workers": workers, "stopped": stopped}, lambda console: _show(console, workers, stopped))


def _show(console: Console, workers: Sequence[dict[str, Any]], stopped: bool) -> None:
    for w in workers:
        left = "" if w["minutes_left"] is None else f", ends in {count(round(w['minutes_left']), 'minute', 'minutes')} if nobody comes"
        whose = "" if w["of_this_version"] else ", of another version, which this one does not use"
        print_line(
            console,
            f"Process {w['process_id']}, since {w['since']}, {w['memory_mb']:.0f} MB{whose}: "
            + ("ended." if stopped else f"{w['state']}{left}."),
        )
    if not workers:
        print_line(console, "No worker is kept warm. `wearfit recalibrate --keep-warm 30` leaves one behind for half an hour.")
