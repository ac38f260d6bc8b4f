"""`wearfit rollup`: press-cycle logs, one row a shot, drawn together to runs."""

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console

from wearfit.cli.options import ClusterAddress, Common, ProcessCount
from wearfit.cli.output import Answer
from wearfit.cli.progress import shown_progress
from wearfit.cli.tables import print_line
from wearfit.errors import Refusal


def _named(pairs: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    named = [pair.partition("=") for pair in pairs]
    if any(not ours or not theirs for ours, _, theirs in named):
        raise Refusal("A column is named as OURS=THEIRS.", "Write it so, such as --column tool_id=mould.", 2)
    return tuple((ours, theirs) for ours, _, theirs in named)


def rollup(
    logs: Annotated[Path, Parameter(metavar="FOLDER")],
    /,
    *,
    out: Annotated[Path, Parameter(metavar="FILE.csv")],
    gap: Annotated[float, Parameter(metavar="HOURS")] = 6.0,
    plant: Annotated[str | None, Parameter(metavar="ID")] = None,
    resin: Annotated[str | None, Parameter(metavar="ID")] = None,
    column: Annotated[tuple[str, ...], Parameter(metavar="OURS=THEIRS")] = (),
    air: Annotated[Path | None, Parameter(metavar="PATH")] = None,
    air_out: Annotated[Path | None, Parameter(metavar="FILE.csv")] = None,
    air_by: Annotated[str, Parameter(metavar="month|hour")] = "month",
    parts: Annotated[Path | None, Parameter(metavar="FOLDER")] = None,
    memory: Annotated[int, Parameter(metavar="MB")] = 2_000,
    cluster: ClusterAddress = None,
    processes: ProcessCount = None,
    common: Common = Common(),  # noqa: B008
) -> Answer:
    """Draw press-cycle logs, one row a shot, together to the runs table; hourly air to the climate table.

    Parameters
    ----------
    logs
        Parquet files, and folders of them: tool_id and timestamp of each shot; plant_id, resin_id, good or reject, active_cavities and
        cycle_time_s where they are logged. Days are those of UTC, or of the time stamps as they stand where these have no zone.
    out
        Where to write the runs, such as runs.csv in the folder of records.
    gap
        A stop of more hours parts two runs. By default 6.
    plant
        Plant of the shots that do not say theirs.
    resin
        Resin of the shots that do not say theirs.
    column
        A column that has another name in the logs, such as tool_id=mould; may be given again for another.
    air
        Hourly air of the plants, in Parquet or CSV: plant_id, timestamp, temp_c and rh_pct.
    air_out
        Where to write the climate, such as climate.csv in the folder of records.
    air_by
        month, or hour: hours are counted exactly by the records, and are some seven hundred times as many rows.
    parts
        A folder in which what each month gave is kept as it comes: the same command goes on from there. By default beside the runs.
    memory
        Of each process; beyond it the work goes on in temporary files. By default 2000.
    cluster
        Address of a Dask scheduler whose workers see the logs under the same path, such as tcp://10.0.0.5:8786.
    processes
        How many months are worked out at once on this machine. By default one a core.
    common
        What every command takes.
    """
    from wearfit.press_logs.engine import Limits
    from wearfit.press_logs.survey import Reading
    from wearfit.workflow.rollup import AirOrder, RollupOrder
    from wearfit.workflow.rollup import rollup as draw_together
    from wearfit.workflow.ways import way

    if (air is None) != (air_out is None):
        raise Refusal("Air and where its climate goes are given together.", "Give both --air and --air-out, or neither.", 2)
    of_air = None if air is None or air_out is None else AirOrder(air, air_out, air_by)
    order = RollupOrder(logs, out, Reading(gap, plant, resin, _named(column)), Limits(memory), parts, of_air)
    spread = way(cluster, processes)
    with shown_progress() as report:
        document = draw_together(order, spread, report)

    def show(console: Console) -> None:
        for sentence in document["sentences"]:
            print_line(console, sentence)

    return Answer(document, show)
