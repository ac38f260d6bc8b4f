"""Names that may be one: told once a pair, never made one."""

from collections.abc import Sequence

from fleets import Cells, about, fleet, records_of, run, tool

from wearfit.records.findings import Finding


def _runs(*plants: str) -> Sequence[Cells]:
    return [run(f"2020-0{i}-10", f"2020-0{i}-19", plant_id=plant) for i, plant in enumerate(plants, start=1)]


def _told(findings: Sequence[Finding]) -> list[Finding]:
    return [finding for finding in findings if "may be one;" in finding.problem]


def test_two_undescribed_plants_are_told_once_with_their_rows():
    records = records_of(fleet(runs=_runs("Harbour", "Harbor", "Harbour"), plants=[]))
    (finding,) = _told(records.findings)
    assert (finding.table, finding.row, finding.column, finding.value, finding.severity) == ("runs", 3, "plant_id", "Harbor", "note")
    assert "'Harbor' in one row and 'Harbour' in 2 rows" in finding.problem
    assert '"Harbor" = "Harbour" under [names.plant_id]' in finding.repair
    assert set(records.tables["runs"]["plant_id"]) == {"Harbour", "Harbor"}


def test_two_described_plants_are_two():
    assert (
        _told(records_of(fleet(runs=_runs("Harbour", "Harbor"), plants=[{"plant_id": "Harbour"}, {"plant_id": "Harbor"}])).findings) == []
    )


def test_a_plant_near_a_described_one_is_told_by_its_lack_of_a_description_alone():
    findings = records_of(fleet(runs=_runs("Heath", "Heathe"))).findings
    assert _told(findings) == [] and "'Heath' is meant" in about(findings, "runs", "plant_id")[0].repair


def test_series_are_not_told():
    tools = [tool(f"T{i}", design_id=f"bracket {i}", maker_id=f"maker-{i:02}") for i in range(1, 6)]
    assert _told(records_of(fleet(tools=tools, runs=_runs("plant 1", "plant 2", "plant 11"), plants=[])).findings) == []


def test_designs_makers_and_products_are_compared():
    tools = [tool("T1", design_id="bracket", maker_id="Ash Tooling"), tool("T2", design_id="braket", maker_id="Ash Toolling")]
    bill = [{"product_id": name, "design_id": "bracket", "parts_per_unit": "1"} for name in ("wagon set", "wagons set")]
    found = {(f.table, f.column) for f in _told(records_of(fleet(tools=tools, bill=bill)).findings)}
    assert found == {("tools", "design_id"), ("tools", "maker_id"), ("bill", "product_id")}
