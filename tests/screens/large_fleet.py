"""A store of some 2,000 live tools: the demo's records and calibration again and again, under other names; nothing is sampled."""

import csv
from dataclasses import fields, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
from stores import summary

from wearfit.calibration import Calibration, from_bytes, to_bytes
from wearfit.demo.shipped import scenario_folder, shipped_calibration_bytes
from wearfit.records.readers.read import read
from wearfit.store.store import Store

TIMES: Final = 22  # the demo's 93 live tools so often are 2,046


def make_large_store(folder: Path) -> str:
    """A store in a folder, with its records and one calibration that answers."""
    records = folder / "records"
    records.mkdir()
    for table in sorted(scenario_folder().glob("*.csv")):
        _repeat_rows(table, records / table.name)
    with Store.open(str(folder / "large.db")) as store:
        store.add_upload(read(records))
        store.add_calibration(to_bytes(_repeated(from_bytes(shipped_calibration_bytes()))), summary(True), make_current=True)
    return str(folder / "large.db")


def _repeat_rows(table: Path, into: Path) -> None:
    with table.open(encoding="utf-8", newline="") as file:
        reader = csv.DictReader(file)
        rows, names = list(reader), list(reader.fieldnames or ())
    if "tool_id" in names:
        rows = [{**row, "tool_id": f"{row['tool_id']}-{i}"} for i in range(TIMES) for row in rows if row["tool_id"]] + [
            row for row in rows if not row["tool_id"]
        ]
    with into.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, names)
        writer.writeheader()
        writer.writerows(rows)


def _repeated(calibration: Calibration) -> Calibration:
    n = len(calibration.levels.tool)
    live = _along(calibration.live, "live")
    live = replace(live, tool=np.concatenate([calibration.live.tool + i * n for i in range(TIMES)]))
    names = np.array([f"{tool}-{i}" for i in range(TIMES) for tool in calibration.levels.tool], dtype=object)
    return replace(
        calibration,
        live=live,
        levels=replace(calibration.levels, tool=names),
        draws=_along(_along(calibration.draws, "live"), "tool"),
    )


def _along(part: Any, axis: str) -> Any:
    """A part of a calibration with its arrays repeated along one of their dimensions."""
    longer = {}
    for each in fields(part):
        if axis in each.metadata["dims"]:
            values = getattr(part, each.name)
            longer[each.name] = np.concatenate([values] * TIMES, axis=each.metadata["dims"].index(axis))
    return replace(part, **longer)
