"""Single decisions among the choices, and the file that says them all."""

from hypothesis import given
from hypothesis import strategies as st

from wearfit.records.choices import DATE_ORDERS, DECIMALS, NAMES, Choices, CountChoice, read_choices
from wearfit.records.decisions import Place, decide, decisions, take_back, toml_of
from wearfit.records.tables import TABLES

words = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=12)
tables = st.sampled_from(sorted(TABLES))


def by_table(columns: st.SearchStrategy[dict[str, str]]) -> st.SearchStrategy[dict[str, dict[str, str]]]:
    return st.dictionaries(tables, columns, max_size=2).map(lambda found: {name: said for name, said in found.items() if said})


any_choices = st.builds(
    Choices,
    tables=st.dictionaries(words, st.sampled_from(["", *TABLES]), max_size=3),
    columns=by_table(st.dictionaries(words, st.sampled_from(["", "tool_id"]), max_size=2)).map(
        lambda found: {table: said for table, said in found.items() if "tool_id" in TABLES[table].names}
    ),
    dates=st.dictionaries(words, st.dictionaries(st.just("date"), st.sampled_from(DATE_ORDERS), min_size=1), max_size=2).map(
        lambda found: {where: said for where, said in found.items() if where not in TABLES}
    ),
    decimals=st.fixed_dictionaries({}, optional={"runs": st.dictionaries(st.just("shots"), st.sampled_from(DECIMALS), min_size=1)}),
    encodings=st.dictionaries(words, st.just("cp1250"), max_size=2),
    names=st.dictionaries(st.sampled_from(NAMES), st.dictionaries(words, st.just("meant"), min_size=1, max_size=2), max_size=2),
    counts=st.lists(
        st.builds(CountChoice, words, st.sampled_from(["shots", "parts"]), st.one_of(st.just(""), words)),
        max_size=3,
        unique_by=lambda count: (count.tool_id, count.plant_id),
    ).map(tuple),
)


@given(any_choices)
def test_the_file_says_all_and_nothing_else(choices: Choices):
    assert read_choices(toml_of(choices)) == choices


@given(any_choices)
def test_decisions_one_by_one_make_the_choices_and_taken_back_leave_none(choices: Choices):
    made = Choices()
    for place, word in decisions(choices).items():
        made = decide(made, place, word)
    assert made == choices
    assert decisions(take_back(choices, decisions(choices))) == {}


def test_what_is_decided_anew_takes_the_place_of_what_was():
    place = Place("counts", "", "T1", "north")
    choices = decide(decide(Choices(), place, "parts"), place, "shots")
    assert decisions(choices) == {place: "shots"}
    assert take_back(choices, [Place("counts", "", "T1")]) == choices  # at every plant is another place


def test_nothing_decided_is_an_empty_file():
    assert toml_of(Choices()) == ""
