"""What findings ask: each question's answer, put among the choices, is understood by the reader that asked."""

import pytest

from wearfit.errors import Refusal
from wearfit.records.choices import Choices, read_choices
from wearfit.records.decisions import Place, decide, decisions, toml_of
from wearfit.workflow.hand_over import Files, look
from wearfit.workflow.open_questions import OpenQuestion, named_choices, open_questions

TOOLS = ("tools.csv", b"tool_id,service_class,cavities,cycle_time_s,commissioned_on\nT1,103,8,60,2018-01-01\nT2,102,4,60,2018-01-01\n")
EVENTS = ("events.csv", b"tool_id,date,event,cause\nT1,2020-06-01,retool,wear\n")
HEAD = "tool_id,plant_id,resin_id,started_on,ended_on,shots\n"
MONTHS = [f"20{year}-{month:02d}" for year in (18, 19) for month in range(1, 13)]
HONEST = "".join(f"T1,north,abs,{month}-01,{month}-20,20000\n" for month in MONTHS)


def runs(text: str, name: str = "runs.csv", encoding: str = "utf-8") -> Files:
    return (EVENTS, (name, text.encode(encoding)), TOOLS)


def asked(files: Files, choices: Choices = Choices()) -> tuple[OpenQuestion, ...]:  # noqa: B008
    try:
        seen = look("nowhere.db", files, choices)
    except Refusal as refusal:
        return open_questions((), refusal)
    return open_questions(seen.findings, seen.refusal)


CASES = {
    "the order of days": (runs(HEAD + "T1,north,abs,01/02/2020,03/02/2020,90000\n"), Place("dates", "runs", "started_on")),
    "the mark of decimals": (runs(HEAD + 'T1,north,abs,2020-02-01,2020-02-03,"90,000"\n'), Place("decimals", "runs", "shots")),
    "two headers for a column": (
        runs("tool_id,plant_id,resin_id,started_on,ended_on,Strokes,Cycles\nT1,north,abs,2020-02-01,2020-02-03,90,80\n"),
        Place("columns", "runs", "Strokes"),
    ),
    "a header read by its meaning": (
        runs("Mould,plant_id,resin_id,started_on,ended_on,shots\nT1,north,abs,2020-02-01,2020-02-03,90\n"),
        Place("columns", "runs", "Mould"),
    ),
    "an encoding": (runs(HEAD + "T1,Łódź,abs,2020-02-01,2020-02-03,90000\n", encoding="cp1250"), Place("encodings", "", "runs.csv")),
    "a near name": (
        runs(HEAD + HONEST.replace("north", "North Works") + "T1,North Work,abs,2020-02-01,2020-02-20,20000\n"),
        Place("names", "plant_id", "North Work"),
    ),
    "parts or shots": (runs(HEAD + HONEST + "T1,north,abs,2020-02-01,2020-02-20,160000\n"), Place("counts", "", "T1", "north")),
}


@pytest.mark.parametrize("case", CASES)
def test_a_finding_that_names_a_choice_is_a_question_with_answers(case: str):
    files, place = CASES[case]
    question = next((q for q in asked(files) if q.place == place), None)
    assert question is not None, [q.place for q in asked(files)]
    assert question.offered in question.answers or question.place.section == "columns"
    assert question.asks.endswith("?")
    for word in question.answers:
        decided = decide(Choices(), place, word)
        assert read_choices(toml_of(decided)) == decided  # each is a word that the file of choices takes
        asked(files, decided)  # and that the reader takes, if only to refuse the records


@pytest.mark.parametrize("case", ["the order of days", "two headers for a column"])
def test_an_answer_settles_it(case: str):
    files, place = CASES[case]
    (question,) = [q for q in asked(files) if q.place == place]
    assert question.open
    word = question.offered if question.offered in question.answers else "shots"
    assert place not in {q.place for q in asked(files, decide(Choices(), place, word)) if q.open}


