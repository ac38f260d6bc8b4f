"""Which sheet is which table: by choice, by name, by the trade's word, by its columns; and what is left unread."""

import time

import pytest
from grids import AS_IT_STANDS, columns, grid, only, said, typed

from wearfit.errors import Refusal
from wearfit.records.choices import Choices
from wearfit.records.readers.grid import Grid
from wearfit.records.sheets.locate import locate
from wearfit.records.sheets.naming import Named, naming_of

TOOLS = "tool_id|commissioned_on\nT1|2020-01-01"
RUNS = "tool_id|plant_id|resin_id|started_on|ended_on|shots\nT1|Heath|R1|2020-01-10|2020-01-19|1000"
EVENTS = "tool_id|date|event\nT1|2020-01-01|worn"


@pytest.mark.parametrize(
    ("name", "tables", "named"),
    [
        ("runs", ("runs",), Named.EXACTLY), ("Runs", ("runs",), Named.EXACTLY), ("runs 2023", ("runs",), Named.NUMBERED),
        ("2024 runs", ("runs",), Named.NUMBERED), ("runs2023", ("runs",), Named.NUMBERED), ("Runs (2)", ("runs",), Named.NUMBERED),
        ("runs_north", ("runs",), Named.LOOSELY), ("north runs", ("runs",), Named.LOOSELY), ("Tool list", ("tools",), Named.LOOSELY),
        ("Molds", ("tools",), Named.LOOSELY), ("MOULDS 2024", ("tools",), Named.LOOSELY), ("Tool register", ("tools",), Named.LOOSELY),
        ("production log", ("runs",), Named.LOOSELY), ("Retool history", ("events",), Named.LOOSELY),
        ("repairs", ("events",), Named.LOOSELY),
        ("Inspections", ("readings",), Named.LOOSELY), ("Weather Heath 2022", ("climate",), Named.LOOSELY),
        ("materials", ("resins",), Named.LOOSELY), ("shot log", ("runs", "counter"), Named.LOOSELY), ("Sheet1", (), Named.NOT),
        ("tool", (), Named.NOT), ("Saturday", (), Named.NOT), ("", (), Named.NOT), ("2024", (), Named.NOT), ("overruns", (), Named.NOT),
    ],
)  # fmt: skip
def test_what_a_name_says(name: str, tables: tuple[str, ...], named: Named):
    naming = naming_of(grid(name, "x"), AS_IT_STANDS)
    assert (naming.tables, naming.named) == (tables, named)


def test_a_choice_comes_before_the_name_by_sheet_or_by_source():
    sheet = grid("Sheet1", RUNS)
    assert naming_of(sheet, Choices(tables={"sheet1": "runs"})).named == Named.CHOSEN
    assert naming_of(sheet, Choices(tables={"Sheet1": "runs", "Sheet1.csv": "plan"})).tables == ("plan",)
    assert naming_of(grid("runs", RUNS), Choices(tables={"Runs": ""})).left_out


def test_every_sheet_of_a_table_is_read_in_order():
    grids = [grid("runs 2024", RUNS), grid("tools", TOOLS), grid("runs 2023", RUNS), grid("events", EVENTS)]
    regions, findings = locate(grids, AS_IT_STANDS)
    assert [(region.table.name, region.grid.name) for region in regions] == [
        ("runs", "runs 2024"), ("tools", "tools"), ("runs", "runs 2023"), ("events", "events"),
    ]  # fmt: skip
    assert findings == ()


def test_a_sheet_named_by_a_word_of_the_trade_is_told():
    _, findings = locate([grid("Mould list", TOOLS), grid("runs_north", RUNS)], AS_IT_STANDS)
    assert [finding.problem for finding in findings] == [
        "Mould list.csv is read as the table tools, as its name says.",
        "runs_north.csv is read as the table runs, as its name says.",
    ]
    assert "'Mould list' = \"\"" in findings[0].repair


