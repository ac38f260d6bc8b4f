"""A worker that a command leaves behind, warm, for the next one."""

import json
import logging
import subprocess
import sys
from pathlib import Path
from typing import Final

from wearfit.errors import Refusal
from wearfit.workflow.child_process import send
from wearfit.workflow.progress import Report, silent
from wearfit.workflow.resident_door import ANSWERS_IN_SECONDS, Busy, Claim, Claimed, call
from wearfit.workflow.resident_place import Place, own_place
from wearfit.workflow.worker import TRY_AGAIN, Line, Worker
from wearfit.workflow.worker_process import Fitted, Request

_log = logging.getLogger(__name__)

_PROGRAM: Final = (
    "import json, sys; sys.path[:] = json.loads(sys.argv[1]); from wearfit.workflow.resident_process import main; main(*sys.argv[2:])"
)


class WarmWorker(Worker):
    """A worker that is one kept warm where there is one, and else a process of its own.

    What is found is claimed until `stop`, and is not ended by it. Where another command has it, the platform has none, or it
    does not answer, this is a plain `Worker`.

    Parameters
    ----------
    minutes : float
        How long it is to be kept warm after the last command; 0 leaves none behind, and one that is there as it is.
    """

    def __init__(self, minutes: float = 0.0) -> None:
        super().__init__()
        self._minutes = minutes
        self._sought = False
        self._place: Place | None = None
        self._settling: subprocess.Popen[bytes] | None = None
        self._claimed: tuple[Line, int] | None = None

    @property
    def process_id(self) -> int | None:
        return super().process_id if self._claimed is None else self._claimed[1]

    def start(self) -> None:
        """Claim the one kept warm; start one, or a process of its own, where there is none."""
        if self._claimed is not None or self._settling is not None:
            return
        if not self._sought:
            self._sought, self._place = True, own_place(make=self._minutes > 0)
            if self._place is not None:
                busy = self._claim(self._place)
                if self._claimed is None and self._minutes > 0 and not busy:
                    self._settling = _settle(self._place, self._minutes)
                if self._claimed is not None or self._settling is not None:
                    return
        super().start()

    def calibrate(self, request: Request, report: Report = silent) -> Fitted:
        self.start()
        self._move_in()
        if self._claimed is None:
            return super().calibrate(request, report)
        line, _ = self._claimed
        try:
            return line.calibrate(request, report)
        except Refusal:
            raise
        except BaseException:
            self.stop()
            raise

    def stop(self) -> None:
        """End the process where it is this one's own; else hang up, which ends a calibration under way there."""
        if self._settling is not None:
            self._settling.wait()
            self._settling = None
        if self._claimed is not None:
            self._claimed[0].close()
            self._claimed = None
        super().stop()

    def _move_in(self) -> None:
        """Claim the worker that this one started, as soon as it can be spoken to."""
        if self._settling is None or self._place is None:
            return
        failed, self._settling = self._settling.wait() != 0, None
        if failed or self._claim(self._place) or self._claimed is None:
            _log.warning("No worker could be kept warm; this command uses its own.")

    def _claim(self, place: Place) -> bool:
        """Claim the worker at a place, if it can be had; whether another one has it."""
        connection = call(place)
        if connection is None:
            return False
        try:
            send(connection, Claim(self._minutes or None))
            said = connection.recv() if connection.poll(ANSWERS_IN_SECONDS) else Busy()
        except (OSError, EOFError):
            said = None
        if isinstance(said, Claimed):
            self._claimed = Line(connection, self._gone), said.process_id
        else:
            connection.close()
        return isinstance(said, Busy)

    def _gone(self) -> Refusal:
        self._claimed = None
        return Refusal("The worker that was kept warm was ended before the calibration was done.", TRY_AGAIN)


def _settle(place: Place, minutes: float) -> "subprocess.Popen[bytes]":
    """Start a process that settles at a place; it ends as soon as one that outlives it, and this command, can be spoken to."""
    path = [str(Path(entry or ".").absolute()) for entry in sys.path]
    command = [sys.executable, "-c", _PROGRAM, json.dumps(path), str(place.folder), place.digest, str(minutes)]
    # In a session of its own, where no Ctrl-C and no closed terminal reaches it.
    nothing = subprocess.DEVNULL
    return subprocess.Popen(command, stdin=nothing, stdout=nothing, stderr=nothing, start_new_session=True)
