"""Days far after all others: set aside, lest a slip become the latest day."""

import datetime as dt

from fleets import about, event, fleet, records_of, run, tool


def _many(count: int = 24, step_months: int = 1) -> list:
    days = [(2020 + (i * step_months) // 12, (i * step_months) % 12 + 1) for i in range(count)]
    return [run(f"{year}-{month:02}-10", f"{year}-{month:02}-19") for year, month in days]


def test_a_lonely_late_day_is_set_aside():
    records = records_of(fleet(runs=[*_many(), run("2034-03-01", "2034-03-09")]))
    (finding,) = about(records.findings, "runs", "ended_on")
    assert (finding.row, finding.value, finding.severity) == (26, "2034-03-09", "set_aside")
    assert "12 years after every other record" in finding.problem and "2021-12-19" in finding.problem
    assert records.latest_day == dt.date(2021, 12, 19)


def test_lonely_days_of_any_table_are_seen_together():
    events = [event("2020-02-01", "service"), event("2024-02-01", "service")]
    reading = {"tool_id": "T1", "date": "2024-03-01", "feature": "gate", "value": "0.1", "limit": "0.2"}
    records = records_of(fleet(runs=_many(48), events=events, readings=[reading]))  # to December 2023
    assert [f for f in records.findings if "every other record" in f.problem] == []
    records = records_of(fleet(runs=[*_many(48)][:40], events=[events[0], event("2031-02-01", "service")], readings=[reading]))
    (finding,) = [f for f in records.findings if "every other record" in f.problem]
    assert finding.table == "events" and records.latest_day == dt.date(2024, 3, 1)


def test_up_to_three_strays_are_set_aside_and_four_are_a_new_beginning():
    late = [run(f"2030-{month:02}-10", f"2030-{month:02}-19") for month in range(1, 5)]
    three = records_of(fleet(runs=[*_many(80), *late[:3]]))
    assert [f.severity for f in about(three.findings, "runs", "ended_on") if "every other" in f.problem] == ["set_aside"] * 3
    four = records_of(fleet(runs=[*_many(80), *late]))
    assert [f for f in four.findings if "every other" in f.problem] == [] and four.latest_day == dt.date(2030, 4, 19)


def test_a_gap_of_a_year_is_not_lonely_and_few_rows_say_nothing():
    year_later = run("2022-12-10", "2022-12-20")  # 366 days after 2021-12-19
    assert [f for f in records_of(fleet(runs=[*_many(), year_later])).findings if "every other" in f.problem] == []
    a_day_more = run("2022-12-10", "2022-12-21")
    assert len([f for f in records_of(fleet(runs=[*_many(), a_day_more])).findings if "every other" in f.problem]) == 1
    few = records_of(fleet(runs=[*_many(5), run("2034-03-01", "2034-03-09")]))
    assert few.latest_day == dt.date(2034, 3, 9)


def test_records_that_are_sparse_throughout_are_left_alone():
    records = records_of(fleet(tools=[tool()], runs=[*_many(24, step_months=11), run("2043-03-01", "2043-03-09")]))
    assert records.latest_day == dt.date(2043, 3, 9)