def test_a_word_for_two_tables_is_settled_by_the_columns():
    assert only(grid("Shot log", RUNS)).table.name == "runs"
    assert only(grid("Shot log", "Tool|Date|Counter reading\nT1|2020-01-01|5")).table.name == "counter"


@pytest.mark.parametrize(
    ("text", "table"),
    [
        (RUNS, "runs"), (TOOLS, "tools"), (EVENTS, "events"), ("Tool|Date|Counter\nT1|2020-01-01|5", "counter"),
        ("Plant|Lat|Long\nHeath|50|7", "plants"), ("plant_id|month|temp_c|rh_pct\nHeath|2020-01|5|80", "climate"),
        ("Material|Polymer|Filler %\nR1|ABS|0", "resins"), ("old_tool_id|tool_id|since\nT1|T1A|2020-01-01", "aliases"),
        ("month|design_id|units\n2026-01|cup|500", "plan"), ("product_id|design_id|parts_per_unit\nset|cup|4", "bill"),
        ("tool_id|date|feature|value|limit\nT1|2020-01-01|gate|1|2", "readings"),
    ],
)  # fmt: skip
def test_a_sheet_without_a_name_is_known_by_its_columns(text: str, table: str):
    (region,), findings = locate([grid("Sheet1", text)], AS_IT_STANDS)
    assert region.table.name == table
    assert findings[0].problem == f"Sheet1.csv is read as the table {table}, as its columns say."


@pytest.mark.parametrize(
    "text",
    [
        "Item|How many|Price\nmilk|2|1.8\neggs|12|3.6\nTotal||5.4",
        "What|Where|Price\nhammer|shop|20",
        "Date|From|To|Miles\n2020-01-01|home|work|12",
        "Name|Start|End|Cost\nparty|18:00|22:00|50",
        "Product|Qty|Cost\nflour|2|1.8",
        "Month|Rent|Power\n2020-01|500|60",
        "Plant|Water|Pot\nfern|weekly|clay",
        "Resin\nABS",
        "just one line",
        "1|2|3\n4|5|6",
        "tool|price|shop\nhammer|20|corner",
    ],
)
def test_a_sheet_of_something_else_is_refused(text: str):
    with pytest.raises(Refusal) as refused:
        locate([grid("Saturday", text)], AS_IT_STANDS)
    assert "named as a table" in refused.value.problem
    assert "'Saturday.csv'" in refused.value.problem
    assert "'Saturday' = \"runs\"" in refused.value.repair
    (region,), (finding,) = locate([grid("Saturday", text), grid("tools", TOOLS)], AS_IT_STANDS)
    assert region.table.name == "tools"
    assert (finding.table, finding.value, finding.severity) == ("Saturday", "Saturday.csv", "note")


def test_nothing_at_all_is_refused():
    with pytest.raises(Refusal, match="Nothing here is named as a table"):
        locate([], AS_IT_STANDS)


def test_the_nearest_name_is_offered():
    _, (finding,) = locate([grid("tools", TOOLS), grid("tool", "x\n1")], AS_IT_STANDS)
    assert finding.problem == "tool.csv is not named as a table and was not read."
    assert (
        finding.repair == "If 'tools' is meant, write that, or say which table it holds under [tables] in the choices: 'tool' = \"tools\"."
    )


def test_a_sheet_of_another_language_can_be_named_as_a_table():
    _, (finding,) = locate([grid("tools", TOOLS), grid("Läufe", "Werkzeug|Beginn\nT1|2020-01-10")], AS_IT_STANDS)
    assert finding.repair == "If it is one, say which table it holds under [tables] in the choices: 'Läufe' = \"runs\"."


def test_a_sheet_that_nearly_is_a_table_says_what_it_lacks():
    text = "Tool|Plant|Start|End|Shots\nT1|Heath|2020-01-10|2020-01-19|1000"
    with pytest.raises(Refusal, match=r"Sheet1\.csv is not named as a table and was not read; it lacks the column resin_id of runs"):
        locate([grid("Sheet1", text)], AS_IT_STANDS)


