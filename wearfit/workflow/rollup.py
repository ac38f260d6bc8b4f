"""Press-cycle logs to the runs table, and hourly air to the climate table: parts spread, kept as they come, and joined."""

import csv
import io
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from wearfit.errors import Refusal
from wearfit.press_logs.columns import GRAINS, MONTH
from wearfit.press_logs.engine import Limits
from wearfit.press_logs.runs import cells, day_of, joined, runs_of
from wearfit.press_logs.sessions import VERSION, Session, in_order, sessions_of
from wearfit.press_logs.survey import LogFile, Part, Reading, parted, survey
from wearfit.records.formulas import kept_as_text
from wearfit.records.tables import RUNS
from wearfit.report.whole import write_whole
from wearfit.workflow.fanout import Job, Standing, fan_out
from wearfit.workflow.kept_results import KeptFiles, job_key
from wearfit.workflow.progress import Progress, Report, parts_done, silent
from wearfit.workflow.ways import Way
from wearfit.workflow.wording import count


@dataclass(frozen=True)
class AirOrder:
    """What to make of hourly air.

    Parameters
    ----------
    place : Path
        A file or folder of it.
    out : Path
        The CSV file to write.
    grain : str
        One of `columns.GRAINS`.
    """

    place: Path
    out: Path
    grain: str = MONTH


@dataclass(frozen=True)
class RollupOrder:
    """What to draw together, and how.

    Parameters
    ----------
    folder : Path
        Of Parquet files with a row a shot.
    out : Path
        The CSV file to write.
    parts : Path, optional
        Where results of parts are kept; beside `out` by default.
    """

    folder: Path
    out: Path
    reading: Reading
    limits: Limits
    parts: Path | None = None
    air: AirOrder | None = None

    def check(self) -> None:
        """Raise Refusal, status 2, where it makes no sense."""
        outs = [self.out] if self.air is None else [self.out, self.air.out]
        for out in outs:
            if out.suffix.lower() != ".csv":
                raise Refusal(f"'{out.name}' does not end in .csv.", "Give a name such as runs.csv.", 2)
            if not out.absolute().parent.is_dir():
                raise Refusal(f"The folder '{out.absolute().parent}' does not exist.", "Make it, or name a file elsewhere.", 2)
        if len(set(map(Path.absolute, outs))) < len(outs):
            raise Refusal("Runs and climate cannot be one file.", "Give two names.", 2)
        if self.air is not None and self.air.grain not in GRAINS:
            raise Refusal(f"Air is not drawn together by '{self.air.grain}'.", f"Name one of {', '.join(GRAINS)}.", 2)


def rollup(order: RollupOrder, spread: Way, report: Report = silent) -> dict[str, Any]:
    """Write the runs that a log tells of.

    Parameters
    ----------
    spread : Way
        Where the parts are worked out; workers elsewhere must see the files under the same paths.

    Returns
    -------
    dict
        What was read, written and left out; `sentences` say it.

    Raises
    ------
    Refusal
        Where the order, the files or a part refuse, or the work is interrupted. Parts that were done are kept.
    """
    order.check()
    report(Progress("read"))
    files = survey(order.folder, order.reading, order.limits)
    parts = parted(files)
    if not parts:
        raise Refusal(f"'{order.folder}' holds not one shot with a tool and a time.", "Check the columns of tool and time.")
    folder = order.parts or order.out.with_name(f"{order.out.name}.parts")
    kept: KeptFiles[bytes] = KeptFiles(folder, bytes, bytes, ".parquet")
    read_as = ("rollup", VERSION, order.reading.gap_hours, order.reading.plant, order.reading.resin)
    jobs = [Job(job_key(*read_as, *part.facts), part.name, part) for part in parts]
    found = sum(kept.file(job.key) is not None for job in jobs)
    try:
        fan_out(_Drawn(order.reading, order.limits), jobs, spread, kept, partial(_report, report))
    except KeyboardInterrupt:
        raise Refusal(
            f"Stopped before all parts were done; those that were are kept in '{folder}'.", "The same command goes on from there."
        ) from None
    results = [path for job in jobs if (path := kept.file(job.key)) is not None]
    counts = Counter[str]()
    rows = list(_counted(runs_of(joined(in_order(results, order.limits), order.reading.gap_hours)), counts))
    write_whole(order.out, _csv(RUNS.names, map(cells, rows)), _begins(RUNS.names))
    document: dict[str, Any] = {"as_of": None, "calibration": None, "fingerprint": None, "out": str(order.out), "parts": str(folder)}
    document |= _told(files, parts, rows, counts) | {"parts_found": found}
    if order.air is not None:
        document["climate"] = _write_air(order.air, {run.plant for run in rows if run.plant}, order.limits)
    document["sentences"] = sentences(document)
    return document


