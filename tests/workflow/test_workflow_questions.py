"""Questions about next runs, read from a file."""

from pathlib import Path

import pytest

from wearfit.errors import Refusal
from wearfit.forecasts.run_question import RunQuestion
from wearfit.workflow.questions import COLUMNS, Question, question_of_options, read_questions, unanswered

HEADER = "tool_id,plant_id,resin_id,month,shots\n"


@pytest.fixture
def runs(tmp_path: Path) -> Path:
    return tmp_path / "runs.csv"


def test_rows_become_questions_in_their_order(runs: Path):
    runs.write_text(HEADER + "T1,north,abs,2026-07,52000\n\nT2,south,pp,2026-08,100.0\n", encoding="utf-8")
    assert [question.run for question in read_questions(runs)] == [
        RunQuestion("T1", "north", "abs", "2026-07", 52000),
        RunQuestion("T2", "south", "pp", "2026-08", 100),
    ]


def test_columns_may_come_in_any_order_and_spelling_with_others_between(runs: Path):
    runs.write_text("\ufeffShots,Plant ID,note,TOOL-ID,resin_id,Month\n10,Łódź,x,T1,abs,2026-07\n", encoding="utf-8")
    assert [question.run for question in read_questions(runs)] == [RunQuestion("T1", "Łódź", "abs", "2026-07", 10)]


@pytest.mark.parametrize(
    ("row", "word"),
    [
        ("T1,north,abs,2026-07,many", "shots"),
        ("T1,north,abs,2026-07,0", "shots"),
        ("T1,north,abs,2026-07,1.5", "shots"),
        ("T1,north,abs,2026-13,10", "month"),
        ("T1,north,abs,July,10", "month"),
        (",north,abs,2026-07,10", "tool_id"),
        ("T1,north,abs", "month"),
    ],
)
def test_a_row_that_asks_nothing_keeps_its_place_and_says_why(runs: Path, row: str, word: str):
    runs.write_text(f"{HEADER}{row}\nT2,south,pp,2026-08,100\n", encoding="utf-8")
    bad, good = read_questions(runs)
    assert bad.run is None
    assert word in bad.problem
    assert good.run is not None
    assert unanswered(bad)["problem"] == bad.problem
    assert unanswered(bad)["p_wear_out"] is None


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("", "tool_id"),
        (HEADER, "no row"),
        ("tool_id,plant_id,month,shots\nT1,n,2026-07,1\n", "resin_id"),
        (HEADER + '"T1,n,a,2026-07,1\n', "quote"),
    ],
)
def test_a_file_that_asks_nothing_is_wrong_use(runs: Path, text: str, word: str):
    runs.write_text(text, encoding="utf-8")
    with pytest.raises(Refusal, match=word) as refused:
        read_questions(runs)
    assert refused.value.status == 2


def test_a_file_that_cannot_be_read_is_wrong_use(runs: Path, tmp_path: Path):
    for path in (runs, tmp_path):
        with pytest.raises(Refusal, match="cannot be opened") as refused:
            read_questions(path)
        assert refused.value.status == 2
    runs.write_bytes(HEADER.encode("utf-16"))
    with pytest.raises(Refusal, match="UTF-8"):
        read_questions(runs)


def test_options_that_make_no_sense_are_wrong_use():
    assert question_of_options("T1", "north", "abs", "2026-07", "10").run == RunQuestion("T1", "north", "abs", "2026-07", 10)
    with pytest.raises(Refusal) as refused:
        question_of_options("T1", "north", "abs", "2026-07", "-10")
    assert refused.value.status == 2


def test_an_answer_to_nothing_names_what_was_typed():
    cells = {column.name: " x " for column in COLUMNS}
    answer = unanswered(Question(cells, None, "why"))
    assert answer["tool_id"] == "x"
    assert answer["shots"] is None
    assert answer["p_wear_out_interval"] == [None, None]
