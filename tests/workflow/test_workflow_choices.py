"""The user's choices: a file goes before the store, the store keeps them, and what it holds is read again with them."""

import datetime as dt
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from ready_worker import Ready

from wearfit.errors import Refusal
from wearfit.records.choices import Choices, CountChoice, read_choices
from wearfit.store.store import Store
from wearfit.workflow.check import TableCount, check
from wearfit.workflow.choices import choices_in_force, choices_of_file
from wearfit.workflow.recalibrate import Order, recalibrate

Write = Callable[..., Path]
DAY_FIRST = '[dates.runs]\nstarted_on = "day month year"\nended_on = "day month year"\n'
MONTH_FIRST = DAY_FIRST.replace("day month", "month day")
# Every day of it can be read in two ways, and no other column decides.
AMBIGUOUS = (
    "tool_id,plant_id,resin_id,started_on,ended_on,shots\n"
    "T1,north,abs,01/02/2020,03/02/2020,90000\n"
    "T2,south,abs,04/05/2020,06/05/2020,50000\n"
)
README = Path(__file__).resolve().parents[2] / "README.md"


@pytest.fixture
def store_url(tmp_path: Path) -> str:
    return str(tmp_path / "wearfit.db")


@pytest.fixture
def write_choices(tmp_path: Path) -> Callable[[str], Path]:
    def write(text: str) -> Path:
        path = tmp_path / "choices.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def days_of_runs(store_url: str) -> list[tuple[str, str]]:
    with Store.open(store_url, must_exist=True) as store:
        return [(row.values["started_on"], row.values["ended_on"]) for row in store.rows() if row.table == "runs"]


def test_the_choices_that_the_readme_shows_can_be_read():
    text = README.read_text(encoding="utf-8")
    choices = read_choices(text.split("```toml\n")[1].split("```")[0])
    assert choices.table_of("Werkzeugliste") == "tools"
    assert choices.column_of("runs", "Maschine") == ""
    assert choices.date_order_of("runs", "started_on") == "day month year"
    assert choices.counts == (CountChoice("T-049", "parts"),)


def test_a_file_of_choices_that_is_wrong_is_wrong_use(tmp_path: Path):
    latin, broken, foreign = tmp_path / "latin.toml", tmp_path / "broken.toml", tmp_path / "foreign.toml"
    latin.write_bytes('[tables]\n"Größe" = "tools"\n'.encode("latin-1"))
    broken.write_text("[tables")
    foreign.write_text('[tables]\nlist = "toolz"\n')
    for path, said in (
        (tmp_path / "nowhere.toml", "nowhere"),
        (latin, "UTF-8"),
        (broken, "TOML"),
        (foreign, "toolz"),
        (tmp_path, "opened"),
    ):
        with pytest.raises(Refusal, match=said) as refused:
            choices_of_file(path)
        assert refused.value.status == 2


def test_a_file_goes_before_the_store_and_no_store_is_made(store_url: str):
    given = Choices(encodings={"runs.csv": "cp1250"})
    assert choices_in_force(store_url, given) == given
    assert not Path(store_url).exists()
    with Store.open(store_url) as store:
        store.keep_choices(Choices(encodings={"runs.csv": "cp1252", "tools.csv": "cp1252"}))
    assert choices_in_force(store_url, given).encodings == {"runs.csv": "cp1250", "tools.csv": "cp1252"}
    assert choices_in_force(store_url, Choices()).encodings["runs.csv"] == "cp1252"


def test_a_check_reads_with_the_choices_that_hold(write_history: Write):
    folder = write_history(runs=AMBIGUOUS)
    open_question = check(folder)
    assert open_question.tables["runs"].used == 0
    settled = check(folder, read_choices(DAY_FIRST))
    assert settled.tables["runs"].used == 2
    assert str(settled.history.day) == "2020-06-01"


def test_days_to_come_are_set_aside_where_today_is_given(write_history: Write):
    folder = write_history()
    assert check(folder, today=dt.date(2021, 12, 31)).tables["runs"].used == 3
    assert check(folder, today=dt.date(2020, 12, 31)).tables["runs"] == TableCount(rows=3, used=2, set_aside=1)


def test_the_store_keeps_the_choices_and_reads_with_them_from_then_on(write_history: Write, write_choices: Callable, store_url: str):
    folder = write_history(runs=AMBIGUOUS)
    recalibrate(store_url, Order((folder,), choices=write_choices(DAY_FIRST)), Ready())
    assert days_of_runs(store_url) == [("2020-02-01", "2020-02-03"), ("2020-05-04", "2020-05-06")]
    again = recalibrate(store_url, Order((folder,)), Ready())
    assert (again.stored[0][1].unchanged, again.stored[0][1].new) == (5, 0)


