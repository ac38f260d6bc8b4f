"""Records: hand over, findings, choices, recalibration, what changed, and going back."""

import io
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import xlsxwriter
from opened import Open, Page
from small_work import Shipped
from stores import make_store
from surprising import store_surprise

from wearfit.demo.shipped import scenario_folder
from wearfit.records.choices import Choices
from wearfit.records.readers.read import read
from wearfit.screens import cached
from wearfit.screens.cached import loaded
from wearfit.store.store import Store
from wearfit.workflow.progress import Progress, Report, silent
from wearfit.workflow.recalibrations import Recalibrations
from wearfit.workflow.worker import Worker
from wearfit.workflow.worker_process import Fitted, Request

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
HEAD = ("tool_id", "plant_id", "resin_id", "started_on", "ended_on", "shots")
GOOD = ("T-001", "valley", "pp-natural", "2026-07-02", "2026-07-09", 21000)
BAD = (
    ("T-001", "valley", "pp-natural", "soon", "2026-07-20", 18000),
    ("T-002", "valley", "pp-natural", "2026-07-05", "2026-07-12", "many"),
)
TWO_BAD = (HEAD, GOOD, *BAD)
# Every day of it can be read in two ways, and no other cell decides.
AMBIGUOUS = ",".join(HEAD) + "\nT-001,valley,pp-natural,01/02/2026,03/02/2026,21000\n"


def book(*rows: tuple[object, ...]) -> bytes:
    content = io.BytesIO()
    with xlsxwriter.Workbook(content, {"in_memory": True}) as made:
        sheet = made.add_worksheet("runs")
        for at, row in enumerate(rows):
            sheet.write_row(at, 0, row)
    return content.getvalue()


@pytest.fixture
def store(tmp_path: Path) -> str:
    """The demo's records and calibration, to be written to."""
    return make_store(tmp_path / "records.db", records=scenario_folder(), calibrations=(True,))


@pytest.fixture
def work(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[Worker], None]]:
    """Lets recalibrations go to a worker."""

    def to(worker: Worker) -> None:
        monkeypatch.setattr(loaded, "Recalibrations", lambda: Recalibrations(lambda: worker))
        cached.recalibrations.clear()

    yield to
    cached.recalibrations.clear()


def press(page: Page, key: str) -> Page:
    page.widget("button", key).click()
    return page.run()


def hand_over(page: Page, name: str, content: bytes, kind: str = XLSX) -> Page:
    page.app.file_uploader[0].upload(name, content, kind)
    return page.run()


def contents(store: str) -> tuple[object, ...]:
    with Store.open(store) as opened:
        return opened.rows(), opened.uploads(), opened.choices(), opened.calibrations()


def test_two_bad_rows_are_told_with_their_repair_and_nothing_is_stored(open_app: Open, store: str):
    before = contents(store)
    page = hand_over(open_app(store, "Records"), "july.xlsx", book(*TWO_BAD))
    assert not page.app.exception
    assert "2 rows were set aside" in page.words
    assert "started_on 'soon' is not a date" in page.words
    assert "row 3 of july.xlsx" in page.words
    assert "shots 'many' is not a plain number" in page.words
    assert "1 row is new" in page.words
    assert "R-hat" not in page.words
    assert contents(store) == before


def test_findings_are_filtered_and_taken_away_as_a_table(open_app: Open, store: str):
    page = hand_over(open_app(store, "Records"), "july.xlsx", book(*TWO_BAD, ("T-0O1", *GOOD[1:])))
    frame = page.app.dataframe[0].value
    assert set(frame["What became of it"]) > {"Set aside"}
    page.widget("multiselect", "finding_kinds").select("set_aside")
    page.run()
    assert set(page.app.dataframe[0].value["What became of it"]) == {"Set aside"}
    assert sorted(page.app.dataframe[0].value["Row"]) == [3, 4]


def test_names_that_look_like_marks_are_shown_as_text(open_app: Open, store: str):
    page = hand_over(open_app(store, "Records"), "a *b* <i>.xlsx", book(HEAD, ("<b>T</b>", *GOOD[1:]), ("**T**", *GOOD[1:5], "<script>")))
    assert "<b>T" not in page.html
    assert "&lt;b&gt;T&lt;/b&gt;" in page.html
    assert "<script>" not in page.html
    assert "a *b* &lt;i&gt;.xlsx" in page.html


