"""Workers that stand in for the model: one with a calibration made beforehand, one that is interrupted."""

from typing import Any, Final

from wearfit.calibration import Identity
from wearfit.workflow.progress import Report, silent
from wearfit.workflow.worker import Worker
from wearfit.workflow.worker_process import Fitted, Request

DIAGNOSTICS: Final[dict[str, Any]] = {
    "passed": True,
    "reasons": [],
    "rhat_max": 1.0,
    "ess_bulk_min": 900.0,
    "ess_tail_min": 900.0,
    "divergences": 0,
    "ebfmi_min": 0.9,
}


class Ready(Worker):
    """Gives a calibration made beforehand, under the name of the history that was asked for."""

    def __init__(self, passed: bool = True) -> None:
        super().__init__()
        self.passed = passed
        self.asked: list[Request] = []

    def calibrate(self, request: Request, report: Report = silent) -> Fitted:
        self.asked.append(request)
        identity = Identity(
            as_of=str(request.exposures.as_of), fingerprint=request.fingerprint, seed=request.seed, lives=request.exposures.lives,
            wear_outs=request.exposures.wear_outs, log_band=(), lead_time_weeks=12.0, lead_time_log_sd=0.3, priors=request.priors,
            noted_power=2.0, wear_law=request.law, law_chosen=request.law_chosen,
            diagnostics=DIAGNOSTICS if self.passed else DIAGNOSTICS | {"passed": False, "reasons": ["plant: R-hat 1.300 is above 1.02"]},
        )  # fmt: skip
        return Fitted(b"a posterior", identity, {"start": 0.0, "prepare": 0.1, "compile": 0.2, "sample": 0.3, "summarise": 0.0})


class Interrupted(Worker):
    """Ctrl-C while the model is calibrated."""

    def calibrate(self, request: Request, report: Report = silent) -> Fitted:
        raise KeyboardInterrupt