def test_hidden_sheets_are_read_only_if_chosen():
    hidden = grid("runs old", RUNS, hidden=True)
    (region,), (finding,) = locate([grid("tools", TOOLS), hidden], AS_IT_STANDS)
    assert region.table.name == "tools"
    assert finding.problem == "runs old.csv is hidden and was not read."
    assert "'runs old' = \"runs\"" in finding.repair
    regions, _ = locate([grid("tools", TOOLS), hidden], Choices(tables={"runs old": "runs"}))
    assert [region.table.name for region in regions] == ["tools", "runs"]
    with pytest.raises(Refusal, match=r"runs old\.csv is hidden"):
        locate([hidden], AS_IT_STANDS)


def test_a_sheet_left_out_is_not_spoken_of():
    (region,), findings = locate([grid("tools", TOOLS), grid("runs", "nonsense")], Choices(tables={"runs": ""}))
    assert (region.table.name, findings) == ("tools", ())


@pytest.mark.parametrize("name", ["Copy of runs", "runs backup", "runs_template", "runs - test"])
def test_copies_and_templates_are_not_read_unless_chosen(name: str):
    (_,), (finding,) = locate([grid("tools", TOOLS), grid(name, RUNS)], AS_IT_STANDS)
    assert f"'{name}' = \"runs\"" in finding.repair
    regions, _ = locate([grid(name, RUNS)], Choices(tables={name: "runs"}))
    assert len(regions) == 1


@pytest.mark.parametrize("name", ["runs", "runs 2023"])
def test_a_sheet_named_as_a_table_must_be_one(name: str):
    with pytest.raises(Refusal) as refused:
        locate([grid("tools", TOOLS), grid(name, RUNS.replace("resin_id", "colour"))], AS_IT_STANDS)
    assert refused.value.problem == f"{name}.csv has no column resin_id."
    assert refused.value.status == 1


def test_a_sheet_chosen_as_a_table_must_be_one():
    with pytest.raises(Refusal, match=r"Sheet1\.csv has no column tool_id and no column commissioned_on"):
        locate([grid("Sheet1", "a|b\n1|2")], Choices(tables={"Sheet1": "tools"}))


def test_a_sheet_that_a_word_calls_a_needed_table_is_not_passed_over():
    repairs = grid("Repairs", "Tool|Date|Cost\nT1|2020-01-01|5")
    with pytest.raises(Refusal, match=r"Repairs\.csv has no column event"):
        locate([grid("tools", TOOLS), repairs], AS_IT_STANDS)
    regions, findings = locate([grid("events", EVENTS), repairs], AS_IT_STANDS)
    assert [region.table.name for region in regions] == ["events"]
    (finding,) = findings
    assert (finding.severity, finding.table) == ("set_aside", "Repairs")
    assert finding.problem == "Repairs.csv has no column event, so that it was not read as the table events."


def test_an_extra_table_that_lacks_a_column_does_not_stop_the_rest():
    regions, (finding,) = locate([grid("tools", TOOLS), grid("Inspections", "Tool|Date|Verdict\nT1|2020-01-01|ok")], AS_IT_STANDS)
    assert len(regions) == 1
    assert "no column feature and no column value and no column limit" in finding.problem


def test_columns_that_fit_two_tables_are_not_guessed():
    text = "tool_id|commissioned_on|resin_id|family\nT1|2020-01-01|R1|ABS"
    with pytest.raises(Refusal, match="could be those of tools or resins"):
        locate([grid("Sheet1", text)], AS_IT_STANDS)
    assert only(grid("Sheet1", text), Choices(tables={"Sheet1": "resins"})).table.name == "resins"
    assert only(grid("tools", text)).table.name == "tools"