def test_a_book_that_cannot_be_read_is_refused_and_all_is_as_it_was(open_app: Open, store: str):
    before = contents(store)
    page = hand_over(open_app(store, "Records"), "broken.xlsx", b"PK\x03\x04 this is no workbook")
    assert "cannot be read" in page.words
    assert "Nothing was stored" in page.words
    assert not page.app.exception
    assert contents(store) == before


def test_a_question_is_settled_on_the_page_and_its_effect_is_seen(open_app: Open, store: str):
    page = hand_over(open_app(store, "Records"), "new.csv", AMBIGUOUS.encode(), "text/csv")
    assert "What only you can settle" in page.words
    asked = [box for box in page.app.selectbox if "In which order are the days" in box.label]
    assert asked
    for box in asked:
        box.select("day month year")
    next(button for button in page.app.button if button.label == "Read again with these answers").click()
    page.run()
    assert "set aside;" not in page.words
    assert "What only you can settle" not in page.words
    assert 'started_on" = "day month year' in page.app.text_area[0].value
    press(page, "keep")
    assert "1 row is new" in page.words
    with Store.open(store) as opened:
        assert opened.choices().date_order_of("runs", "started_on") == "day month year"
        assert any(row.values.get("started_on") == "2026-02-01" and row.source == "new.csv" for row in opened.rows())


def test_a_choice_that_is_kept_can_be_taken_back(open_app: Open, store: str):
    with Store.open(store) as opened:
        opened.keep_choices(Choices(decimals={"runs": {"shots": "point"}}))
    page = press(open_app(store, "Records"), "look_stored")
    gone = page.widget("multiselect", "choices_gone")
    gone.select(gone.options[0])
    page.run()
    press(page, "choices_back")
    press(page, "keep")
    with Store.open(store) as opened:
        assert opened.choices() == Choices()


def test_a_text_that_is_no_file_of_choices_is_refused_in_a_sentence(open_app: Open, store: str):
    page = press(open_app(store, "Records"), "look_stored")
    page.app.text_area[0].set_value('[tables]\n"list" = "toolz"\n')
    next(button for button in page.app.button if button.label == "Read again with this text").click()
    page.run()
    assert "This is no file of choices" in page.words
    assert "toolz" in page.words


def test_keeping_and_recalibrating_makes_a_calibration_that_answers(open_app: Open, store: str, work: Callable[[Worker], None]):
    work(Shipped())
    page = hand_over(open_app(store, "Records"), "july.xlsx", book(*TWO_BAD))
    press(page, "keep_recalibrate")
    assert cached.recalibrations().wait(store).state == "done"
    page.run()
    assert "Calibration 2 is made and answers now" in page.words
    assert "What changed" in page.words
    changed = next(frame.value for frame in page.app.dataframe if "Why" in frame.value)
    mine = changed[changed["Tool"] == "T-001"].iloc[0]
    assert mine["New records of this tool"] == "1 run (21,000 shots)"
    assert "calibration 2" in open_app(store, "Fleet").words


def test_one_that_did_not_settle_is_kept_and_said_in_plain_words(open_app: Open, store: str, work: Callable[[Worker], None]):
    work(Shipped(passed=False))
    page = press(open_app(store, "Records"), "recalibrate_stored")
    cached.recalibrations().wait(store)
    page.run()
    assert "Calibration 2 is kept but not used" in page.words
    assert "its separate chains did not agree" in page.words
    assert "Calibration 1 still answers" in page.words
    assert "R-hat" not in page.words
    work(Shipped())
    with Store.open(store) as opened:
        assert opened.current_id() == 1


class Slow(Shipped):
    """Samples until it is stopped."""

    def __init__(self) -> None:
        super().__init__()
        self.began, self.ended = threading.Event(), threading.Event()

    def calibrate(self, request: Request, report: Report = silent) -> Fitted:
        report(Progress("sample", 0.4, 20.0))
        self.began.set()
        self.ended.wait()
        report(Progress("sample", 0.5, 20.0))
        return super().calibrate(request, report)

    def stop(self) -> None:
        self.ended.set()


