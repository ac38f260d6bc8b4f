"""Which column a header stands for: the user's choice, the name, the trade's word, the unit; and what is only offered."""

import pytest
from grids import AS_IT_STANDS, columns, grid, only, said, typed

from wearfit.errors import Refusal
from wearfit.records.choices import Choices, read_choices
from wearfit.records.sheets.header_units import split_unit, verdict
from wearfit.records.sheets.locate import locate
from wearfit.records.tables import TABLES


@pytest.mark.parametrize(
    ("header", "name", "unit"),
    [
        ("Temp (°C)", "Temp", "°C"), ("Shots [k]", "Shots", "k"), ("Weight, kg", "Weight", "kg"), ("Cycle time / s", "Cycle time", "s"),
        ("Cycle time in s", "Cycle time", "s"), ("Scrap %", "Scrap", "%"), ("Started (dd/mm/yyyy)", "Started", "dd/mm/yyyy"),
        ("Shots '000", "Shots", "'000"), ("Chloride mg/m²/day", "Chloride", "mg/m²/day"), ("Tool No.", "Tool No.", ""),
        ("(x)", "(x)", ""), ("Tool *", "Tool", ""), ("Check, please", "Check, please", ""), ("°C", "°C", ""),
    ],
)  # fmt: skip
def test_a_unit_is_told_from_the_name(header: str, name: str, unit: str):
    assert split_unit(header) == (name, unit)


@pytest.mark.parametrize(
    ("table", "column", "unit", "said"),
    [
        ("climate", "temp_c", "℃", "agrees"), ("climate", "temp_c", "°F", "differs"), ("climate", "temp_c", "K", "differs"),
        ("runs", "cycle_time_s", "sec.", "agrees"), ("runs", "cycle_time_s", "min", "differs"), ("runs", "shots", "k", "differs"),
        ("runs", "shots", "'000", "differs"), ("runs", "shots", "cumulative", "not a unit"), ("events", "cost", "EUR", "agrees"),
        ("events", "cost", "k€", "differs"), ("plants", "chloride_mg_m2_day", "mg/(m²·d)", "agrees"),
        ("tools", "lead_time_weeks", "days", "differs"),
        ("runs", "started_on", "DD.MM.YYYY", "agrees"), ("runs", "started_on", "week", "not a unit"),
        ("events", "renewed_share", "%", "differs"),
        ("tools", "hardness_hrc", "HB", "differs"),
    ],
)  # fmt: skip
def test_a_unit_is_set_against_that_of_the_column(table: str, column: str, unit: str, said: str):
    assert verdict(TABLES[table].column(column), unit) == said


def test_every_unit_of_the_tables_is_known_to_agree_with_itself():
    for table in TABLES.values():
        for column in table.columns:
            if column.unit:
                assert verdict(column, column.unit) == "agrees" or column.unit == "as measured", (table.name, column.name)


def test_names_match_without_regard_to_case_blanks_and_punctuation_and_nothing_is_said():
    (region,), findings = locate(
        [grid("tools", "Tool ID.| commissioned-on |Cycle time (s)|Hardness [HRC]|Lead time, weeks\nT1|2020-01-01|30|40|5")], AS_IT_STANDS
    )
    assert columns(region) == {0: "tool_id", 1: "commissioned_on", 2: "cycle_time_s", 3: "hardness_hrc", 4: "lead_time_weeks"}
    assert findings == ()


def test_words_of_the_trade_are_told_once_a_table():
    (region,), findings = locate([grid("runs", "Tool No.|Site|Material|Start|End|Shots\nT1|a|b|2020-01-01|2020-01-02|5")], AS_IT_STANDS)
    assert columns(region) == {0: "tool_id", 1: "plant_id", 2: "resin_id", 3: "started_on", 4: "ended_on", 5: "shots"}
    (finding,) = findings
    assert (finding.severity, finding.row, finding.source) == ("note", None, "runs.csv")
    assert finding.problem == (
        "'Tool No.' is read as tool_id, 'Site' as plant_id, 'Material' as resin_id, 'Start' as started_on and 'End' as ended_on."
    )


