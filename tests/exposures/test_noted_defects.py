"""Defects noted in the lives under way: which they are, how much of the life came before them, and what is to be looked at."""

from collections.abc import Sequence

import numpy as np
import pytest
from histories import Cells, event, exposures_of, run, tool

from wearfit.exposures.noted import MOST_OF_A_TOOL
from wearfit.exposures.table import Exposures

RUNS = (run("2020-03-01", "2020-03-10", 1000), run("2020-06-01", "2020-06-10", 2000), run("2020-09-01", "2020-09-10", 4000))
FLASH = {"note": "flash at cavity 2"}


def noted_in(events: Sequence[Cells], **others: str) -> Exposures:
    return exposures_of(RUNS, events, **others)


def shots_before(exposures: Exposures) -> list[float]:
    """Shots of the row of the life under way up to each noted defect."""
    noted, cells, h = exposures.noted, exposures.cells, exposures.history
    return [float(cells.shots[h.cell_start[row] : stop].sum()) for row, stop in zip(noted.row, noted.stop, strict=True)]


@pytest.mark.parametrize(
    ("date", "shots"),
    [
        ("2020-02-01", 0),
        ("2020-03-10", 1000),
        ("2020-05-01", 1000),
        ("2020-06-05", 1000 + 0.5 * 2000),
        ("2020-06-10", 3000),
        ("2021-01-01", 7000),
    ],
)
def test_shots_up_to_the_end_of_its_day(date: str, shots: float):
    exposures = noted_in([event(date, "service", **FLASH)])
    assert exposures.noted.kind.tolist() == ["flash_in_one_place"]
    assert str(np.datetime64(int(exposures.noted.day[0]), "D")) == date
    assert shots_before(exposures) == pytest.approx([shots])


def test_notes_and_readings_are_each_in_their_place():
    reading = {"tool_id": "T1", "date": "2020-06-05", "feature": "flash", "value": "0.05", "limit": "0.13"}
    exposures = noted_in([event("2020-03-05", "service", **FLASH), event("2020-09-05", "hold", **FLASH)], readings=[reading])
    assert shots_before(exposures) == pytest.approx([500, 5000])
    (row,), (stop,) = exposures.readings.row, exposures.readings.stop
    assert exposures.cells.shots[exposures.history.cell_start[row] : stop].sum() == pytest.approx(2000)


def test_a_note_parts_cells_and_changes_no_sum():
    plain, noted = noted_in([event("2020-06-05", "service")]), noted_in([event("2020-06-05", "service", **FLASH)])
    assert len(noted.cells.shots) > len(plain.cells.shots)
    assert noted.cells.shots.sum() == plain.cells.shots.sum()
    assert noted.cells.setups.sum() == plain.cells.setups.sum()


@pytest.mark.parametrize(
    ("events", "dates"),
    [
        ((event("2020-04-01", "service", **FLASH), event("2020-05-01", "retool", cause="wear")), []),
        ((event("2020-05-01", "retool", cause="wear", **FLASH),), []),
        ((event("2020-05-01", "retool", cause="wear"), event("2020-05-20", "service", **FLASH)), ["2020-05-20"]),
        ((event("2020-04-01", "service", **FLASH), event("2020-05-01", "modify", renewed_share="0.3")), []),
        ((event("2020-04-01", "service", **FLASH), event("2020-05-01", "modify")), ["2020-04-01"]),
        ((event("2020-10-01", "worn", **FLASH),), []),
        ((event("2020-04-01", "service", **FLASH), event("2020-10-01", "worn")), ["2020-04-01"]),
        ((event("2020-04-01", "service", **FLASH), event("2020-10-01", "retire")), []),
        ((event("2020-04-01", "service", note="no flash"),), []),
    ],
)
def test_only_the_life_under_way_of_a_live_tool(events: tuple[Cells, ...], dates: list[str]):
    assert [str(np.datetime64(int(day), "D")) for day in noted_in(events).noted.day] == dates


def test_each_candidate_of_a_tool_has_them():
    exposures = exposures_of(RUNS, [event("2020-05-01", "service", **FLASH)], tools=[tool(service_class="", cavity_steel="")])
    rows = len(exposures.history.source)
    assert rows > 1
    assert exposures.noted.row.tolist() == list(range(rows))
    assert shots_before(exposures) == [1000.0] * rows


def test_the_latest_of_many_are_kept():
    events = [event(f"2020-{month:02d}-{day:02d}", "service", note="flash") for month in (4, 5) for day in range(1, MOST_OF_A_TOOL)]
    noted = noted_in(events).noted
    assert len(noted.day) == MOST_OF_A_TOOL
    assert str(np.datetime64(int(noted.day[-1]), "D")) == f"2020-05-{MOST_OF_A_TOOL - 1:02d}"


HAZARD = {"note": "sharp flash at the lid"}


@pytest.mark.parametrize(
    ("events", "told"),
    [
        ((event("2020-04-01", "service", **HAZARD),), True),
        ((event("2020-04-01", "service", note="peg broken off"),), True),
        ((event("2020-04-01", "service", note="no sharp flash"),), False),
        ((event("2020-04-01", "hold", **HAZARD),), False),
        ((event("2020-04-01", "service", **HAZARD), event("2020-04-02", "hold"), event("2020-04-20", "release")), False),
        ((event("2020-03-20", "hold"), event("2020-04-01", "service", **HAZARD)), False),
        ((event("2020-03-20", "hold"), event("2020-03-25", "release"), event("2020-04-01", "service", **HAZARD)), True),
        ((event("2020-04-01", "service", **HAZARD), event("2020-05-01", "retool")), False),
        ((event("2020-04-01", "service", **HAZARD), event("2020-05-01", "retire")), False),
    ],
)
def test_a_hazard_without_a_hold_is_to_be_looked_at(events: tuple[Cells, ...], told: bool):
    exposures = noted_in(events)
    findings = [f for f in exposures.findings if "looked at before it runs" in f.problem]
    assert len(findings) == told == exposures.noted.hazard.any()
    for finding in findings:
        assert (finding.table, finding.column, finding.severity, finding.source) == ("events", "note", "note", "events.csv")
        assert "T1" in finding.problem and "2020-04-01" in finding.problem
        assert "!" not in finding.problem + finding.repair
