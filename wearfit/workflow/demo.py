"""The demo: the invented scenario in a store of its own, calibrated and forecast."""

from typing import Any, Final

from wearfit.demo.shipped import scenario_folder
from wearfit.errors import Refusal
from wearfit.store.address import address_of
from wearfit.store.store import Store
from wearfit.workflow.answers import forecast
from wearfit.workflow.progress import Report, silent
from wearfit.workflow.recalibrate import Order, Recalibration, recalibrate
from wearfit.workflow.worker import Worker

DEMO_STORE: Final = "wearfit-demo.db"


def run_demo(store_url: str, worker: Worker, report: Report = silent) -> tuple[Recalibration, dict[str, Any] | None]:
    """Store the scenario, calibrate on it and forecast its fleet.

    Parameters
    ----------
    store_url : str
        Made where there is none.

    Returns
    -------
    Recalibration, dict or None
        The forecast is None where the calibration did not pass the gate.

    Raises
    ------
    Refusal
        Status 2, where the store holds other records; it is left as it was.
    """
    from wearfit.records.readers.read import read

    folder = scenario_folder()
    scenario = read(folder)
    with Store.open(store_url) as store:
        others = sorted({upload.name for upload in store.uploads() if upload.digest != scenario.digest})
    if others:
        raise Refusal(
            f"The store {address_of(store_url)} holds other records already: {', '.join(others)}.",
            "Name another file with `--store`; the demo needs a store of its own.",
            2,
        )
    done = recalibrate(store_url, Order(paths=(folder,)), worker, report)
    return done, forecast(store_url) if done.current else None
