"""`wearfit preview`: what would the records that came since the calibration change?"""

import datetime as dt
from typing import Annotated, Any, Final

from cyclopts import Parameter
from rich.console import Console

from wearfit.cli.options import Common
from wearfit.cli.output import Answer
from wearfit.cli.progress import shown_progress
from wearfit.cli.tables import print_line, print_table
from wearfit.workflow.preview_in_words import Preview
from wearfit.workflow.what_changed import moved_in_words, wear_out_in_words
from wearfit.workflow.wording import CAUTION

MOST_ROWS: Final = 20


def preview(
    *,
    recalibrate: Annotated[bool, Parameter(negative="--no-recalibrate")] = True,
    common: Common = Common(),  # noqa: B008
) -> Answer:
    """What would the records that came since the calibration change? By weights of its draws, at once; nothing is stored.

    Parameters
    ----------
    recalibrate
        Where the new records say too much for a preview, calibrate anew on all that the store holds.
    common
        What every command takes.
    """
    from wearfit.workflow.preview import preview as ask

    with shown_progress() as report:
        seen = ask(common.store_url, report)
    if seen.reliable or not recalibrate:
        return Answer(seen.as_json(), lambda console: show_preview(console, seen))
    from wearfit.cli.recalibrate import show_recalibration, status_of
    from wearfit.workflow.recalibrate import Order
    from wearfit.workflow.recalibrate import recalibrate as calibrate_store
    from wearfit.workflow.resident import WarmWorker

    with WarmWorker() as worker, shown_progress() as report:
        done = calibrate_store(common.store_url, Order(today=dt.date.today()), worker, report)

    def show(console: Console) -> None:
        show_preview(console, seen)
        show_recalibration(console, done)

    document: dict[str, Any] = seen.as_json() | {"recalibration": done.as_json()}
    return Answer(document, show, status_of(done))


def show_preview(console: Console, seen: Preview) -> None:
    """Print what would change, the tools first that would move furthest."""
    print_line(console, f"Records now, as of {seen.as_of}; calibration {seen.calibration}", "bold")
    for sentence in (*seen.sentences, *seen.changes.fleet):
        print_line(console, sentence)
    if not seen.changes.changes:
        return
    print_line(console, "")
    heads = ("Tool", "Likely wear-out", "Moved", "Why")
    rows = [(c.tool_id, wear_out_in_words(c), moved_in_words(c), c.why) for c in seen.changes.changes[:MOST_ROWS]]
    print_table(console, "PREVIEW of what the new records change", heads, rows)
    more = len(seen.changes.changes) - len(rows)
    if more > 0:
        print_line(console, f"{more} more tools; `--json` lists all.")
    print_line(console, CAUTION)