def test_a_choice_comes_before_the_name_and_may_leave_a_column_unused():
    sheet = grid("tools", "Werkzeug|tool_id|commissioned_on|Coating\nT1|x|2020-01-01|chrome")
    choices = Choices(columns={"tools": {"werkzeug": "tool_id", "coating": ""}})
    (region,), findings = locate([sheet], choices)
    assert columns(region) == {0: "tool_id", 2: "commissioned_on"}
    assert dict(region.unknown) == {1: "tool_id (not used)", 3: "Coating (not used)"}
    assert said(findings, "Coating") == []
    assert len(said(findings, "tool_id (not used)")) == 1


def test_the_name_wins_over_a_word_and_the_other_is_kept():
    (region,), findings = locate([grid("tools", "Mould|tool_id|commissioned_on\nA|T1|2020-01-01")], AS_IT_STANDS)
    assert columns(region) == {1: "tool_id", 2: "commissioned_on"}
    assert dict(region.unknown) == {0: "Mould"}
    (finding,) = findings
    assert "could be tool_id as well as 'tool_id'" in finding.problem
    assert "'Mould' = \"tool_id\"" in finding.repair


def test_two_columns_of_one_name_are_refused():
    with pytest.raises(Refusal, match="two columns named tool_id"):
        only(grid("tools", "tool_id|Tool ID|commissioned_on\nT1|T1|2020-01-01"))
    with pytest.raises(Refusal, match="two columns named coating"):
        only(grid("tools", "tool_id|coating|commissioned_on|Coating\nT1|a|2020-01-01|b"))


def test_two_words_for_a_needed_column_are_refused_and_a_choice_settles_it():
    sheet = grid("tools", "Tool No.|Mould No.|commissioned_on\nT1|M1|2020-01-01")
    with pytest.raises(Refusal) as refused:
        only(sheet)
    assert refused.value.problem == "tools.csv has two columns that may be tool_id: 'Tool No.' and 'Mould No.'."
    assert "[columns.tools]" in refused.value.repair
    region = only(sheet, Choices(columns={"tools": {"Mould No.": "tool_id"}}))
    assert columns(region) == {1: "tool_id", 2: "commissioned_on"}


def test_of_two_words_for_a_column_that_is_not_needed_neither_is_used():
    (region,), findings = locate([grid("events", "tool_id|date|event|Remarks|Comments\nT1|2020-01-01|worn|a|b")], AS_IT_STANDS)
    assert columns(region) == {0: "tool_id", 1: "date", 2: "event"}
    assert dict(region.unknown) == {3: "Remarks", 4: "Comments"}
    assert [finding.problem for finding in findings] == ["'Remarks' and 'Comments' could each be note; none of them is used."]


@pytest.mark.parametrize("header", ["Shots [k]", "Shots (thousand)", "Shots '000", "Shots, k", "Strokes (x1000)"])
def test_a_count_in_thousands_is_never_read_as_units(header: str):
    needed = f"tool_id|plant_id|resin_id|started_on|ended_on|{header}"
    (region,), findings = locate([grid("runs", f"{needed}\nT1|a|b|2020-01-01|2020-01-02|5")], AS_IT_STANDS)
    assert columns(region)[5] == "shots" and region.conversions["shots"].factor == 1000
    (told,) = [finding for finding in findings if finding.severity == "repaired"]
    assert header in told.problem and "multiplied by 1000" in told.problem
    (region,), findings = locate([grid("runs", f"{needed}|shots\nT1|a|b|2020-01-01|2020-01-02|5|5000")], AS_IT_STANDS)
    assert columns(region)[6] == "shots" and not region.conversions
    assert dict(region.unknown) == {5: header}
    assert "kept but not used" in said(findings, header)[0].problem