def test_other_choices_read_the_stored_files_again(write_history: Write, write_choices: Callable, store_url: str):
    folder = write_history(runs=AMBIGUOUS)
    recalibrate(store_url, Order((folder,), choices=write_choices(DAY_FIRST)), Ready())
    other = recalibrate(store_url, Order(choices=write_choices(MONTH_FIRST)), Ready())
    assert other.stored == ()
    (name, outcome) = other.again[0]
    assert (name, outcome.new, outcome.withdrawn) == ("history", 2, 2)
    assert days_of_runs(store_url) == [("2020-01-02", "2020-03-02"), ("2020-04-05", "2020-06-05")]
    assert other.as_json()["read_again"][0]["withdrawn"] == 2
    assert recalibrate(store_url, Order(choices=write_choices(MONTH_FIRST)), Ready()).again == ()


def test_rows_of_a_grown_file_are_read_again_with_those_before(write_history: Write, write_choices: Callable, store_url: str):
    folder = write_history(runs=AMBIGUOUS)
    recalibrate(store_url, Order((folder,), choices=write_choices(DAY_FIRST)), Ready())
    with (folder / "runs.csv").open("a") as runs:
        runs.write("T2,south,abs,07/08/2020,09/08/2020,1000\n")
    grown = recalibrate(store_url, Order((folder,), choices=write_choices(MONTH_FIRST)), Ready())
    assert grown.again[0][1].withdrawn == 2
    assert days_of_runs(store_url) == [("2020-01-02", "2020-03-02"), ("2020-04-05", "2020-06-05"), ("2020-07-08", "2020-09-08")]


def test_a_choice_of_what_is_counted_reads_nothing_again_but_changes_the_records(
    write_history: Write, write_choices: Callable, store_url: str
):
    tools = "tool_id,service_class,commissioned_on,cavities\nT1,103,2020-01-01,2\nT2,102,2020-01-01,2\n"
    first = recalibrate(store_url, Order((write_history(tools=tools),)), Ready())
    counted = recalibrate(store_url, Order(choices=write_choices('[[counts]]\ntool_id = "T1"\ncounted_in = "parts"\n')), Ready())
    assert counted.again == ()
    assert counted.identity.fingerprint != first.identity.fingerprint


def test_choices_with_which_stored_files_cannot_be_read_change_nothing(write_history: Write, write_choices: Callable, store_url: str):
    recalibrate(store_url, Order((write_history(),)), Ready())
    before = days_of_runs(store_url)
    with pytest.raises(Refusal, match="'history', stored on") as refused:
        recalibrate(store_url, Order(choices=write_choices('[columns.runs]\nstarted_on = ""\n')), Ready())
    assert "started_on" in str(refused.value)
    assert days_of_runs(store_url) == before
    with Store.open(store_url) as store:
        assert store.choices() == Choices()


def test_a_damaged_copy_keeps_its_rows_as_they_were_read(write_history: Write, write_choices: Callable, store_url: str):
    recalibrate(store_url, Order((write_history(runs=AMBIGUOUS),), choices=write_choices(DAY_FIRST)), Ready())
    with sqlite3.connect(store_url) as raw:
        raw.execute("UPDATE files SET content = x'00' WHERE filename = 'runs.csv'")
    raw.close()
    done = recalibrate(store_url, Order(choices=write_choices(MONTH_FIRST)), Ready())
    assert "runs.csv" in done.notes[0]
    assert days_of_runs(store_url) == [("2020-02-01", "2020-02-03"), ("2020-05-04", "2020-05-06")]


def test_the_same_files_handed_over_with_other_choices_are_read_once(write_history: Write, write_choices: Callable, store_url: str):
    folder = write_history(runs=AMBIGUOUS)
    recalibrate(store_url, Order((folder,), choices=write_choices(DAY_FIRST)), Ready())
    other = recalibrate(store_url, Order((folder,), choices=write_choices(MONTH_FIRST)), Ready())
    assert other.again == ()
    assert (other.stored[0][1].new, other.stored[0][1].withdrawn) == (2, 2)
    assert days_of_runs(store_url) == [("2020-01-02", "2020-03-02"), ("2020-04-05", "2020-06-05")]


def test_what_was_said_of_files_that_were_not_kept_outlives_a_reading_of_the_others(
    write_history: Write, write_choices: Callable, store_url: str
):
    folder = write_history(runs=AMBIGUOUS)
    (folder / "older").mkdir()
    recalibrate(store_url, Order((folder,), choices=write_choices(DAY_FIRST)), Ready())

    def of_folder() -> list[str]:
        with Store.open(store_url) as store:
            return [finding.problem for finding in store.findings(1) if "older" in finding.source]

    before = of_folder()
    assert len(before) == 1
    recalibrate(store_url, Order(choices=write_choices(MONTH_FIRST)), Ready())
    assert of_folder() == before
