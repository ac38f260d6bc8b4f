"""A store in which names and notes try to be markup, links, formulas and programs."""

import csv
import datetime as dt
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np
from stores import summary

from wearfit.calibration import from_bytes, to_bytes
from wearfit.demo.shipped import scenario_folder, shipped_calibration_bytes
from wearfit.records.readers.read import read
from wearfit.store.overrides import Override
from wearfit.store.store import Store

TOOL: Final = "<img src=x onerror=alert(1)>"
NAMES: Final[dict[str, dict[str, str]]] = {
    "tool_id": {"T-049": TOOL, "T-104": "[bold]T-104[/bold] :smile: $x^2$"},
    "plant_id": {"valley": "<b class=hostile>valley</b>", "salt-quay": "</script><script>alert(2)</script>"},
    "resin_id": {"pp-natural": "=cmd|' /C calc'!A0"},
    "design_id": {"sand-bucket": "**sand** [here](http://x.example/) `b`"},
}
NOTE: Final = 'sharp flash <svg onload=alert(3)> =HYPERLINK("http://x.example")'


def make_hostile_store(folder: Path) -> str:
    """The demo's records and calibration under such names, in a new folder; returns the store's address."""
    records = folder / "records"
    records.mkdir(parents=True)
    for path in scenario_folder().glob("*.csv"):
        with path.open(encoding="utf-8", newline="") as stream:
            rows = list(csv.DictReader(stream))
        changed = [{column: _named(column, cell) for column, cell in row.items()} for row in rows]
        with (records / path.name).open("x", encoding="utf-8", newline="") as stream:
            writer = csv.DictWriter(stream, list(rows[0]))
            writer.writeheader()
            writer.writerows(changed)
    calibration = from_bytes(shipped_calibration_bytes())
    levels = calibration.levels
    given = {
        group: np.array([NAMES[f"{group}_id"].get(str(name), str(name)) for name in getattr(levels, group)], dtype=object)
        for group in ("tool", "plant", "resin", "design")
    }
    url = str(folder / "hostile.db")
    with Store.open(url) as store:
        store.add_upload(read(records))
        store.add_calibration(to_bytes(replace(calibration, levels=replace(levels, **given))), summary(True), make_current=True)
        store.add_override(Override(TOOL, dt.datetime.now(dt.UTC), "<i class=hostile>Ines</i>", dt.date(2026, 6, 30), None, 5, NOTE))
    return url


def _named(column: str, cell: str) -> str:
    return NOTE if column == "note" and cell else NAMES.get(column, {}).get(cell, cell)
