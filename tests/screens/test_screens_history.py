"""The history on the page: who did what when, versions of a tool's rows, a past state shown, taken away and brought back."""

import csv
import io
import zipfile
from pathlib import Path

import pytest
from opened import Open, Page
from stores import make_store
from streamlit import config

from wearfit.demo.shipped import scenario_folder
from wearfit.records.readers.read import read
from wearfit.screens.person import NOBODY
from wearfit.store.actor import acting_as
from wearfit.store.store import Store
from wearfit.workflow.past_states import as_archive, look_back
from wearfit.workflow.team import OPEN, OPEN_WORDS

INES = "<b>Ines</b> *K*"
TOOLS = "tool_id,commissioned_on\nT1,2020-01-01\n<i>T2</i>,2020-01-01\n"
RUNS = "tool_id,plant_id,resin_id,started_on,ended_on,shots\nT1,north,abs,2020-02-01,2020-02-20,{}\n"
EVENTS = "tool_id,date,event\nT1,2020-06-01,retool\n"


@pytest.fixture
def corrected(url: str, tmp_path: Path) -> str:
    """A store whose one run was corrected by another user, and was then given a tool more."""
    make_store(url, calibrations=(True,))
    with Store.open(url) as store:
        for name, by, tools, shots in (
            ("first", "ada", TOOLS, 90_000),
            ("a <script> **b**", INES, TOOLS, 80_000),
            ("third", "ada", f"{TOOLS}T3,2021-01-01\n", 80_000),
        ):
            folder = tmp_path / name
            folder.mkdir()
            for table, text in (("tools", tools), ("runs", RUNS.format(shots)), ("events", EVENTS)):
                (folder / f"{table}.csv").write_text(text, encoding="utf-8")
            with acting_as(by):
                store.add_upload(read(folder))
    return url


def opened(open_app: Open, store: str) -> Page:
    page = open_app(store, "Records")
    assert not page.app.exception
    assert "fault of the program" not in page.words
    return page


def choose(page: Page, line: int) -> Page:
    (box,) = (box for box in page.app.selectbox if box.label == "Look at a past state")
    box.select_index(next(i for i, option in enumerate(box.options) if option.startswith(f"After line {line},")))
    return page.run()


def press(page: Page, key: str) -> Page:
    page.widget("button", key).click()
    return page.run()


def frame(page: Page, *columns: str) -> list[tuple[object, ...]]:
    (found,) = (each.value for each in page.app.dataframe if set(columns) <= set(each.value))
    return list(found[list(columns)].itertuples(index=False, name=None))


def test_it_says_who_did_what_and_names_come_out_as_text(open_app: Open, corrected: str) -> None:
    page = opened(open_app, corrected)
    assert "Stored records: a <script> **b**" in page.words
    assert INES in page.words
    for markup in ("<b>Ines", "<script>", "<i>T2"):
        assert markup not in page.html
    assert not [each for each in page.app.markdown if "Ines" in each.value or "script" in each.value]
    assert frame(page, "Line", "Who", "What")[:3] == [
        (4, "ada", "stored records: third"),
        (3, INES, "stored records: a <script> **b**"),
        (2, "ada", "stored records: first"),
    ]


def test_every_version_of_a_tools_rows_is_told(open_app: Open, corrected: str) -> None:
    page = opened(open_app, corrected)
    page.widget("text_input", "versions_of").set_value("T1")
    page.run()
    told = [row for row in frame(page, "Table", "Line", "Who", "What it says") if row[0] == "runs"]
    assert told[1] == ("runs", 3, INES, "shots 90000 → 80000")
    assert (told[0][1:3], "shots 90000" in str(told[0][3])) == ((2, "ada"), True)
    page.widget("text_input", "versions_of").set_value("<b>none</b>")
    assert "The store never held a row of tool '<b>none</b>'" in page.run().words
    assert "<b>none" not in page.html


def test_a_past_state_is_shown_and_taken_away_and_nothing_is_changed(open_app: Open, corrected: str) -> None:
    page = choose(opened(open_app, corrected), 2)
    assert "tools 2 3" in page.words
    with Store.open(corrected) as store:
        fingerprint = store.calibrations()[0].summary.fingerprint
    said = f"Calibration 1 answered then, of records {fingerprint}."
    assert said in page.words
    page.widget("selectbox", "past_table").set_value("runs")
    page.run()
    assert frame(page, "tool_id", "shots") == [("T1", "90000")]
    archive = zipfile.ZipFile(io.BytesIO(as_archive(look_back(corrected, 2, going_back=False))))
    assert [row["shots"] for row in csv.DictReader(io.StringIO(archive.read("runs.csv").decode()))] == ["90000"]
    assert archive.comment.decode() == f"Records of a wearfit store after line 2 of its history. {said}"
    with Store.open(corrected) as store:
        assert len(store.history()) == 4