def test_it_is_seen_from_every_tab_and_cancelled_with_all_as_it_was(open_app: Open, store: str, work: Callable[[Worker], None]):
    before = contents(store)
    slow = Slow()
    work(slow)
    page = press(open_app(store, "Records"), "recalibrate_stored")
    assert slow.began.wait(60.0)
    other = open_app(store, "Records")
    for each in (page.run(), other):
        assert "Recalibrating" in each.words
        assert each.widget("button", "recalibrate_stored").disabled
    assert "about 20 s left" in other.words
    press(other, "cancel")
    assert cached.recalibrations().wait(store).state == "cancelled"
    assert "Records and calibrations are as they were" in page.run().words
    assert contents(store) == before


def test_going_back_asks_first(open_app: Open, tmp_path: Path):
    store = make_store(tmp_path / "two.db", calibrations=(True, True, False))
    page = open_app(store, "Records")
    assert "its separate chains did not agree" in page.words or "did not settle" in page.words
    assert page.words.count("86 wear-outs, Weibull law, records") == 3
    (listed,) = (each.value for each in page.app.dataframe if "Wear-outs" in each.value)
    assert list(listed["Law"]) == ["Weibull"] * 3
    assert all(option.endswith(", Weibull") for option in page.widget("selectbox", "use").options)
    page.widget("selectbox", "use").select_index(0)
    page.run()
    press(page, "use_ask")
    assert "Let calibration 1 answer?" in page.words
    with Store.open(store) as opened:
        assert opened.current_id() == 2
    press(page, "use_yes")
    with Store.open(store) as opened:
        assert opened.current_id() == 1
    assert "calibration 1" in open_app(store, "Fleet").words


def test_the_first_records_make_the_store(open_app: Open, tmp_path: Path):
    store = str(tmp_path / "new.db")
    page = open_app(store, "Records")
    for name in ("tools.csv", "runs.csv", "events.csv"):
        page.app.file_uploader[0].upload(name, (scenario_folder() / name).read_bytes(), "text/csv")
    page.run()
    assert not Path(store).exists()
    press(page, "keep")
    with Store.open(store, must_exist=True) as opened:
        assert len(opened.uploads()) == 1


def test_a_store_that_cannot_be_written_is_said(open_app: Open, store: str, monkeypatch: pytest.MonkeyPatch):
    page = hand_over(open_app(store, "Records"), "july.xlsx", book(*TWO_BAD))
    monkeypatch.setattr("wearfit.store.opening.os.access", lambda *_, **__: False)
    press(page, "keep")
    assert "cannot be written" in page.words
    assert not page.app.exception


def test_new_records_are_weighed_in_and_told_as_a_preview(open_app: Open, store: str, tmp_path: Path):
    later = tmp_path / "later.xlsx"
    later.write_bytes(book(HEAD, GOOD))
    with Store.open(store) as opened:
        opened.add_upload(read(later))
    page = open_app(store, "Records")
    assert "Preview of the new records" in page.words
    assert "PREVIEW: calibration 1 with the new records weighed in" in page.words
    assert "T-001" in page.words
    assert "1 run (21,000 shots)" in page.words


def test_records_that_say_too_much_begin_a_recalibration_and_say_so(
    open_app: Open, store: str, work: Callable[[Worker], None], tmp_path: Path
):
    slow = Slow()
    work(slow)
    store_surprise(store, tmp_path / "july")
    page = open_app(store, "Records")
    assert slow.began.wait(60.0)
    page.run()
    for said in (
        "Recalibrating",
        "The new records say too much for a preview",
        "A full recalibration is needed.",
        "It was begun by itself.",
    ):
        assert said in page.words
    press(page, "cancel")
    assert cached.recalibrations().wait(store).state == "cancelled"
    page.run()
    assert "The new records say too much for a preview" in page.words
    assert "It was begun by itself." not in page.words
    assert not page.widget("button", "recalibrate_stored").disabled
    work(Shipped())
    press(page, "recalibrate_stored")
    assert cached.recalibrations().wait(store).state == "done"
    page.run()
    assert "Calibration 2 is made and answers now" in page.words
    assert "say too much" not in page.words
