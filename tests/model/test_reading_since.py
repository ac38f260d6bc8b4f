"""A reading added to a saved calibration, against the calibration that had it from the start, on a simulated fleet."""

import datetime as dt
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest

from wearfit.calibration import Calibration, from_bytes, to_bytes
from wearfit.demo.scenario import RESINS, SITES
from wearfit.demo.settings import Fleet
from wearfit.demo.simulate import simulate_fleet
from wearfit.demo.tables import write_tables
from wearfit.forecasts.fleet import forecast_fleet
from wearfit.forecasts.news import EPOCH, News
from wearfit.model.calibrate import calibrate
from wearfit.model.priors import read_priors
from wearfit.model.sampler import Compiled
from wearfit.records.assemble import assemble
from wearfit.records.readers.read import read
from wearfit.workflow.history import History, history_of
from wearfit.workflow.news import new_readings

FLEET = Fleet(sites=SITES, resins=RESINS, n_tools=50, seed=41, readings_share=0.35)


def history(tables: dict[str, Any], day: dt.date | None = None) -> tuple[History, Any]:
    with TemporaryDirectory() as folder:
        write_tables(tables, Path(folder))
        rows = read(Path(folder)).rows
    return history_of(assemble(rows), day), rows


def calibrated(given: History, compiled: Compiled | None = None) -> tuple[Calibration, Compiled]:
    outcome = calibrate(given.exposures, given.live, given.fingerprint, read_priors(), 1, compiled)
    assert outcome.diagnostics.passed, outcome.diagnostics.reasons
    return from_bytes(to_bytes(outcome.calibration)), outcome.compiled


def without_the_latest(readings: list[Any], whole: History) -> tuple[list[Any], list[str]]:
    """Readings without those of the latest day of every live tool that was measured on two days or more of its life, and which."""
    tools = whole.exposures.tools.tool_id
    begins = {tools[t]: EPOCH + dt.timedelta(days=int(day)) for t, day in zip(whole.live.tool, whole.live.read_from, strict=True)}
    days: dict[str, set[str]] = {}
    for row in readings:
        if row["tool_id"] in begins and str(row["date"]) >= begins[row["tool_id"]].isoformat():
            days.setdefault(row["tool_id"], set()).add(str(row["date"]))
    chosen = {tool: max(on) for tool, on in sorted(days.items()) if len(on) > 1}
    return [row for row in readings if chosen.get(row["tool_id"]) != str(row["date"])], list(chosen)


@pytest.mark.slow
def test_a_reading_added_later_says_what_it_would_have_said_from_the_start():
    """Apart by what the reading tells of the fleet, which waits for the next calibration, and by Monte Carlo error."""
    tables = dict(simulate_fleet(FLEET).tables)
    whole, rows = history(tables)
    fewer, chosen = without_the_latest(tables["readings"], whole)
    had_it, compiled = calibrated(whole)
    had_not, _ = calibrated(history(tables | {"readings": fewer}, whole.day)[0], compiled)
    news = News(tuple(new_readings(row.values for row in rows if row.table == "readings")))

    def medians(calibration: Calibration, told: News) -> tuple[np.ndarray, np.ndarray]:
        answers = [a for a in forecast_fleet(calibration, whole.day, news=told).tools if a["tool_id"] in chosen and a["status"] != "worn"]
        return np.log([a["remaining_shots"]["p50"] for a in answers]), np.array([a["readings_since"] for a in answers])

    (added, counted), (expected, none), (before, _) = medians(had_not, news), medians(had_it, news), medians(had_not, News())
    assert len(added) == len(expected) >= 5
    assert (counted > 0).all() and not none.any()
    assert np.abs(added - expected).max() < 0.15
    assert np.sqrt(np.mean((added - expected) ** 2)) < 0.5 * np.sqrt(np.mean((before - expected) ** 2))
