"""Findings told by kind: every one of them in one group, the gravest first."""

from collections import Counter

from hypothesis import given
from hypothesis import strategies as st

from wearfit.records.findings import Finding
from wearfit.workflow.finding_groups import COLUMNS, finding_table, grouped, is_unread, rows_said


def late(row: int, severity: str = "set_aside", table: str = "runs") -> Finding:
    return Finding(table, row, "started_on", f"2031-01-{row:02d}", f"'2031-01-{row:02d}' lies in the future.", "Correct it.", severity)  # type: ignore[arg-type]


def test_hundreds_of_one_kind_are_one_group():
    groups = grouped([late(row) for row in range(2, 302)])
    assert len(groups) == 1
    assert rows_said(groups[0].rows) == "rows 2 to 301"


def test_what_was_set_aside_comes_first_then_the_order_of_tables():
    groups = grouped([late(2, "note", "tools"), late(3, "set_aside", "runs"), late(4, "repaired", "tools"), late(5, "set_aside", "tools")])
    assert [(g.first.severity, g.first.table) for g in groups] == [
        ("set_aside", "tools"), ("set_aside", "runs"), ("repaired", "tools"), ("note", "tools"),
    ]  # fmt: skip


def test_a_sheet_that_was_not_read_comes_before_what_is_noted_of_others():
    unread = Finding(
        "Läufe", None, None, "a.xlsx, sheet Läufe", "a.xlsx, sheet Läufe is not named as a table and was not read.", "", "note"
    )
    groups = grouped([late(2, "note", "tools"), unread, late(3, "repaired", "runs"), late(4, "note", "somewhere else")])
    assert [g.first.table for g in groups] == ["runs", "Läufe", "tools", "somewhere else"]
    assert [is_unread(g.first) for g in groups] == [False, True, False, False]


findings = st.lists(
    st.builds(
        Finding, st.sampled_from(["runs", "tools", "page 3"]), st.one_of(st.none(), st.integers(1, 99)), st.sampled_from([None, "shots"]),
        st.none(), st.sampled_from(["'a' is 3.", "'b' is 4.", "It is odd."]), st.just("Correct it."),
        st.sampled_from(["note", "repaired", "set_aside"]), st.sampled_from(["", "a.csv"]),
    )
)  # fmt: skip


@given(findings)
def test_no_finding_is_lost_or_told_twice(given: list[Finding]):
    assert Counter(f for group in grouped(given) for f in group.findings) == Counter(given)
    assert all(len(row) == len(COLUMNS) for row in finding_table(given))


@given(st.sets(st.integers(1, 60), min_size=1))
def test_rows_are_said_as_spans_that_hold_them_all(rows: set[int]):
    said = rows_said(sorted(rows), most=60)
    told: set[int] = set()
    for span in said.removeprefix("rows ").removeprefix("row ").replace(" and ", ", ").split(", "):
        first, _, last = span.partition(" to ")
        told |= set(range(int(first), int(last or first) + 1))
    assert told == rows
    assert said.startswith("row " if len(rows) == 1 else "rows ")


def test_more_spans_than_are_told_are_counted():
    assert rows_said([1, 3, 5, 7, 8], most=2) == "rows 1, 3 and 3 more"
