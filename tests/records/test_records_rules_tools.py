"""Tools: bands, classes, what lay before the records, and what the other tables must describe."""

import pytest
from fleets import Cells, about, event, fleet, records_of, run, tool

from wearfit.records.coatings import coating_of
from wearfit.records.records import Records

COUNT: Cells = {"tool_id": "T1", "date": "2020-02-01", "counter_shots": "5"}


def _tools(*tools: Cells, **tables: list[Cells]) -> Records:
    return records_of(fleet(tools=list(tools), **tables))


def test_a_band_the_wrong_way_round_is_turned():
    records = _tools(tool(band_low="500000", band_high="100000"))
    (finding,) = about(records.findings, "tools", "band_low")
    assert (finding.row, finding.severity) == (2, "repaired")
    assert records.tables["tools"][["band_low", "band_high"]].iloc[0].tolist() == [100_000.0, 500_000.0]
    assert about(_tools(tool(band_low="100000", band_high="100000")).findings, "tools", "band_low") == []
    assert about(_tools(tool(band_low="100000")).findings, "tools", "band_low") == []


@pytest.mark.parametrize("typed", ["106", "100", "Klasse", "104.5"])
def test_a_class_outside_the_list_is_read_as_not_known(typed: str):
    records = _tools(tool(service_class=typed))
    repaired, mixes = about(records.findings, "tools", "service_class")
    assert (repaired.severity, repaired.value) == ("repaired", typed)
    assert mixes.severity == "note" and "mixes the bands" in mixes.problem
    assert records.tables["tools"].loc[0, "service_class"] == ""


def test_only_a_tool_without_class_and_band_mixes_the_bands():
    tools = (tool("A", service_class=""), tool("B", service_class="", band_high="9"), tool("C", service_class="", band_low="9"), tool("D"))
    assert [f.row for f in about(_tools(*tools).findings, "tools", "service_class")] == [2]


def test_an_unknown_steel_is_read_as_blank():
    records = _tools(tool(cavity_steel="hardd"))
    (finding,) = about(records.findings, "tools", "cavity_steel")
    assert finding.severity == "repaired" and "'hard'" in finding.repair
    assert records.tables["tools"].loc[0, "cavity_steel"] == ""


def test_use_before_the_first_run_is_unknown_after_60_days():
    def unknown(commissioned_on: str, **cells: str) -> bool:
        records = _tools(tool(commissioned_on=commissioned_on, **cells), runs=[run("2020-03-01", "2020-03-09")])
        return bool(about(records.findings, "tools", "opening_life_shots"))

    assert not unknown("2020-01-01")  # 60 days before the first run
    assert unknown("2019-12-31")
    assert unknown("2015-01-01", opening_shots="90000")
    assert not unknown("2015-01-01", opening_shots="0")
    assert unknown("2020-02-01", opening_shots="90000")  # a first run soon after, yet not new
    assert not unknown("2015-01-01", opening_shots="90000", history_from="2015-01-01")  # no renewal can be hidden
    assert unknown("2015-01-01", history_from="2015-01-01")
    assert not unknown("2015-01-01", opening_shots="90000", opening_life_shots="30000")
    assert unknown("2015-01-01", opening_shots="90000", opening_life_shots="90001")  # a part larger than the whole


@pytest.mark.parametrize(
    ("text", "coating"),
    [
        ("chrome", "chrome"), ("Hard Chrome plated", "chrome"), ("hartverchromt", "chrome"), ("electroless nickel", "nickel"),
        ("Ni-PTFE", "nickel"), ("vernickelt", "nickel"), ("gas nitrided", "nitride"), ("nitriert", "nitride"), ("TiN (2 um)", "pvd"),
        ("chromium nitride PVD", "pvd"), ("DLC", "dlc"), ("diamond-like carbon", "dlc"), ("none", ""), ("", ""), ("uncoated", ""),
        ("teflon", None), ("chrome + DLC", None), ("tinned", None),
    ],
)  # fmt: skip
def test_coatings_are_read_in_other_spellings(text: str, coating: str | None):
    assert coating_of(text) == coating
    told = about(_tools(tool(coating=text)).findings, "tools", "coating")
    assert len(told) == (coating is None)
    assert all("counts as none" in finding.problem for finding in told)


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ({"cavity_steel": "prehard", "hardness_hrc": "52"}, "contradict each other"),
        ({"cavity_steel": "hard", "hardness_hrc": "32"}, "contradict each other"),
        ({"cavity_steel": "aluminium", "hardness_hrc": "45"}, "contradict each other"),
        ({"cavity_steel": "prehard", "hardness_hrc": "32"}, None),
        ({"cavity_steel": "hard", "hardness_hrc": "52"}, None),
        ({"service_class": "101", "hardness_hrc": "30"}, "asks for 48 HRC"),
        ({"service_class": "101", "hardness_hrc": "46"}, None),
        ({"service_class": "103", "hardness_hrc": "20"}, "asks for 28 HRC"),
        ({"service_class": "104", "hardness_hrc": "20"}, None),
        ({"service_class": "101", "cavity_steel": "aluminium"}, "said to be aluminium"),
        ({"service_class": "104", "cavity_steel": "aluminium"}, None),
    ],
)
def test_steel_hardness_and_class_that_contradict_each_other_are_told(cells: dict[str, str], said: str | None):
    findings = _tools(tool(**{"service_class": "104", **cells})).findings
    told = [f.problem for name in ("hardness_hrc", "cavity_steel") for f in about(findings, "tools", name)]
    assert len(told) == (said is not None)
    assert all(said in problem for problem in told)


