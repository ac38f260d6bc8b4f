"""`wearfit demo`: the invented scenario in a store of its own, calibrated and forecast."""

from rich.console import Console

from wearfit.cli.forecast import show_forecast
from wearfit.cli.options import Common
from wearfit.cli.output import Answer
from wearfit.cli.progress import shown_progress
from wearfit.cli.recalibrate import show_recalibration, status_of
from wearfit.cli.serve import Opened, RunningApp, check_port, show_opening
from wearfit.cli.tables import print_line
from wearfit.workflow.worker import Worker

DEMO_STORE = "wearfit-demo.db"


def demo(*, no_serve: bool = False, common: Common = Common()) -> Answer:  # noqa: B008
    """Make the demo's own store, calibrate on it, forecast its fleet and open the app.

    Parameters
    ----------
    no_serve
        Do not open the app.
    common
        What every command takes. The store is wearfit-demo.db in the working folder by default.
    """
    store_url = DEMO_STORE if common.store is None else common.store
    with Worker() as worker, shown_progress() as report:
        from wearfit.store.address import address_of
        from wearfit.workflow.demo import run_demo

        done, fleet = run_demo(store_url, worker, report)
    document = {**(fleet or done.as_json()), "recalibration": done.as_json()}

    store = address_of(store_url)
    named = store_url if store.path is not None else str(store)

    def open_app() -> int:
        check_port(Opened().port)
        return RunningApp(store, Opened()).wait()

    after = None if no_serve or fleet is None else open_app

    def show(console: Console) -> None:
        show_recalibration(console, done)
        if fleet is not None:
            print_line(console, "")
            show_forecast(console, fleet)
            print_line(console, f"Ask on with `--store {named}`, such as `wearfit plants --store {named}`.")
        if after is not None:
            show_opening(console, Opened(), store)

    return Answer(document, show, status_of(done), after)
