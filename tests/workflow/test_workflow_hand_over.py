"""Looking at records stores nothing; keeping them gives the store that was shown."""

from pathlib import Path

import pytest

from wearfit.errors import Refusal
from wearfit.records.choices import Choices, read_choices
from wearfit.store.store import Store
from wearfit.workflow.check import TableCount, check
from wearfit.workflow.hand_over import Files, keep, look

TOOLS = b"tool_id,service_class,commissioned_on\nT1,103,2020-01-01\nT2,102,2020-01-01\n"
RUNS = (
    b"tool_id,plant_id,resin_id,started_on,ended_on,shots\n"
    b"T1,north,abs,2020-02-01,2020-02-20,90000\nT1,north,abs,2021-02-01,2021-02-20,90000\nT2,south,abs,2020-03-01,2020-03-20,50000\n"
)
EVENTS = b"tool_id,date,event,cause\nT1,2020-06-01,retool,wear\n"
ALL: Files = (("events.csv", EVENTS), ("runs.csv", RUNS), ("tools.csv", TOOLS))
# Two bad rows: a day that is none, and a count that is none.
MORE: Files = (
    (
        "july.csv",
        b"tool_id,plant_id,resin_id,started_on,ended_on,shots\n"
        b"T1,north,abs,soon,2021-03-20,90000\nT2,south,abs,2021-03-01,2021-03-20,many\nT2,south,abs,2021-04-01,2021-04-20,7000\n",
    ),
)
AMBIGUOUS: Files = (("runs.csv", b"tool_id,plant_id,resin_id,started_on,ended_on,shots\nT1,north,abs,05/04/2021,07/04/2021,7000\n"),)
DAY_FIRST = read_choices('[dates.runs]\nstarted_on = "day month year"\nended_on = "day month year"\n')


@pytest.fixture
def store_url(tmp_path: Path) -> str:
    return str(tmp_path / "wearfit.db")


def test_a_look_makes_no_store_and_says_what_a_check_says(store_url: str, tmp_path: Path):
    for name, content in ALL:
        (tmp_path / name).write_bytes(content)
    seen, checked = look(store_url, ALL), check(tmp_path)
    assert not Path(store_url).exists()
    assert (seen.tables, seen.findings, seen.day) == (checked.tables, checked.findings, checked.history.day)
    assert seen.outcome.new == 6


def test_a_look_leaves_a_store_as_it_was(store_url: str):
    keep(store_url, look(store_url, ALL))
    with Store.open(store_url) as store:
        before = (store.rows(), store.uploads(), store.choices())
        seen = look(store_url, MORE, DAY_FIRST)
        assert (store.rows(), store.uploads(), store.choices()) == before
    assert seen.tables["runs"] == TableCount(rows=3, used=4, set_aside=2)


def test_keeping_gives_what_was_shown(store_url: str):
    keep(store_url, look(store_url, ALL))
    seen = look(store_url, MORE)
    assert [(f.row, f.column) for f in seen.findings if f.severity == "set_aside"] == [(2, "started_on"), (3, "shots")]
    ((name, outcome),) = keep(store_url, seen)
    assert (name, outcome.new) == ("july.csv", seen.outcome.new)
    with Store.open(store_url) as store:
        assert sum(row.table == "runs" for row in store.rows()) == seen.tables["runs"].used
    again = look(store_url, MORE)
    assert not again.changes
    assert again.outcome.unchanged == 1


def test_files_that_lack_a_table_are_an_answer_and_can_be_kept(store_url: str):
    seen = look(store_url, MORE)
    assert seen.refusal is not None
    assert seen.day is None
    keep(store_url, seen)
    assert look(store_url, ALL).refusal is None


def test_a_choice_shows_its_effect_is_kept_and_can_be_taken_back(store_url: str):
    keep(store_url, look(store_url, ALL))
    assert look(store_url, AMBIGUOUS).tables["runs"].set_aside == 1
    settled = look(store_url, AMBIGUOUS, DAY_FIRST)
    assert settled.tables["runs"].set_aside == 0
    keep(store_url, settled)
    with Store.open(store_url) as store:
        assert store.choices() == DAY_FIRST
        assert "2021-04-05" in {row.values.get("started_on") for row in store.rows()}
    # The stored files are read again without it: the row of one file is set aside, those of the other stand.
    back = look(store_url, (), Choices())
    assert back.changes
    keep(store_url, back)
    with Store.open(store_url) as store:
        assert store.choices() == Choices()
        assert len([row for row in store.rows() if row.table == "runs"]) == 3


def test_a_question_of_stored_records_is_settled_without_handing_them_over_again(store_url: str):
    keep(store_url, look(store_url, ALL))
    keep(store_url, look(store_url, AMBIGUOUS))
    unsettled, settled = look(store_url, ()), look(store_url, (), DAY_FIRST)
    assert [f.severity for f in unsettled.findings].count("set_aside") > 0
    assert [f.severity for f in settled.findings].count("set_aside") == 0
    assert settled.tables["runs"].used == unsettled.tables["runs"].used + 1


def test_choices_that_another_changed_meanwhile_are_not_overwritten(store_url: str):
    keep(store_url, look(store_url, ALL))
    seen = look(store_url, AMBIGUOUS, DAY_FIRST)
    with Store.open(store_url) as store:
        store.keep_choices(Choices(encodings={"runs.csv": "cp1250"}))
        before = (store.rows(), store.choices())
        with pytest.raises(Refusal, match="Somebody else changed the choices"):
            keep(store_url, seen)
        assert (store.rows(), store.choices()) == before


def test_what_cannot_be_read_leaves_everything_as_it_was(store_url: str):
    keep(store_url, look(store_url, ALL))
    with Store.open(store_url) as store:
        before = (store.rows(), store.uploads())
        for files in ((("book.xlsx", b"PK\x03\x04 no workbook"),), (("runs.csv", b"\x00\x01\x02\xff"),), (("a.zip", b"no archive"),)):
            with pytest.raises(Refusal):
                look(store_url, files)
        assert (store.rows(), store.uploads()) == before