def test_a_history_that_starts_after_the_runs_is_told():
    def said(*events: dict[str, str], history_from: str = "2020-06-01") -> list[str]:
        runs = [run("2020-03-01", "2020-03-09"), run("2020-08-01", "2020-08-09")]
        records = _tools(tool(commissioned_on="2020-02-01", history_from=history_from), runs=runs, events=list(events))
        return [finding.problem for finding in about(records.findings, "tools", "history_from")]

    (late,) = said()
    assert "from 2020-06-01, runs from 2020-03-01" in late and "begun anew" in late
    assert not said(history_from="2020-03-01")
    # A renewal on record in that time says that the records do reach back.
    (at_odds,) = said(event("2020-04-01", "retool", cause="wear"))
    assert "yet the retool of 2020-04-01 is" in at_odds
    assert "begun anew" in said(event("2020-04-01", "service"))[0]
    assert "begun anew" in said(event("2020-07-01", "retool", cause="wear"))[0]


def test_a_tool_that_never_ran_has_nothing_unknown_before_its_runs():
    records = _tools(tool("T1"), tool("T2", commissioned_on="2010-01-01"))
    assert about(records.findings, "tools", "opening_life_shots") == []


def test_counter_readings_are_not_said_to_go_unused():
    assert about(_tools(tool(), counter=[COUNT]).findings, "counter", None) == []


def test_a_tool_with_a_counter_and_no_runs_stays_in_use():
    tools = (tool("T1"), tool("T2", plant_id="Heath"))
    records = _tools(*tools, counter=[{**COUNT, "tool_id": "T2"}])
    assert records.tables["tools"]["tool_id"].tolist() == ["T1", "T2"]


def test_plants_and_resins_that_no_row_describes_widen_the_answer():
    runs = [run("2020-01-10", "2020-01-19", plant_id="Heth"), run("2020-02-10", "2020-02-19", plant_id="Heth", resin_id="PP-X")]
    records = records_of(fleet(runs=runs))
    (plant,), (resin,) = about(records.findings, "runs", "plant_id"), about(records.findings, "runs", "resin_id")
    assert (plant.row, plant.value, plant.severity) == (2, "Heth", "note")
    assert "2 rows" in plant.problem and "widens" in plant.problem and "'Heath'" in plant.repair
    assert (resin.row, resin.value, resin.severity) == (3, "PP-X", "note")
    assert len(records.tables["runs"]) == 2


def test_missing_plants_and_resins_are_told_once():
    records = records_of(fleet(plants=[], resins=[]))
    assert [f.severity for f in (*about(records.findings, "plants", None), *about(records.findings, "resins", None))] == ["note", "note"]
    assert about(records.findings, "runs", "plant_id") == about(records.findings, "runs", "resin_id") == []


def test_a_plan_names_a_known_tool_or_a_design_and_an_amount():
    plan: list[Cells] = [
        {"month": "2021-01", "tool_id": "T1", "shots": "10"},
        {"month": "2021-01", "design_id": "D", "units": "10"},
        {"month": "2021-01", "tool_id": "T9", "shots": "10"},
        {"month": "2021-02", "design_id": "E", "units": "10"},
    ]
    records = _tools(tool(design_id="D"), plan=plan, bill=[{"product_id": "P", "design_id": "D", "parts_per_unit": "1"}])
    assert records.tables["plan"]["row"].tolist() == [3, 2, 5]
    (unknown,), (unmade,) = about(records.findings, "plan", "tool_id"), about(records.findings, "plan", "design_id")
    assert (unknown.row, unknown.severity) == (4, "set_aside")
    assert (unmade.row, unmade.severity) == (5, "note")
