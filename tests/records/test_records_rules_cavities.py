"""Cavities against parts and shots of one run."""

from fleets import Cells, about, fleet, records_of, run, tool

from wearfit.records.findings import Finding


def _findings(*runs: Cells, cavities: str = "4", column: str = "parts") -> list[Finding]:
    return about(records_of(fleet(runs=list(runs), tools=[tool(cavities=cavities)])).findings, "runs", column)


def _run(parts: str, shots: str = "1000", month: int = 1, **cells: str) -> Cells:
    return run(f"2020-{month:02}-10", f"2020-{month:02}-19", shots, parts=parts, **cells)


def test_too_few_parts_for_the_open_cavities_are_told():
    assert _findings(_run("3700", scrap_parts="100")) == []
    (finding,) = _findings(_run("2880", scrap_parts="120"))
    assert (finding.row, finding.value, finding.severity) == (2, "2880", "note")
    assert "3 parts a shot, but 4 cavities" in finding.problem and "active_cavities" in finding.repair
    assert _findings(_run("2880", scrap_parts="120", active_cavities="3")) == []


def test_without_scrap_the_same_is_left_to_scrap():
    assert _findings(_run("3300")) == []
    assert len(_findings(_run("3100"))) == 1


def test_dry_shots_are_not_taken_for_a_shut_cavity():
    assert _findings(_run("3500", scrap_parts="100")) == []  # one shot in ten without parts


def test_more_parts_than_the_cavities_can_give_are_told():
    assert _findings(_run("4080")) == []
    (finding,) = _findings(_run("4100", scrap_parts="0"))
    assert "more than the 4 open cavities can give" in finding.problem


def test_runs_in_parts_or_shots_alone_and_unknown_cavities_say_nothing():
    assert _findings(_run("990", shots="")) == []
    assert _findings(_run("")) == []
    assert _findings(_run("100"), cavities="") == []


def test_many_runs_of_one_tool_are_told_once():
    (finding,) = _findings(*(_run("2880", scrap_parts="120", month=m) for m in (1, 2, 3)))
    assert (finding.row, finding.value) == (None, "T1") and "3 runs of tool T1" in finding.problem


def test_more_open_cavities_than_there_are_are_told():
    (finding,) = _findings(_run("970", shots="", active_cavities="8"), column="active_cavities")
    assert "8 cavities were open, but tool T1 has 4" in finding.problem
