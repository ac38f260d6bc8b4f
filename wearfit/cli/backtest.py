"""`wearfit backtest`: would it have warned? Forecasts made at past days against what then happened."""

import datetime as dt
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Final

from cyclopts import Parameter
from rich.console import Console

from wearfit.cli.options import ClusterAddress, Common, Day, ProcessCount, Seed, day
from wearfit.cli.output import Answer
from wearfit.cli.progress import shown_progress
from wearfit.cli.tables import print_line, print_table, warned
from wearfit.workflow.backtest_in_words import sentences
from wearfit.workflow.settings import BACKTEST_MONTHS
from wearfit.workflow.wording import CAUTION, frequency

TITLES: Final = {"wearfit": "wearfit", "class_band": "Class band", "pooled_weibull": "Pooled\nWeibull", "weibull_aft": "Weibull\nAFT"}


def _days(_: Any, tokens: Any) -> tuple[dt.date, ...]:
    return tuple(day(token.value) for token in tokens)


def backtest(
    *,
    cutoffs: Annotated[int | None, Parameter(metavar="N")] = None,
    on: Annotated[tuple[dt.date, ...], Parameter(converter=_days, metavar="DATE")] = (),
    horizon: Annotated[int, Parameter(metavar="MONTHS")] = BACKTEST_MONTHS,
    as_of: Day = None,
    seed: Seed = None,
    cluster: ClusterAddress = None,
    processes: ProcessCount = None,
    results: Annotated[Path | None, Parameter(metavar="FOLDER")] = None,
    common: Common = Common(),  # noqa: B008
) -> Answer:
    """Would it have warned? Forecasts made at past days, on what was then known, against what then happened.

    Parameters
    ----------
    cutoffs
        How many past days, spread over the history. By default 5, fewer where their months would overlap.
    on
        A past day of your own choice, in the place of that; may be given again for another.
    horizon
        Runs begun within so many months after each day are asked about. By default 12.
    as_of
        Leave records after this day out of everything. By default the latest day in the records.
    seed
        Of the random draws; the same seed and records give the same answer.
    cluster
        Address of a Dask scheduler on whose workers the past days are worked out, such as tcp://10.0.0.5:8786.
    processes
        How many past days are worked out at once on this machine, each with a model of its own in memory. By default one a core.
    results
        A folder in which what each past day gave is kept as it comes: the same command goes on from there.
    common
        What every command takes.
    """
    from wearfit.workflow.backtest import BacktestOrder
    from wearfit.workflow.backtest import backtest as answer
    from wearfit.workflow.ways import way

    spread = way(cluster, processes)

    order = BacktestOrder(cutoffs, on, horizon, as_of, seed)
    order.check()
    with shown_progress() as report:
        document = answer(common.store_url, order, spread, results, report)
    return Answer(document, lambda console: show_backtest(console, document))


def show_backtest(console: Console, document: Mapping[str, Any]) -> None:
    """Print a backtest: the answer, scores beside the rivals', told chances against what happened, and what to be wary of."""
    first, *others = sentences(document)
    print_line(console, f"Forecasts made on {', '.join(document['cutoffs'])}; records up to {document['as_of']}", "bold")
    print_line(console, first, "bold")
    print_line(console, "")
    of_all = {"wearfit": document, **document["baselines"]}
    rows = [
        _row("Log score of a run", of_all, lambda scored: f"{scored['log_score']:.4f}"),
        _row("Brier score of a run", of_all, lambda scored: f"{scored['brier']:.4f}"),
        _row("CRPS of the shots left, in lives of its class", of_all, lambda scored: f"{scored['crps']:.4f}"),
        *(_row(f"{level} % ranges of shots left hold", of_all, _held(level)) for level in ("50", "80", "90")),
    ]
    titles = tuple(TITLES[name] for name in of_all)
    print_table(console, "Scores, the lower the better; ranges, the nearer to their name", ("Measure", *titles), rows, right=titles)
    curve = [_group(group) for group in document["calibration_curve"]]
    heads = ("Told", "Runs", "Expected", "Wore out", "By luck")
    print_table(console, "Told chances against what happened", heads, curve, right=heads[1:])
    days = [
        (one["cutoff"], str(one["wear_outs_known"]), str(one["n"]), f"{one['wear_outs']:.1f}", *_losses(one))
        for one in document["by_cutoff"]
    ]
    told = ("Past day", "Wear-outs\nknown", "Runs", "Wore out")
    print_table(console, "Log scores by past day", (*told, *titles), days, right=(*told[1:], *titles))
    for sentence in others:
        print_line(console, sentence)
    print_line(console, CAUTION)


def _row(title: str, of_all: Mapping[str, Mapping[str, Any]], text: Any) -> tuple[str, ...]:
    return title, *(text(scored) for scored in of_all.values())


def _held(level: str) -> Any:
    return lambda scored: f"{100.0 * scored['coverage'][level]:.0f} %"


def _group(group: Mapping[str, Any]) -> tuple[Any, ...]:
    n, outside = group["n"], not group["low"] <= group["observed"] <= group["high"]
    worn = f"{n * group['observed']:.1f}".removesuffix(".0")
    by_luck = f"{n * group['low']:.0f} - {n * group['high']:.0f}"
    return frequency(group["forecast"]), str(n), f"{n * group['forecast']:.1f}", warned(f"{worn} !") if outside else worn, by_luck


def _losses(one: Mapping[str, Any]) -> tuple[str, ...]:
    losses = (one["log_score"], *(rival["log_score"] for rival in one["baselines"].values()))
    return tuple("-" if loss is None else f"{loss:.4f}" for loss in losses)
