"""`wearfit recalibrate`: store records and calibrate on everything that the store holds."""

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter
from rich.console import Console

from wearfit.cli.options import ChoicesFile, Common, Day, KeepWarm, Seed
from wearfit.cli.output import Answer
from wearfit.cli.progress import shown_progress
from wearfit.cli.tables import print_line
from wearfit.errors import Refusal
from wearfit.workflow.laws_in_words import LAW_NAMES
from wearfit.workflow.resident import WarmWorker
from wearfit.workflow.settings import KEEP_WARM
from wearfit.workflow.wording import count

if TYPE_CHECKING:
    from wearfit.store.uploads import UploadOutcome
    from wearfit.workflow.recalibrate import Recalibration


def recalibrate(
    *paths: Path,
    as_of: Day = None,
    priors: Annotated[Path | None, Parameter(env_var="WEARFIT_PRIORS", metavar="FILE")] = None,
    seed: Seed = None,
    make_current: bool = False,
    choices: ChoicesFile = None,
    law: str | None = None,
    keep_warm: KeepWarm = KEEP_WARM.default,
    cluster: Annotated[str | None, Parameter(metavar="ADDRESS")] = None,
    common: Common = Common(),  # noqa: B008
) -> Answer:
    """Store records and calibrate on everything that the store holds.

    Parameters
    ----------
    paths
        Folders, ZIP archives, workbooks or CSV files of records to store first; none to calibrate on what is stored.
    as_of
        Calibrate on the records up to this day. By default the latest day in the records.
    priors
        Your edited copy of the priors file.
    seed
        Of the random draws; the same seed and records give the same answer.
    make_current
        Let the calibration answer from now on although the current one knows later records.
    choices
        Your decisions about files that can be read in more than one way. The store keeps them.
    law
        How lives scatter: weibull, log-logistic, lognormal, or stacked, which keeps all by how well each forecasts lives. That of
        the current calibration by default, Weibull at first; `wearfit law` says which the records speak for.
    keep_warm
        Leave the process with the compiled model behind, idle for so many minutes, for the next `wearfit recalibrate`. By default 0,
        none; one that is there is used in any case. `wearfit worker` shows and ends it.
    cluster
        Refused: one calibration is one piece of work. `wearfit backtest` takes it.
    common
        What every command takes.
    """
    if cluster is not None:
        raise Refusal("One calibration is one piece of work, which a cluster does no sooner.", "Leave out `--cluster`.", 2)
    # Started first: it loads the model while this process reads the records.
    with WarmWorker(keep_warm) as worker, shown_progress() as report:
        from wearfit.workflow.recalibrate import Order
        from wearfit.workflow.recalibrate import recalibrate as calibrate_store

        order = Order(paths, as_of, priors, seed, make_current, choices, dt.date.today(), law)
        done = calibrate_store(common.store_url, order, worker, report)
    return Answer(done.as_json(), lambda console: show_recalibration(console, done), status_of(done))


def status_of(done: "Recalibration") -> int:
    """Exit status: 1 where the gate was not passed."""
    return 0 if done.identity.diagnostics["passed"] else 1


def show_recalibration(console: Console, done: "Recalibration") -> None:
    """Print what was made of the records."""
    d, seconds = done.identity.diagnostics, done.seconds
    for name, outcome in done.again:
        print_line(console, f"{name}, stored before, was read again with the new choices: {_rows(outcome)}")
    for note in done.notes:
        print_line(console, note)
    for name, outcome in done.stored:
        print_line(console, f"{name}: {_rows(outcome)}")
    if done.findings:
        print_line(console, f"{count(done.findings, 'finding', 'findings')} in the records; `wearfit check PATH` lists them.")
    print_line(
        console,
        f"Calibration {done.calibration} on the records up to {done.identity.as_of}: {count(done.identity.lives, 'life', 'lives')}, "
        f"{count(done.identity.wear_outs, 'wear-out', 'wear-outs')}.",
    )
    if done.identity.law_chosen:
        print_line(console, f"Law: {LAW_NAMES[done.identity.wear_law]}. {done.identity.law_chosen}")
    print_line(console, "It is current: every answer rests on it now." if done.current else f"It is not current. {done.why_not}", "bold")
    print_line(
        console,
        f"Diagnostics: R-hat at most {d['rhat_max']:.3f}, effective draws at least {d['ess_bulk_min']:.0f} (bulk) and "
        f"{d['ess_tail_min']:.0f} (tail), {count(d['divergences'], 'divergence', 'divergences')}, E-BFMI at least {d['ebfmi_min']:.2f}.",
    )
    laws = f", hold the laws against each other {seconds['score']:.1f}" if "score" in seconds else ""
    print_line(
        console,
        f"{seconds['total']:.1f} s in all: read {seconds['read']:.1f}, prepare {seconds['prepare']:.1f}, compile {seconds['compile']:.1f}, "
        f"sample {seconds['sample']:.1f}{laws}.",
    )


def _rows(outcome: "UploadOutcome") -> str:
    said = (
        f"{count(outcome.new, 'new row', 'new rows')}, {outcome.changed:,} changed, {outcome.unchanged:,} stored before, "
        f"{outcome.repeated:,} repeated"
    )
    return said + (f", {outcome.withdrawn:,} withdrawn because the same file is read otherwise now." if outcome.withdrawn else ".")
