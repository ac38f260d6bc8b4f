"""Rebuild the demo's saved calibration: `python -m wearfit.workflow.rebuild_demo`."""

from pathlib import Path
from typing import Final

from wearfit.calibration import to_bytes
from wearfit.demo.shipped import scenario_folder
from wearfit.model.calibrate import calibrate
from wearfit.model.priors import read_priors
from wearfit.records.assemble import assemble
from wearfit.records.readers.read import read
from wearfit.workflow.history import History, history_of
from wearfit.workflow.settings import SEED

SHIPPED: Final = Path(__file__).resolve().parents[2] / "models" / "demo.nc"


def demo_history() -> History:
    """The scenario's history, as `wearfit demo` calibrates on it."""
    return history_of(assemble(read(scenario_folder()).rows))


def main() -> None:
    """Calibrate the scenario and write the calibration that ships; fails where the gate is not passed."""
    history = demo_history()
    outcome = calibrate(history.exposures, history.live, history.fingerprint, read_priors(), SEED.default)
    if not outcome.diagnostics.passed:
        raise SystemExit("The gate was not passed: " + "; ".join(outcome.diagnostics.reasons))
    SHIPPED.parent.mkdir(exist_ok=True)
    SHIPPED.write_bytes(to_bytes(outcome.calibration))


if __name__ == "__main__":
    main()