@dataclass(frozen=True)
class _Drawn:
    """What is done on each part, wherever."""

    reading: Reading
    limits: Limits

    def __call__(self, part: Part) -> bytes:
        return sessions_of(part, self.reading, self.limits)


def _report(report: Report, standing: Standing) -> None:
    report(parts_done(standing.done, standing.total))


def _counted(runs: Iterable[Session], counts: Counter[str]) -> Iterable[Session]:
    """The runs that the table can hold; what the others hold is counted, as are duplicates."""
    for run in runs:
        counts["duplicates"] += run.duplicates
        if run.plant is None or run.resin is None:
            counts["without_plant_or_resin"] += run.shots
        else:
            yield run


def _told(files: Sequence[LogFile], parts: Sequence[Part], rows: Sequence[Session], counts: Mapping[str, int]) -> dict[str, Any]:
    unusable = sum(file.unusable for file in files)
    return {
        "files": len(files),
        "parts_drawn": len(parts),
        "rows_read": sum(part.rows for part in parts) + unusable,
        "runs": len(rows),
        "tools": len({run.tool for run in rows}),
        "shots": sum(run.shots for run in rows),
        "first": str(min(day_of(run.first) for run in rows)) if rows else None,
        "last": str(max(day_of(run.last) for run in rows)) if rows else None,
        "duplicates": counts["duplicates"],
        "without_plant_or_resin": counts["without_plant_or_resin"],
        "without_tool_or_time": unusable,
    }


def _write_air(air: AirOrder, plants: set[str], limits: Limits) -> dict[str, Any]:
    from wearfit.press_logs.air import climate_of, columns_written  # what it loads takes longer than a process of the fan-out should

    climate = climate_of(air.place, plants, air.grain, limits)
    columns = columns_written(air.grain)
    write_whole(air.out, _csv(columns, climate.rows), _begins(columns))
    return {
        "out": str(air.out), "rows": len(climate.rows), "readings": climate.readings, "absent": list(climate.absent),
        "thin_months": climate.thin_months,
    }  # fmt: skip


def _csv(columns: Sequence[str], rows: Iterable[Mapping[str, str]]) -> bytes:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([kept_as_text(row.get(column, "")) for column in columns] for row in rows)
    return text.getvalue().encode()


def _begins(columns: Sequence[str]) -> bytes:
    return ",".join(columns[:3]).encode()


def sentences(document: Mapping[str, Any]) -> list[str]:
    """What a roll-up did, for a reader."""
    said = [
        f"{count(document['rows_read'], 'row', 'rows')} of {count(document['files'], 'file', 'files')} came to "
        f"{count(document['shots'], 'shot', 'shots')} in {count(document['runs'], 'run', 'runs')} of "
        f"{count(document['tools'], 'tool', 'tools')}, from {document['first']} to {document['last']}: {document['out']}."
    ]
    left: list[tuple[str, Callable[[str], str]]] = [
        ("duplicates", lambda n: f"{n} rows said a shot once more and were not counted again."),
        ("without_tool_or_time", lambda n: f"{n} rows have no tool or no time and were left out."),
        (
            "without_plant_or_resin",
            lambda n: f"{n} shots have no plant or no resin and are in no run; give one for all by --plant or --resin.",
        ),
    ]
    said += [sentence(f"{document[name]:,}") for name, sentence in left if document[name]]
    if "climate" in document:
        climate = document["climate"]
        said.append(f"{climate['readings']:,} readings of air are {climate['rows']:,} rows of climate: {climate['out']}.")
        if climate["absent"]:
            said.append(f"There is no air of {', '.join(climate['absent'])}.")
        if climate["thin_months"]:
            said.append(f"{climate['thin_months']:,} months have too few hours and were left out.")
    again = f" {document['parts_found']:,} of {document['parts_drawn']:,} were found there." if document["parts_found"] else ""
    said.append(
        f"What each month gave is kept in {document['parts']}, so that only what is new is read next time; it may be deleted.{again}"
    )
    return said
