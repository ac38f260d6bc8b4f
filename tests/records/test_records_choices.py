"""The user's choices: what their file may say, how it is looked up, and how later ones go over earlier ones."""

import pytest

from wearfit.errors import Refusal
from wearfit.records.choices import Choices, CountChoice, choices_of_json, read_choices

FULL = """
[tables]
"Mould register" = "tools"
"old data" = ""

[columns.tools]
"Mould No." = "tool_id"
Built = "commissioned_on"

[dates.runs]
started_on = "day month year"
[dates."south.csv"]
started_on = "month day year"

[decimals.events]
cost = "comma"

[encodings]
"runs.csv" = "cp1250"

[names.plant_id]
"Heeth" = "Heath"

[[counts]]
tool_id = "T1"
counted_in = "parts"
[[counts]]
tool_id = "T1"
plant_id = "Heath"
counted_in = "shots"
"""


def test_names_are_found_whatever_their_case_blanks_and_hyphens():
    choices = read_choices(FULL)
    assert choices.table_of("mould-register") == "tools"
    assert choices.table_of("Old Data") == ""
    assert choices.table_of("runs") is None
    assert choices.column_of("tools", "mould no.") == "tool_id"
    assert choices.column_of("runs", "Mould No.") is None
    assert choices.encoding_of("Runs.csv") == "cp1250"
    assert choices.decimals_of("events", "cost") == "comma"


def test_what_is_said_of_a_sheet_goes_before_what_is_said_of_its_table():
    choices = read_choices(FULL)
    assert choices.date_order_of("runs", "started_on") == "day month year"
    assert choices.date_order_of("runs", "started_on", ("south", "south.csv")) == "month day year"
    assert choices.date_order_of("runs", "started_on", ("north", "north.csv")) == "day month year"
    assert choices.date_order_of("runs", "ended_on", ("south", "south.csv")) is None


def test_the_last_count_that_fits_holds():
    choices = read_choices(FULL)
    assert choices.counted_in("T1", "Heath") == "shots"
    assert choices.counted_in("T1", "Salt Quay") == "parts"
    assert choices.counted_in("T2", "Heath") is None
    assert choices.counted_in("t-1", "HEATH") == "shots"


def test_choices_survive_their_json():
    choices = read_choices(FULL)
    assert choices_of_json(choices.to_json()) == choices


def test_later_choices_go_over_earlier_ones_and_leave_the_rest():
    later = read_choices(
        '[dates.runs]\nstarted_on = "year month day"\nended_on = "day month year"\n'
        '[names.plant_id]\nMoor = "Moors"\n[[counts]]\ntool_id = "T1"\ncounted_in = "shots"'
    )
    both = read_choices(FULL).later(later)
    assert both.date_order_of("runs", "started_on") == "year month day"
    assert both.date_order_of("runs", "ended_on") == "day month year"
    assert both.column_of("tools", "Built") == "commissioned_on"
    assert both.names == {"plant_id": {"Heeth": "Heath", "Moor": "Moors"}}
    assert both.counts == (CountChoice("T1", "shots", "Heath"), CountChoice("T1", "shots"))


def test_nothing_said_is_nothing_decided():
    assert read_choices("") == Choices()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[tables", "not TOML"),
        ('[sheets]\n"a" = "tools"', "'sheets', which is not a section of the choices"),
        ('[tables]\n"a" = "tool"', "'tool', which is not a table"),
        ('[tables]\n"a" = 3', "not one of names and words"),
        ('[columns.tool]\n"a" = "tool_id"', "'tool', which is not a table"),
        ('[columns.tools]\n"a" = "toolid"', "'toolid', which is not a column of tools"),
        ('[columns]\n"a" = "tool_id"', "'a', which is not a table"),
        ('columns = "a"', "names no table"),
        ('[dates.runs]\nstarted = "day month year"', "'started', which is not a column of runs"),
        ('[dates.runs]\nstarted_on = "dmy"', "'dmy', which is not a choice for dates"),
        ('[dates."south.csv"]\nstart = "day month year"', "'start', which is not a column of south.csv"),
        ('[decimals.runs]\nshots = "dot"', "'dot', which is not a choice for decimals"),
        ('[encodings]\n"a.csv" = "klingon"', "no encoding"),
        ('[names.plants]\n"a" = "b"', "'plants', which is not a column of names"),
        ('[names.plant_id]\n"a" = " "', "has a blank name"),
        ('names = "a"', "names no column"),
        ('[counts]\ntool_id = "T1"', "not a list"),
        ('[[counts]]\ntool_id = "T1"', "does not say tool_id and counted_in"),
        ('[[counts]]\ntool_id = "T1"\ncounted_in = "units"', "'units', which is not what a run counts"),
    ],
)
def test_a_file_that_is_wrong_is_refused_in_a_sentence(text: str, said: str):
    with pytest.raises(Refusal) as refused:
        read_choices(text)
    assert said in refused.value.problem and refused.value.status == 2
    assert refused.value.repair.endswith(".")