@pytest.mark.parametrize("header", ["Shots (million)", "Shots [mio]", "Shots [m]"])
def test_a_unit_that_could_be_another_is_not_turned(header: str):
    with pytest.raises(Refusal, match="neither a column shots nor parts"):
        only(grid("runs", f"tool_id|plant_id|resin_id|started_on|ended_on|{header}\nT1|a|b|2020-01-01|2020-01-02|5"))


def test_another_unit_is_said_and_turned_or_a_needed_column_in_it_refused():
    (region,), findings = locate(
        [grid("tools", "tool_id|commissioned_on|Cycle time (min)|Lead time (days)|Hardness (HB)\nT1|2020-01-01|.5|30|300")], AS_IT_STANDS
    )
    assert columns(region) == {0: "tool_id", 1: "commissioned_on", 2: "cycle_time_s", 3: "lead_time_weeks"}
    assert [(finding.severity, finding.problem) for finding in findings if "read as" not in finding.problem] == [
        ("repaired", "'Cycle time (min)' is in min; its numbers are turned into s for cycle_time_s."),
        ("repaired", "'Lead time (days)' is in days; its numbers are turned into weeks for lead_time_weeks."),
        ("note", "'Hardness (HB)' is in HB, but hardness_hrc in HRC; it is kept but not used."),
    ]
    with pytest.raises(Refusal) as refused:
        only(grid("climate", "plant_id|month|temp_c|RH (g/m3)\na|2020-01|50|60"))
    assert refused.value.problem == "climate.csv has no column rh_pct: 'RH (g/m3)' is in g/m3, but rh_pct in %."
    assert refused.value.repair == "Convert it to % and name the column rh_pct."


def test_measurements_and_limits_in_two_units_are_refused():
    header = "tool_id|date|feature|value (mm)|limit (µm)"
    with pytest.raises(Refusal, match="'limit \\(µm\\)' is in µm, but limit in the unit of value"):
        only(grid("readings", f"{header}\nT1|2020-01-01|gate|1|1200"))
    assert columns(only(grid("readings", header.replace("µm", "mm") + "\nT1|2020-01-01|gate|1|2")))[4] == "limit"


def test_a_word_behind_the_name_is_no_unit_and_is_only_offered():
    (region,), findings = locate(
        [grid("runs", "tool_id|plant_id|resin_id|started_on|ended_on|parts|Shots (cumulative)\nT|a|b|1.1.20|2.1.20|5|6")], AS_IT_STANDS
    )
    assert dict(region.unknown) == {6: "Shots (cumulative)"}
    assert "If 'shots' is meant" in findings[0].repair


def test_near_names_are_offered_not_taken():
    (region,), findings = locate(
        [grid("tools", "tool_id|commissioned_on|cavites|Colour|Build date\nT1|2020-01-01|4|red|2019-01-01")], AS_IT_STANDS
    )
    assert dict(region.unknown) == {2: "cavites", 3: "Colour", 4: "Build date"}
    near, far, meant = findings
    assert near.repair.startswith(
        "If 'cavities' is meant, write that, or say so under [columns.tools] in the choices: 'cavites' = \"cavities\""
    )
    assert far.repair == meant.repair == "Nothing needs doing."  # commissioned_on is there


def test_a_missing_column_is_refused_with_the_nearest_header():
    with pytest.raises(Refusal) as refused:
        only(grid("tools", "tool_id|comissioned on\nT1|2020-01-01"))
    assert refused.value.problem == "tools.csv has no column commissioned_on."
    assert refused.value.repair.startswith("If 'comissioned on' is commissioned_on, rename it, or say so under [columns.tools]")
    with pytest.raises(Refusal, match="If 'Build date' is commissioned_on"):
        only(grid("tools", "tool_id|Build date\nT1|2020-01-01"))
    with pytest.raises(Refusal, match="Add what is missing"):
        only(grid("tools", "tool_id|\nT1|red"))


