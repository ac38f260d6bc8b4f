"""Runs of one tool on the same days: two plants, two resins, more than one tool can make."""

from fleets import Cells, about, fleet, records_of, run, tool

from wearfit.records.findings import Finding


def _findings(*runs: Cells, column: str, tools: tuple[Cells, ...] = (tool(),)) -> list[Finding]:
    return about(records_of(fleet(runs=list(runs), tools=list(tools))).findings, "runs", column)


def test_a_tool_at_two_plants_at_once_is_told():
    first = run("2020-01-10", "2020-01-19")
    moved = run("2020-01-19", "2020-01-25", plant_id="Salt Quay")
    assert _findings(first, moved, column="started_on") == []
    assert _findings(first, run("2020-01-12", "2020-01-15", resin_id="R2"), column="started_on") == []
    another = run("2020-01-12", "2020-01-15", tool_id="T2", plant_id="Salt Quay")
    assert _findings(first, another, column="started_on", tools=(tool(), tool("T2"))) == []
    (finding,) = _findings(first, run("2020-01-18", "2020-01-25", plant_id="Salt Quay"), column="started_on")
    assert (finding.row, finding.severity) == (3, "note")
    assert "Heath" in finding.problem and "Salt Quay" in finding.problem and "share the number" in finding.repair


def test_an_overlap_with_an_earlier_run_is_seen_past_a_later_one():
    runs = (
        run("2020-01-10", "2020-01-30"),
        run("2020-01-12", "2020-03-30", plant_id="Salt Quay"),
        run("2020-01-20", "2020-01-25", plant_id="Salt Quay", resin_id="R2"),
    )
    assert [finding.row for finding in _findings(*runs, column="started_on")] == [3, 4]


def test_many_overlaps_of_one_tool_are_told_once():
    runs = [run(f"2020-0{m}-01", f"2020-0{m}-20", plant_id=plant) for m in range(1, 7) for plant in ("Heath", "Salt Quay")]
    (finding,) = _findings(*runs, column="started_on")
    assert (finding.row, finding.value) == (None, "T1") and "5 later runs" in finding.problem


def test_two_resins_at_one_plant_at_once_are_told():
    first = run("2020-01-10", "2020-01-19")
    assert _findings(first, run("2020-01-19", "2020-01-25", resin_id="R2"), column="resin_id") == []
    assert _findings(first, run("2020-01-12", "2020-01-25"), column="resin_id") == []
    (finding,) = _findings(first, run("2020-01-12", "2020-01-25", resin_id="R2"), column="resin_id")
    assert (finding.row, finding.severity) == (3, "note") and "R1" in finding.problem


def test_sheets_by_month_are_told_once_for_the_table():
    tools = tuple(tool(f"T{i}") for i in range(8))
    runs = [run("2020-03-01", "2020-03-31", tool_id=f"T{i}", resin_id=resin) for i in range(8) for resin in ("R1", "R2")]
    (finding,) = _findings(*runs, column="resin_id", tools=tools)
    assert finding.row is None and "8 runs of 8 tools" in finding.problem


def _shared(*runs: Cells, cycle: str = "30") -> list[Finding]:
    return [f for f in _findings(*runs, column="tool_id", tools=(tool(cycle_time_s=cycle),)) if "share this number" in f.problem]


def test_runs_that_only_two_tools_can_make_together_are_told():
    both = (run("2020-01-10", "2020-01-19", "16000"), run("2020-01-10", "2020-01-19", "16000", resin_id="R2"))  # of 28,800
    (finding,) = _shared(*both)
    assert (finding.row, finding.value, finding.severity) == (None, "T1", "note")
    assert "32,000 shots" in finding.problem and "28,800" in finding.problem
    assert _shared(*both, cycle="") == []
    assert _shared(both[0], run("2020-01-10", "2020-01-19", "13000", resin_id="R2")) == []


def test_runs_that_share_days_but_can_follow_each_other_are_possible():
    # 26,000 of 28,800 each, and five days in common: 15 days have room for 43,200, not for 52,000.
    assert len(_shared(run("2020-01-10", "2020-01-19", "26000"), run("2020-01-15", "2020-01-24", "26000", resin_id="R2"))) == 1
    assert _shared(run("2020-01-10", "2020-01-19", "21000"), run("2020-01-15", "2020-01-24", "21000", resin_id="R2")) == []
    # A chain of runs that hand over on the same day.
    days = [(f"2020-01-{d:02}", f"2020-01-{d + 4:02}") for d in (2, 6, 10, 14)]
    assert _shared(*(run(start, end, "11000", resin_id="R1" if i % 2 else "R2") for i, (start, end) in enumerate(days))) == []


def test_a_run_impossible_by_itself_is_not_told_twice():
    assert _shared(run("2020-01-10", "2020-01-19", "40000"), run("2020-01-10", "2020-01-19", "100", resin_id="R2")) == []


def test_the_worst_days_of_several_are_named_and_the_others_counted():
    runs = [run(f"2020-0{m}-01", f"2020-0{m}-10", "16000", resin_id=r) for m in (1, 2, 3) for r in ("R1", "R2")]
    (finding,) = _shared(*runs)
    assert "from 2020-01-01 to 2020-01-10" in finding.problem and "2 other times" in finding.problem


def test_two_runs_of_one_tool_in_one_place_are_told_and_both_count():
    first = run("2020-01-10", "2020-01-19", "9000")
    records = records_of(fleet(runs=[first, run("2020-01-12", "2020-01-25", "9000")]))
    (finding,) = about(records.findings, "runs", "started_on")
    assert (finding.row, finding.severity) == (3, "note") and "2020-01-19" in finding.problem and "both count" in finding.problem
    assert len(records.tables["runs"]) == 2
    assert _findings(first, run("2020-01-19", "2020-01-25"), column="started_on") == []
    assert _findings(first, run("2020-01-10", "2020-01-25"), column="started_on") == []  # one key: told where the sheet is read


def test_orders_open_side_by_side_are_told_once_for_a_tool_and_once_for_the_table():
    orders = [(f"2020-{month:02}-01", f"2020-{month + 1:02}-10") for month in range(1, 8)]
    (finding,) = _findings(*(run(*days) for days in orders), column="started_on")
    assert (finding.row, finding.value) == (None, "T1") and "5 later runs" in finding.problem
    runs = [run(*days, tool_id=f"T{i}") for i in range(8) for days in orders[:2]]
    (finding,) = _findings(*runs, column="started_on", tools=tuple(tool(f"T{i}") for i in range(8)))
    assert finding.row is None and "8 runs of 8 tools" in finding.problem
