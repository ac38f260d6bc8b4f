"""What a tool has been through, held against the scenario's own files and the calibration's own clock."""

import csv
from collections import Counter

import numpy as np
import pytest

from wearfit.calibration import Calibration
from wearfit.demo.shipped import scenario_folder
from wearfit.errors import Refusal
from wearfit.exposures.lives import SAME_DAY_ORDER
from wearfit.forecasts.wear_spent import wear_spent
from wearfit.records.assemble import assemble
from wearfit.records.readers.read import read
from wearfit.workflow.history import history_of
from wearfit.workflow.recorded import Recorded
from wearfit.workflow.tool_history import ToolHistory, tool_history


@pytest.fixture(scope="module")
def recorded() -> Recorded:
    upload = read(scenario_folder())
    records = assemble(upload.rows, upload.empty_tables)
    history = history_of(records)
    return Recorded(records.as_of(history.day), history.exposures, history.fingerprint)


def live_tools(calibration: Calibration) -> list[str]:
    return [str(calibration.levels.tool[t]) for t in calibration.live.tool]


def test_cells_add_up_to_the_clock_of_the_calibration(recorded: Recorded, demo_calibration: Calibration) -> None:
    """Draw by draw, for every tool of which nothing is open; draws are kept to four digits."""
    seen = 0
    for place, tool in enumerate(live_tools(demo_calibration)):
        alone = np.count_nonzero(recorded.exposures.candidates.tool == demo_calibration.live.tool[place]) == 1
        clock = demo_calibration.draws.wear_spent[:, place]
        if not alone or np.isnan(clock[0]):
            continue
        spent = wear_spent(demo_calibration, recorded.exposures, tool)
        np.testing.assert_allclose(spent.at_end[:, -1], clock, rtol=2e-3)
        np.testing.assert_allclose(spent.left.sum(axis=1), spent.at_end[:, -1], rtol=1e-9)
        seen += 1
    assert seen > 60


def test_shares_of_plants_and_of_resins_each_make_the_whole(recorded: Recorded, demo_calibration: Calibration) -> None:
    history = _long_read(recorded, demo_calibration)
    for sources in (history.by_plant, history.by_resin):
        # Medians of shares that add up to one in every draw.
        assert sum(source.share["p50"] or 0.0 for source in sources) == pytest.approx(1.0, abs=0.02)
    assert {source.name for source in history.by_plant} <= {*recorded.exposures.plant_ids, "in store or idle"}


def test_runs_events_and_readings_are_those_of_the_files(recorded: Recorded, demo_calibration: Calibration) -> None:
    files = {name: _rows(name) for name in ("events", "readings")}
    for tool in live_tools(demo_calibration)[::9]:
        history = tool_history(recorded, demo_calibration, tool)
        # The scenario has a few rows that are no event and are set aside.
        written = [row for row in files["events"] if row["tool_id"] == tool and row["event"] in SAME_DAY_ORDER]
        assert Counter(event.event for event in history.events) == Counter(row["event"].replace("_", " ") for row in written)
        assert {event.note for event in history.events} == {row["note"] for row in written}
        measured = [row for row in files["readings"] if row["tool_id"] == tool]
        assert Counter((r.feature, r.day, r.below) for r in history.readings) == Counter(
            (row["feature"], row["date"], row["value"].startswith("<")) for row in measured
        )


def test_lives_meet_and_hold_every_shot(recorded: Recorded, demo_calibration: Calibration) -> None:
    for history in (tool_history(recorded, demo_calibration, tool) for tool in live_tools(demo_calibration)[::9]):
        for before, after in zip(history.lives[:-1], history.lives[1:], strict=True):
            assert before.ended == after.began
        assert history.lives[-1].ended is None
        if any(life.shots is None or life.reckoned for life in history.lives):
            continue
        # Shots before the first recorded run and those made after a wear-out lie on one side alone.
        opening = recorded.exposures.tools.entry_shots[recorded.exposures.tools.tool_id.index(history.tool_id)]
        made = sum(life.shots or 0.0 for life in history.lives) - opening
        assert made == pytest.approx(sum(run.shots for run in history.runs), rel=0.02)


def test_a_reading_belongs_to_the_life_it_was_taken_in(recorded: Recorded, demo_calibration: Calibration) -> None:
    history = _long_read(recorded, demo_calibration)
    for reading in history.readings:
        life = history.lives[reading.life - 1]
        assert life.began is not None
        assert life.began <= reading.day
        assert life.ended is None or reading.day <= life.ended


def test_only_what_moved_a_forecast_is_told(recorded: Recorded, demo_calibration: Calibration) -> None:
    told = {tool: tool_history(recorded, demo_calibration, tool).moved for tool in live_tools(demo_calibration)}
    by_readings = {tool for tool, moved in told.items() if any("readings" in m.what for m in moved)}
    logs = dict(zip(live_tools(demo_calibration), demo_calibration.live.moved_by_readings, strict=True))
    assert by_readings == {tool for tool, log in logs.items() if abs(log) >= 0.05}
    assert by_readings


def test_a_tool_that_is_not_live_is_refused(recorded: Recorded, demo_calibration: Calibration) -> None:
    retired = next(t for t in recorded.exposures.tools.tool_id if t not in live_tools(demo_calibration))
    with pytest.raises(Refusal, match="is retired"):
        tool_history(recorded, demo_calibration, retired)
    with pytest.raises(Refusal, match="is not in the records"):
        tool_history(recorded, demo_calibration, "T-900")


def _long_read(recorded: Recorded, calibration: Calibration) -> ToolHistory:
    """A tool with readings in more than one of its lives."""
    histories = (tool_history(recorded, calibration, tool) for tool in live_tools(calibration))
    return next(history for history in histories if len({reading.life for reading in history.readings}) > 1)


def _rows(name: str) -> list[dict[str, str]]:
    with (scenario_folder() / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