def test_headers_that_mean_nothing_yet_are_named_where_a_column_is_missing():
    with pytest.raises(Refusal) as refused:
        only(grid("tools", "Werkzeug-Nr.|class|it's\nT1|103|red"))
    assert refused.value.problem == "tools.csv has no column tool_id and no column commissioned_on."
    assert refused.value.repair == (
        "Say what its headers mean under [columns.tools] in the choices, such as 'Werkzeug-Nr.' = \"tool_id\"; "
        "'Werkzeug-Nr.' and \"it's\" mean nothing yet. Add what is missing, or leave the sheet out with 'tools' = \"\" under [tables] in "
        "the choices."
    )


def test_the_header_of_another_language_is_looked_for_below_titles():
    with pytest.raises(Refusal) as refused:
        only(grid("tools", "Werkzeugliste|Stand heute\n\nWerkzeug-Nr.|Klasse|Werk|Preis\nT1|103|Nordhalle|5\nT2|103|Nordhalle|6"))
    assert "; 'Werkzeug-Nr.', 'Klasse', 'Werk' and 'Preis' mean nothing yet." in refused.value.repair


def test_a_log_with_one_date_a_row_is_told_what_to_do():
    with pytest.raises(Refusal, match="write 'Date' in two columns, started_on and ended_on"):
        only(grid("runs", "tool_id|plant_id|resin_id|Date|shots\nT1|a|b|2020-01-01|5"))


def test_headers_of_all_kinds_are_kept_under_names_of_their_own():
    sheet = typed(
        "tools",
        ["tool_id", "commissioned_on", 2024.0, "2024-01-31", "Rack", "Rack", "", 0.5, "line\nbreak", ""],
        ["T1", "2020-01-01", *"abcdefg", ""],
    )
    region = only(sheet)
    assert dict(region.unknown) == {
        2: "2024", 3: "2024-01-31", 4: "Rack", 5: "Rack (2)", 6: "column 7", 7: "0.5", 8: "line break",
    }  # fmt: skip


def test_a_chosen_blank_header_is_found_by_its_number():
    region = only(grid("tools", "tool_id||x\nT1|2020-01-01|y"), Choices(columns={"tools": {"column 2": "commissioned_on"}}))
    assert columns(region) == {0: "tool_id", 1: "commissioned_on"}


@pytest.mark.parametrize(
    ("header", "column"),
    [("Price", "replacement_cost"), ("Owner's cavites", ""), ("cavites", "cavities"), ("Shots '000", ""), ("Tool name", "")],
)
def test_the_choice_that_is_offered_does_what_it_says(header: str, column: str):
    sheet = grid("tools", f"tool_id|commissioned_on|{header}\nT1|2020-01-01|5")
    (region,), (finding,) = locate([sheet], AS_IT_STANDS)
    assert dict(region.unknown) == {2: header}
    if not column:
        assert "choices" not in finding.repair
        return
    line = finding.repair.partition("in the choices: ")[2].removesuffix(".")
    chosen = read_choices(f"[columns.tools]\n{line}")
    assert columns(only(sheet, chosen))[2] == column


def test_a_choice_is_written_so_that_it_can_be_read():
    sheet = grid("Owner's list", "tool_id|commissioned on day\nT1|2020-01-01")
    with pytest.raises(Refusal) as refused:
        only(sheet)
    line = refused.value.repair.partition("in the choices: ")[2].removesuffix(".")
    with pytest.raises(Refusal, match="If 'commissioned on day' is commissioned_on") as refused:
        only(sheet, read_choices(f"[tables]\n{line.replace('runs', 'tools')}"))
    more = refused.value.repair.partition("in the choices: ")[2].removesuffix(".")
    region = only(sheet, read_choices(f"[tables]\n{line.replace('runs', 'tools')}\n[columns.tools]\n{more}"))
    assert columns(region) == {0: "tool_id", 1: "commissioned_on"}
