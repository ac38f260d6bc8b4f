"""Cells: what can be read, as which text, and what is refused with a sentence that says how to write it."""

import datetime as dt
import math

import pytest
from fleets import checked
from hypothesis import given
from hypothesis import strategies as st

from wearfit.records.cells import LONGEST_CELL, Unreadable, canonical, clean, number_text
from wearfit.records.columns import Column
from wearfit.records.tables import TABLES

DATE = Column("date", "date")
MONTH = Column("month", "month")
TIMESTAMP = Column("timestamp", "timestamp")
NUMBER = Column("number", "number")
SHARE = Column("share", "number", low=0, high=1)
COUNT = Column("count", "count", low=1)
FLAG = Column("flag", "flag")
VALUE = Column("value", "value")
TEXT = Column("text", "text")
EVENT = TABLES["events"].column("event")
CLASS = TABLES["tools"].column("service_class")


@pytest.mark.parametrize(
    ("column", "typed", "text"),
    [
        (DATE, " 2024-02-29 ", "2024-02-29"),
        (MONTH, "2024-02", "2024-02"),
        (TIMESTAMP, "2024-07-01 14:00", "2024-07-01T14:00:00"),
        (TIMESTAMP, "2024-07-01T14:00:30", "2024-07-01T14:00:30"),
        (NUMBER, "12500.0", "12500"),
        (NUMBER, "+0012500", "12500"),
        (NUMBER, "1.25e4", "12500"),
        (NUMBER, ".50", "0.5"),
        (NUMBER, "-0.0", "0"),
        (COUNT, "8.0", "8"),
        (FLAG, "1", "1"),
        (FLAG, "0.0", "0"),
        (VALUE, "< 0.020", "<0.02"),
        (VALUE, "-0.4", "-0.4"),
        (EVENT, "Take-out", "take_out"),
        (EVENT, "RETOOL", "retool"),
        (CLASS, "103.0", "103"),
        (CLASS, "106", "106"),
        (TEXT, "\u00a0Cafe\u0301 7 ", "Café 7"),
        (TEXT, "NA", "NA"),
        (NUMBER, "  ", ""),
    ],
)
def test_cells_that_say_the_same_have_the_same_text(column: Column, typed: str, text: str):
    assert canonical(column, typed) == text


@pytest.mark.parametrize(
    ("column", "typed"),
    [
        (DATE, "2023-02-29"),
        (DATE, "29.02.2024"),
        (DATE, "02/29/2024"),
        (DATE, "20240229"),
        (DATE, "2024-2-29"),
        (DATE, "2024-02-29T00:00"),
        (DATE, "45351"),
        (DATE, "\uff12\uff10\uff12\uff14-02-29"),
        (DATE, "0204-02-29"),
        (DATE, "2204-02-29"),
        (DATE, "unknown"),
        (MONTH, "2024-13"),
        (MONTH, "2024-02-01"),
        (TIMESTAMP, "2024-07-01"),
        (TIMESTAMP, "2024-07-01T25:00"),
        (TIMESTAMP, "2024-07-01T14:00Z"),
        (NUMBER, "12,500"),
        (NUMBER, "12 500"),
        (NUMBER, "12k"),
        (NUMBER, "nan"),
        (NUMBER, "inf"),
        (NUMBER, "1e999"),
        (NUMBER, "1_000"),
        (NUMBER, "0x10"),
        (NUMBER, "n/a"),
        (NUMBER, "-"),
        (SHARE, "1.01"),
        (SHARE, "-0.01"),
        (COUNT, "0"),
        (COUNT, "1.5"),
        (FLAG, "2"),
        (FLAG, "yes"),
        (VALUE, "<"),
        (VALUE, ">0.02"),
    ],
)
def test_cells_that_cannot_be_read_say_what_to_write(column: Column, typed: str):
    with pytest.raises(Unreadable) as refused:
        canonical(column, typed)
    assert refused.value.problem.startswith(column.name)
    assert refused.value.problem.endswith(".")
    assert refused.value.repair.endswith(".")


@pytest.mark.parametrize(
    ("typed", "text"),
    [
        ("T\u200b1", "T1"), ("\ufeffT1", "T1"), ("T\u00a01", "T 1"), ("T\u202f1", "T 1"), ("T\u00ad1", "T1"), ("\u202aT1\u202c", "T1"),
        ("one\r\ntwo\rthree", "one\ntwo\nthree"), ("e\u200b\u0301", "é"), ("\u3000T1\u2003", "T1"),
    ],
)  # fmt: skip
def test_what_no_one_sees_is_not_kept(typed: str, text: str):
    assert clean(typed) == text


@checked
@given(st.text(max_size=12))
def test_a_clean_text_is_clean(typed: str):
    assert clean(clean(typed)) == clean(typed)


@pytest.mark.parametrize("typed", ["bell \x07", "esc\x1b[0m", "c1 \x9b", "half \ud800", "x" * (LONGEST_CELL + 1)])
@pytest.mark.parametrize("column", [TEXT, NUMBER, DATE, EVENT, FLAG])
def test_control_characters_and_pages_of_text_are_refused_in_a_sentence_that_can_be_printed(column: Column, typed: str):
    with pytest.raises(Unreadable) as refused:
        canonical(column, typed)
    assert refused.value.problem.isprintable() and len(refused.value.problem) < 200


def test_tabs_and_new_lines_are_no_control_characters():
    assert canonical(TEXT, "one\ttwo\nthree") == "one\ttwo\nthree"


def test_dates_are_the_calendar_dates_of_iso_8601():
    # Source: GNU Emacs Calc manual, 6.7.7.1 "ISO 8601": its examples of calendar dates, and of ordinal ones, which are refused.
    assert canonical(DATE, "2012-10-11") == dt.date(2012, 10, 11).isoformat()
    assert canonical(DATE, "2012-11-10") == dt.date(2012, 11, 10).isoformat()
    for ordinal in ("2011-365", "2012-001"):
        with pytest.raises(Unreadable):
            canonical(DATE, ordinal)


@checked
@given(st.dates(dt.date(1900, 1, 1), dt.date(2100, 12, 31)))
def test_every_day_of_two_centuries_reads_as_itself(day: dt.date):
    assert canonical(DATE, day.isoformat()) == day.isoformat()


@checked
@given(st.floats(allow_nan=False, allow_infinity=False))
def test_number_text_loses_nothing(value: float):
    text = number_text(value)
    assert float(text) == value
    assert canonical(NUMBER, text) == number_text(value + 0.0)


@checked
@given(st.sampled_from([DATE, MONTH, TIMESTAMP, NUMBER, COUNT, FLAG, VALUE, TEXT, EVENT]), st.text(max_size=12))
def test_canonical_text_reads_as_itself(column: Column, typed: str):
    try:
        text = canonical(column, typed)
    except Unreadable:
        return
    assert canonical(column, text) == text


@checked
@given(st.floats(0, 1e12), st.sampled_from(["{:.3f}", "{:e}", "{:g}", "{!r}", "+{!r}", "00{:.2f}"]))
def test_numbers_do_not_depend_on_how_they_are_written(value: float, form: str):
    typed = form.format(value)
    assert math.isclose(float(canonical(NUMBER, typed)), float(typed), rel_tol=0, abs_tol=0)