@pytest.mark.parametrize("text", ["", " | |\n|", "\n\n"])
def test_an_empty_sheet(text: str):
    with pytest.raises(Refusal, match=r"tools\.csv is empty"):
        locate([grid("tools", text)], AS_IT_STANDS)
    _, (finding,) = locate([grid("tools", TOOLS), grid("notes", text)], AS_IT_STANDS)
    assert finding.problem == "notes.csv is empty."


def test_a_table_with_a_header_alone_is_a_region_without_rows():
    assert list(only(grid("events", EVENTS.split("\n", maxsplit=1)[0])).body) == []


def test_every_finding_says_where():
    grids = [grid("Mould list", "Company\nTool|Commissioned|Rack\nT1|2020-01-01|3\n\nTotal"), grid("x", "y"), typed("Sheet2", [1.0])]
    _, findings = locate(grids, AS_IT_STANDS)
    assert {finding.source for finding in findings} == {"Mould list.csv", "x.csv", "book.xlsx, sheet Sheet2"}
    assert len(said(findings, "Total")) == 1


def test_a_chosen_sheet_with_chosen_columns():
    sheet = grid("Blatt 1", "Werkzeug|Werk|Material|von|bis|Schuss\nT1|Heath|R1|2020-01-10|2020-01-19|1000")
    german = {"Werkzeug": "tool_id", "Werk": "plant_id", "von": "started_on", "bis": "ended_on", "Schuss": "shots"}
    region = only(sheet, Choices(tables={"Blatt 1": "runs"}, columns={"runs": german}))
    assert columns(region) == {0: "tool_id", 1: "plant_id", 2: "resin_id", 3: "started_on", 4: "ended_on", 5: "shots"}
    assert list(region.body) == [1]


def test_the_sheet_that_explains_the_template_is_passed_over_without_a_word():
    about = typed("About", ["Records of injection moulds"], ["Column", "Unit", "Meaning"], ["tool_id", "", "The tool's own number."])
    (region,), findings = locate([about, grid("tools", TOOLS)], AS_IT_STANDS)
    assert (region.table.name, findings) == ("tools", ())


@pytest.mark.slow
def test_a_million_rows_take_less_than_a_second():
    days = [f"20{year}-{month:02}-{day:02}" for year in range(10, 25) for month in range(1, 13) for day in range(1, 29)]
    rows = [[f"T-{at % 5000}", "Heath", "R1", days[at % 5040], days[at % 5040], str(at), "", ""] for at in range(1_000_000)]
    sheet = Grid("runs.csv", "runs", [[*RUNS.split("\n", maxsplit=1)[0].split("|"), "", ""], *rows])
    start = time.process_time()
    region = only(sheet)
    assert time.process_time() - start < 1
    assert len(region.body) == 1_000_000


def test_a_cell_merged_over_several_records_is_read_in_each_of_them():
    sheet = grid(
        "runs",
        "Tool|plant_id|resin_id|started_on|ended_on|shots\n"
        "T1|Heath|R1|2020-01-10|2020-01-19|1000\n||R1|2020-02-10|2020-02-19|2000\n|||2020-03-10|2020-03-19|3000\nT2|Heath|R2|2020-01-10|2020-01-19|4000",
        merged=((1, 0, 3, 0), (1, 1, 3, 1), (2, 2, 3, 2)),
    )
    (region,), findings = locate([sheet], AS_IT_STANDS)
    assert list(region.body) == [1, 2, 3, 4]
    assert [tuple(region.grid.cells[row][:3]) for row in region.body] == [("T1", "Heath", "R1")] * 3 + [("T2", "Heath", "R2")]
    (told,) = said(findings, "merged over several rows")
    assert "tool_id over rows 2 to 4" in told.problem and told.problem.startswith("3 cells")


def test_a_merged_header_or_footer_fills_nothing_in():
    sheet = grid("tools", "tool_id|commissioned_on\n|\nT1|2020-01-01\nchecked by K.|", merged=((0, 0, 1, 0), (3, 0, 3, 1)))
    (region,), findings = locate([sheet], AS_IT_STANDS)
    assert list(region.body) == [2] and not said(findings, "merged")
