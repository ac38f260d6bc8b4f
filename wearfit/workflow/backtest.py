"""The backtest of a store's records: what was known at past days, refitted, forecast, and set against what happened."""

import datetime as dt
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from wearfit.errors import Refusal
from wearfit.store.backtests import BacktestEntry
from wearfit.store.store import Store
from wearfit.store.uploads import empty_tables
from wearfit.workflow.laws import law_in_force
from wearfit.workflow.progress import Progress, Report, silent
from wearfit.workflow.settings import BACKTEST_MONTHS, PRIORS, SEED
from wearfit.workflow.ways import Way

MOST_MONTHS: Final = 120


@dataclass(frozen=True)
class BacktestOrder:
    """What to ask of the past.

    Parameters
    ----------
    number : int, optional
        Of past days, spread over the history; see `evidence.cutoffs`.
    days : sequence of date
        Those that the user names, in the place of that.
    horizon_months : int
        Runs begun within so many months after each are asked about.
    as_of : date, optional
        Records after this day play no part at all. The latest day in the records by default.
    seed : int, optional
        As the store's settings, else the default.
    """

    number: int | None = None
    days: Sequence[dt.date] = ()
    horizon_months: int = BACKTEST_MONTHS
    as_of: dt.date | None = None
    seed: int | None = None

    def check(self) -> None:
        """Raise Refusal, status 2, where it makes no sense."""
        if not 1 <= self.horizon_months <= MOST_MONTHS:
            raise Refusal(
                f"A horizon of {self.horizon_months} months is not from 1 to {MOST_MONTHS}.", "Give one, such as --horizon 12.", 2
            )
        if self.number is not None and self.number < 1:
            raise Refusal("At least one past day is needed.", "Give a number, such as --cutoffs 5.", 2)
        if self.number is not None and self.days:
            raise Refusal("Past days are both named and counted.", "Leave out `--cutoffs` or `--on`.", 2)


def backtest(store_url: str, order: BacktestOrder, spread: Way, folder: Path | None = None, report: Report = silent) -> dict[str, Any]:
    """Forecast at past days on what was then known, and set that against what happened; the result is kept in the store.

    Parameters
    ----------
    spread : Way
        Where the past days are worked out. All of them share a layout, so that each process compiles the model once.
    folder : Path, optional
        What each past day gave is kept there as it comes, and found there again.
    report : callable
        Told the progress.

    Returns
    -------
    dict
        As INTERFACE has it, with `verdict` and `sentences` among what is more.

    Raises
    ------
    Refusal
        Where the store, the records or the order refuse, a past day fails, or the work is interrupted; the store keeps nothing then.
    """
    order.check()
    # Pandas and the model's own libraries take long to load.
    from wearfit.evidence.backtest import backtest as forecast_past
    from wearfit.evidence.backtest import common_layout, know
    from wearfit.evidence.cutoffs import check_cutoffs, choose_cutoffs
    from wearfit.evidence.report import report as scores_of
    from wearfit.model.priors import read_priors
    from wearfit.records.assemble import assemble
    from wearfit.records.known_rows import known_by
    from wearfit.workflow.backtest_in_words import sentences
    from wearfit.workflow.history import history_of
    from wearfit.workflow.refits import Refit, over_past_days

    report(Progress("read"))
    with Store.open(store_url, must_exist=True) as store:
        stored, choices, current = store.rows(), store.choices(), store.current_id()
        priors, seed = read_priors(PRIORS.chosen(None, store)), SEED.chosen(order.seed, store)
        law, _ = law_in_force(store, None)
        empty = empty_tables(store.uploads())
    if not stored:
        raise Refusal("The store holds no records yet.", "Run `wearfit recalibrate PATH`, PATH being the folder of records.")
    report(Progress("assemble"))
    rows = stored if order.as_of is None else known_by(stored, order.as_of)
    perhaps_empty = {*empty, *(row.table for row in stored)}  # by an early day a table may not have a row yet
    history = history_of(assemble(rows, perhaps_empty, choices), order.as_of)
    whole = history.exposures
    days = check_cutoffs(whole, order.days) if order.days else choose_cutoffs(whole, order.horizon_months, order.number)
    known = [know(assemble(known_by(rows, day), perhaps_empty, choices).as_of(day)) for day in days]
    layout = common_layout([whole, *(one.exposures for one in known)])

    refit = Refit(priors.text, seed, law, layout)
    go_over = over_past_days(refit, history.fingerprint, order.horizon_months, spread, folder, report)
    try:
        marks = forecast_past(whole, known, order.horizon_months, priors, refit, go_over)
    except KeyboardInterrupt:
        kept = "nothing of it is kept" if folder is None else f"the past days that were done are kept in '{folder}'"
        raise Refusal(f"Stopped before the backtest was done; {kept}.", "Run `wearfit backtest` again when it suits.") from None
    document = {
        "as_of": str(history.day),
        "calibration": current,
        "fingerprint": history.fingerprint,
        "horizon_months": order.horizon_months,
        "seed": seed,
        "law": law,
        **scores_of(marks),
    }
    document["sentences"] = sentences(document)
    _keep(store_url, document)
    return document


def _keep(store_url: str, document: dict[str, Any]) -> None:
    from wearfit.calibration import MODEL_VERSION

    entry = BacktestEntry(
        as_of=dt.date.fromisoformat(document["as_of"]),
        fingerprint=document["fingerprint"],
        model_version=MODEL_VERSION,
        content=json.dumps(document, allow_nan=False),
    )
    with Store.open(store_url, must_exist=True) as store:
        store.add_backtest(entry)


def kept_backtest(store_url: str) -> dict[str, Any] | None:
    """The last backtest that the store keeps, with `made_at`, None before the first one."""
    with Store.open(store_url, must_exist=True) as store:
        kept = store.last_backtest()
    return None if kept is None else {**json.loads(kept.entry.content), "made_at": kept.made_at.isoformat()}