def test_every_header_that_was_read_by_its_meaning_is_asked_after():
    files = runs("Mould,Plant,resin_id,started_on,ended_on,shots\nT1,north,abs,2020-02-01,2020-02-03,90\n")
    assert {("Mould", False), ("Plant", False)} <= {(q.place.name, q.open) for q in asked(files)}


def test_names_with_quotes_are_read_as_they_stand():
    assert named_choices('say so under [tables] in the choices: "it\'s" = "runs".') == [(Place("tables", "", "it's"), "runs")]
    assert named_choices("""write 'a "b"' = "runs" under [tables] in the choices""") == [(Place("tables", "", 'a "b"'), "runs")]
    assert named_choices("Nothing needs doing.") == []


GERMAN = (
    ("Werkzeugliste.csv", b"Werkzeug-Nr.,Klasse,Inbetriebnahme\nT1,103,2018-01-01\nT2,102,2018-01-01\n"),
    EVENTS,
    ("runs.csv", (HEAD + HONEST).encode()),
)


def test_a_workbook_in_another_language_is_settled_by_answers_alone():
    files = GERMAN
    (sheet,) = [q for q in asked(files) if q.open]
    assert sheet.place == Place("tables", "", "Werkzeugliste")
    choices = decide(Choices(), sheet.place, "tools")
    headers = asked(files, choices)
    assert [q.place for q in headers if q.place.section == "columns"] == [
        Place("columns", "tools", header) for header in ("Werkzeug-Nr.", "Klasse", "Inbetriebnahme")
    ]
    assert Place("tables", "", "Werkzeugliste") in {q.place for q in headers}  # it may yet be left out
    for header, column in (("Werkzeug-Nr.", "tool_id"), ("Klasse", "service_class"), ("Inbetriebnahme", "commissioned_on")):
        choices = decide(choices, Place("columns", "tools", header), column)
    seen = look("nowhere.db", files, choices)
    assert seen.refusal is None
    assert seen.tables["tools"].used == 2
    assert not [q for q in open_questions(seen.findings) if q.open]


def test_where_one_header_is_near_the_others_are_asked_about_too():
    sheet = ("runs.csv", b"Werkzeug,Werk,resin_id,Beginn,Endet,shots\nT1,north,abs,2020-02-01,2020-02-03,90\n")
    assert [q.place.name for q in asked((EVENTS, sheet, TOOLS))] == ["Beginn", "Werkzeug", "Werk", "Endet"]


def test_a_sheet_that_was_not_read_is_asked_about_until_it_is_left_out():
    files = (*runs(HEAD + HONEST), ("Notizen.csv", b"Bitte nicht,ver\xc3\xa4ndern\nx,y\n"))
    (question,) = [q for q in asked(files) if q.open]
    assert question.asks == "What does 'Notizen' hold?"
    assert not [q for q in asked(files, decide(Choices(), question.place, "")) if q.open]


def test_headers_in_any_quotes_are_read_as_they_stand():
    text = """Say so under [columns.runs] in the choices, such as "it's" = "shots"; "it's", 'a; "b"' and 'c, d' mean nothing yet."""
    text += " Or leave it out with 'x' = \"\" under [tables] in the choices."
    named = named_choices(text)
    assert named == [(Place("columns", "runs", name), "shots") for name in ("it's", 'a; "b"', "c, d")] + [(Place("tables", "", "x"), "")]


def test_questions_that_keep_something_out_come_first():
    files = (EVENTS, ("runs.csv", CASES["the order of days"][0][1][1].replace(b"tool_id", b"Mould")), TOOLS)
    opened = [q.open for q in asked(files)]
    assert opened == sorted(opened, reverse=True)
    assert len(set(opened)) == 2


def test_a_place_holds_one_decision():
    place = Place("names", "plant_id", "North Work")
    assert decisions(decide(Choices(), place, "North Works")) == {place: "North Works"}
