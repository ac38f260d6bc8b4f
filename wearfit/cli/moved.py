"""`wearfit moved`: which records, and which beliefs, moved the forecasts?"""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from rich.console import Console

from wearfit.cli.options import Common
from wearfit.cli.output import Answer
from wearfit.cli.progress import shown_progress
from wearfit.cli.tables import print_line, print_table
from wearfit.workflow.moved_in_words import BATCHES, WEAR_OUTS, belief_name
from wearfit.workflow.wording import CAUTION

MOST_BELIEFS: Final = 10
TOO_LARGE: Final = "too large"


def moved(*, common: Common = Common()) -> Answer:  # noqa: B008
    """Which records, and which beliefs, moved the forecasts? The fleet without each batch of records, by weights; the store keeps it.

    Parameters
    ----------
    common
        What every command takes.
    """
    from wearfit.workflow.moved import moved as ask

    with shown_progress() as report:
        document = ask(common.store_url, report)
    return Answer(document, lambda console: show_moved(console, document))


def show_moved(console: Console, document: Mapping[str, Any]) -> None:
    """Print what moved, batch by batch and belief by belief."""
    print_line(console, f"Records up to {document['as_of']}, calibration {document['calibration']}", "bold")
    for sentence in document["sentences"]:
        print_line(console, sentence)
    print_line(console, "")
    heads = ("Batch", "", "Wear-outs\nin it", "Expected\nwithout it", "k")
    print_table(console, f"Wear-outs in the next 12 months: {document['wear_outs_ahead']:.1f}", heads, _batches(document), right=heads[2:])
    beliefs = document["beliefs"]
    columns = ("Belief", "Moves\nitself", "Moves\nwear-outs", "Half as\nfirm", "Twice as\nfirm")
    rows = [_belief(row) for row in beliefs["priors"][:MOST_BELIEFS]]
    print_table(console, "What the next 12 months hang on", columns, rows, right=columns[1:])
    more = len(beliefs["priors"]) - len(rows)
    hidden = f" {more} more beliefs move the wear-outs less; `--json` lists all." if more > 0 else ""
    print_line(console, f"From {beliefs['limit']:g} on a forecast is said to hang on a belief.{hidden}")
    print_line(console, CAUTION)


def _batches(document: Mapping[str, Any]) -> Sequence[tuple[str, ...]]:
    rows, before = [], None
    for b in document["batches"]:
        ahead = f"{b['wear_outs_ahead']:.1f}" if b["reliable"] else TOO_LARGE
        k = "-" if b["khat"] is None else f"{b['khat']:.2f}"
        rows.append((BATCHES[b["by"]] if b["by"] != before else "", b["name"], str(b["wear_outs"]), ahead, k))
        before = b["by"]
    return rows


def _belief(row: Mapping[str, Any]) -> tuple[str, ...]:
    moved = row["forecasts"][WEAR_OUTS]
    half, twice = ("-" if moved[way] is None else f"{moved[way]:.1f}" for way in ("half", "twice"))
    return belief_name(row["entry"]), f"{row['own']:.3f}", f"{moved['sensitivity']:.3f}", half, twice
