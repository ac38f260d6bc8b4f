"""Days of which a program exchanged day and month are exchanged back, told or left open, and honest mixtures are left alone."""

import datetime as dt
from collections.abc import Sequence

import pytest
from fleets import about, checked, event, read_of, region_of, run
from hypothesis import given
from hypothesis import strategies as st

from wearfit.records.choices import Choices, DateOrder
from wearfit.records.sheets.sheet import Sheet

# True days of five runs. With half of them exchanged some runs take months or end before they start.
TRUE = (
    ("2023-04-03", "2023-04-14"), ("2023-05-15", "2023-05-26"), ("2023-06-05", "2023-06-16"), ("2023-07-24", "2023-08-04"),
    ("2023-10-02", "2023-10-12"),
)  # fmt: skip
# Either way a month or so.
OPEN = (("2023-04-03", "2023-05-04"), ("2023-06-05", "2023-07-06"), ("15/05/2023", "26/05/2023"), ("2023-09-08", "2023-10-09"))


def _half(day: str, form: str = "%d/%m/%Y") -> str:
    """A day of a list as a program that expects the other order of day and month leaves it."""
    true = dt.date.fromisoformat(day)
    return true.strftime(form) if true.day > 12 else f"{true.year}-{true.day:02d}-{true.month:02d}"


def _runs(*days: tuple[str, str], choices: Choices | None = None) -> Sheet:
    return read_of(region_of("runs", [run(*pair) for pair in days]), choices=choices)


def _days(sheet: Sheet) -> list[tuple[str, str]]:
    return [(row.values["started_on"], row.values["ended_on"]) for row in sheet.rows]


def _chosen(order: DateOrder) -> Choices:
    return Choices(dates={"runs": {"started_on": order, "ended_on": order}})


@pytest.mark.parametrize("form", ["%d/%m/%Y", "%m/%d/%Y", "%d.%m.%y"])
def test_days_are_exchanged_back_where_the_rows_tell(form: str):
    sheet = _runs(*((_half(start, form), _half(end, form)) for start, end in TRUE))
    assert _days(sheet) == list(TRUE)
    for column in ("started_on", "ended_on"):
        (told,) = [f for f in about(sheet.findings, "runs", column) if f.severity == "repaired"]
        assert "exchanged back" in told.problem and '"year month day"' in told.repair and told.row is None


def test_rows_are_set_aside_where_nothing_tells():
    sheet = _runs(*OPEN)
    assert _days(sheet) == [("2023-05-15", "2023-05-26")]
    columns = [f for f in sheet.findings if f.row is None and f.severity == "set_aside"]
    assert [f.column for f in columns] == ["started_on", "ended_on"]
    assert "Row 2 is 2023-04-03 as it stands and 2023-03-04 if so" in columns[0].problem
    assert {f.row for f in sheet.findings if f.row is not None} == {2, 3, 5}
    assert all('"day month year"' in f.repair and '"year month day"' in f.repair for f in columns)


def test_the_users_choice_decides():
    assert _days(_runs(*OPEN, choices=_chosen("day month year")))[:2] == [("2023-03-04", "2023-04-05"), ("2023-05-06", "2023-06-07")]
    stands = _runs(*OPEN, choices=_chosen("year month day"))
    assert _days(stands) == [*OPEN[:2], ("2023-05-15", "2023-05-26"), OPEN[3]]
    assert {f.severity for f in stands.findings} == {"note"}


def test_a_day_that_is_the_same_both_ways_is_used():
    sheet = _runs(("2023-05-05", "2023-06-06"), *OPEN)
    assert ("2023-05-05", "2023-06-06") in _days(sheet)


@pytest.mark.parametrize(
    "days",
    [
        [*TRUE[:4], ("25/09/2023", "29/09/2023")],  # one day above 12 among those that the file holds
        [("2023-04-03", "2023-04-05"), ("2023-06-05", "2023-06-07"), ("2023-09-08", "2023-09-11"), ("25/09/2023", "29/09/2023")],
        [("2023-04-03", "2023-05-04"), ("2023-06-05", "2023-07-06"), ("04/09/2023", "15/09/2023")],  # a text that is no later day
        [("2023-02-01", "28/03/2023"), ("2023-03-01", "30/04/2023"), ("2023-04-01", "30/05/2023"), ("15/09/2023", "20/09/2023")],
        [("2023-04-03", "2023-05-04"), ("15/05/2023", "26/05/2023")],  # too few to tell
    ],
    ids=["a later day", "rows that tell", "an early text", "firsts of months", "few"],
)
def test_honest_mixtures_are_left_alone(days: Sequence[tuple[str, str]]):
    sheet = _runs(*days)
    assert len(sheet.rows) == len(days)
    assert {f.severity for f in sheet.findings} == {"note"}
    starts = [start for start, _ in days if "/" not in start]
    assert [start for start, _ in _days(sheet) if start in starts] == starts


def test_a_column_of_held_days_alone_goes_with_the_others_of_its_sheet():
    rows = [event(date, "service", back_on="2023-12-11") for date in ("2023-04-03", "2023-06-05", "2023-09-08", "25/09/2023")]
    other = region_of("tools", [{"tool_id": "T1", "commissioned_on": "2020-05-04"}])
    sheet = read_of(region_of("events", rows), other)
    assert {f.column for f in sheet.findings if f.severity == "set_aside" and f.row is None} == {"date", "back_on"}
    assert [row.values["commissioned_on"] for row in sheet.rows if row.table == "tools"] == ["2020-05-04"]


_STARTS = st.lists(st.dates(dt.date(2015, 1, 1), dt.date(2024, 12, 1)), min_size=12, max_size=30)


@checked
@given(_STARTS, st.integers(2, 12))
def test_a_half_converted_list_is_read_right_or_not_at_all(starts: list[dt.date], length: int):
    true = [(start.isoformat(), (start + dt.timedelta(length)).isoformat()) for start in starts]
    halves = [(_half(start), _half(end)) for start, end in true]
    sheet = _runs(*halves)
    told = [f for f in sheet.findings if "has most likely exchanged" in f.problem]
    mixed = [column for column in zip(*halves, strict=True) if any("/" in day for day in column)]
    held = {day for column in mixed for day in column if "/" not in day}
    if len(held) >= 3 and len({day[8:] for day in held}) >= 2:
        assert told
        assert set(_days(sheet)) <= set(true)


@checked
@given(_STARTS, st.integers(2, 12))
def test_an_honest_list_in_two_hands_is_never_exchanged(starts: list[dt.date], length: int):
    """The worst of them: whatever can be exchanged is written year first, and nothing else is."""
    pairs = [(start, start + dt.timedelta(length)) for start in starts]
    pairs = [(start, end) for start, end in pairs if (start.day > 12) == (end.day > 12)]
    days = [(f"{start:%d/%m/%Y}", f"{end:%d/%m/%Y}") if start.day > 12 else (str(start), str(end)) for start, end in pairs]
    sheet = _runs(*days)
    assert set(_days(sheet)) <= {(str(start), str(end)) for start, end in pairs}
    if len({start for start, _ in pairs if start.day <= 12}) >= 6:
        assert len(sheet.rows) == len(pairs)