def test_going_back_asks_first_says_what_it_does_and_what_is_shown_follows(open_app: Open, corrected: str) -> None:
    page = choose(opened(open_app, corrected), 2)
    press(page, "back_ask")
    assert "Go back to the state after line 2?" in page.words
    assert "1 row is again as then; 1 row that came later is taken out." in page.words
    press(page, "back_no")
    assert "Go back to the state after line 2?" not in page.words
    with Store.open(corrected) as store:
        assert len(store.history()) == 4
    press(page, "back_ask")
    press(page, "back_yes")
    assert "1 row is as after line 2 again, 1 row was taken out." in page.words
    assert "Brought back the state after line 2" in page.words
    with Store.open(corrected) as store:
        assert [row.values["shots"] for row in store.rows({"runs"})] == ["90000"]
        assert {row.values["tool_id"] for row in store.rows({"tools"})} == {"T1", "<i>T2</i>"}
        assert store.history()[-1].back_to == 2
    page = choose(page, 4)
    assert "tools 3 2" in page.words
    press(page, "back_ask")
    press(page, "back_yes")
    with Store.open(corrected) as store:
        assert {row.values["tool_id"] for row in store.rows({"tools"})} == {"T1", "<i>T2</i>", "T3"}
        assert [row.values["shots"] for row in store.rows({"runs"})] == ["80000"]
    assert "there is nothing to go back to" in choose(page, 4).words


def test_before_the_first_calibration_it_says_why_the_present_one_goes_on_answering(open_app: Open, tmp_path: Path) -> None:
    store = make_store(tmp_path / "demo.db", records=scenario_folder(), calibrations=(True,))
    later = tmp_path / "later"
    later.mkdir()
    (later / "tools.csv").write_text("tool_id,commissioned_on\nT-999,2026-01-05\n", encoding="utf-8")
    with Store.open(store) as held:
        held.add_upload(read(later))
    page = choose(opened(open_app, store), 1)
    assert "No calibration answered yet at that time." in page.words
    press(page, "back_ask")
    assert (
        "Calibration 1 goes on answering: none answered yet at that time, and going back takes no calibration away. "
        "It was made from later records: recalibrate afterwards."
    ) in page.words
    assert "will answer" not in page.words
    page = press(choose(page, 2), "back_ask")
    assert "Calibration 1 will answer, as it did then." in page.words


def test_what_was_asked_is_asked_again_where_somebody_changed_the_store_meanwhile(open_app: Open, corrected: str) -> None:
    page = press(choose(opened(open_app, corrected), 2), "back_ask")
    with Store.open(corrected) as store:
        store.set_setting("tolerance", "0.3")
    press(page, "back_yes")
    with Store.open(corrected) as store:
        assert [line.did for line in store.history()][-1] == "setting"
    assert "Go back to the state after line 2?" not in page.words


def test_it_is_done_in_the_name_of_who_did_it(open_app: Open, corrected: str, monkeypatch: pytest.MonkeyPatch) -> None:
    before = config.get_option("server.address")
    config.set_option("server.address", "0.0.0.0")
    monkeypatch.setenv(OPEN, OPEN_WORDS)
    try:
        page = choose(opened(open_app, corrected), 2)
        press(page, "back_ask")
        press(page, "back_yes")
    finally:
        config.set_option("server.address", before)
    with Store.open(corrected) as store:
        assert store.history()[-1].by == NOBODY


def test_a_tools_page_follows_a_state_that_was_brought_back(open_app: Open, tmp_path: Path) -> None:
    """The number of uploads stays, so that it does not tell."""
    store = make_store(tmp_path / "demo.db", records=scenario_folder(), calibrations=(True,))
    later = tmp_path / "later"
    later.mkdir()
    (later / "events.csv").write_text("tool_id,date,event,note\nT-049,2026-06-20,service,gates polished anew\n", encoding="utf-8")

    def noted() -> bool:
        page = open_app(store, "Tool", id="T-049")
        notes = next(each.value["Note"] for each in page.app.dataframe if "Note" in each.value)
        return "gates polished anew" in list(notes)

    assert not noted()
    with Store.open(store) as held:
        held.add_upload(read(later))
    assert noted()
    with Store.open(store) as held:
        held.restore(2)
    assert not noted()
