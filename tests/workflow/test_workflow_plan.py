"""The plan takes cavities, cycle times and the bill from the records that the store holds."""

import datetime as dt
import shutil
from pathlib import Path

import pytest

from wearfit.calibration import Calibration
from wearfit.demo.shipped import scenario_folder, shipped_calibration_bytes
from wearfit.errors import Refusal
from wearfit.records.readers.read import read
from wearfit.store.calibrations import CalibrationSummary
from wearfit.store.store import Store
from wearfit.workflow.plan import plan
from wearfit.workflow.plan_file import read_plan


@pytest.fixture(scope="module")
def store_with_bill(demo_calibration: Calibration, tmp_path_factory: pytest.TempPathFactory) -> str:
    """A store in which the demo's calibration is current and its records lie, with a bill and the slowest soft-ball there is."""
    folder = tmp_path_factory.mktemp("records") / "demo"
    shutil.copytree(scenario_folder(), folder)
    (folder / "bill.csv").write_text("product_id,design_id,parts_per_unit\nkit,soft-ball,2\nkit,hose-coupling,4\n", encoding="utf-8")
    tools = (folder / "tools.csv").read_text(encoding="utf-8")
    (folder / "tools.csv").write_text(tools.replace(",delta,,27.1,10000,", ",delta,,2710,10000,"), encoding="utf-8")
    url, identity = str(tmp_path_factory.mktemp("store") / "bill.db"), demo_calibration.identity
    summary = CalibrationSummary(
        dt.date.fromisoformat(identity.as_of), identity.fingerprint, True, (), identity.lives, identity.wear_outs, identity.seed,
        identity.model_version, identity.format_version,
    )  # fmt: skip
    with Store.open(url) as store:
        store.add_upload(read(folder))
        store.add_calibration(shipped_calibration_bytes(), summary, make_current=True)
    return url


def cavities_of(tool_id: str) -> float:
    lines = [line.split(",") for line in (scenario_folder() / "tools.csv").read_text(encoding="utf-8").splitlines()]
    return float(next(line for line in lines if line[0] == tool_id)[lines[0].index("cavities")])


def test_units_of_a_product_are_asked_of_the_designs_in_its_bill(store_with_bill: str, tmp_path: Path):
    file = tmp_path / "plan.csv"
    file.write_text("month,product_id,units\n2026-07,kit,6000\n2026-07,no-kit,5\n", encoding="utf-8")
    document, answered = plan(store_with_bill, file)
    assert answered
    assert document["months"] == 1
    assert [p["row"] for p in document["problems"]] == [3]
    asked = {d["design_id"]: d for d in document["designs"]}
    for design, parts in (("soft-ball", 2.0), ("hose-coupling", 4.0)):
        (tool,) = asked[design]["tools"]
        assert asked[design]["shots_asked"] == pytest.approx(6000.0 * parts / cavities_of(tool), rel=1e-6)


def test_a_slow_cycle_on_record_makes_it_short(store_with_bill: str, tmp_path: Path):
    """2,710 s a shot at 65 % of all hours is some 631 shots a month, less than it made of late; 12,000 a month are out of reach."""
    file = tmp_path / "plan.csv"
    file.write_text("month,tool_id,shots\n2026-07,T-042,120000\n", encoding="utf-8")
    asked = {d["design_id"]: d for d in plan(store_with_bill, file)[0]["designs"]}
    assert asked["soft-ball"]["p_shortage"] == 1.0
    assert plan(store_with_bill, file, given={"hours_per_week": 168.0})[0]["copies_advised"][0]["design_id"] == "soft-ball"


def test_rows_of_a_file_are_numbered_as_a_spreadsheet_counts_them(tmp_path: Path):
    file = tmp_path / "plan.csv"
    file.write_text("\ufeffSHOTS,month,Tool-ID\n100,2026-07,T1\n\n,2026-07,T1\n5,July,T1\n", encoding="utf-8")
    rows = read_plan(file)
    assert [(r.number, r.row is None) for r in rows] == [(2, False), (4, True), (5, True)]
    assert rows[0].row is not None
    assert (rows[0].row.tool_id, rows[0].row.shots) == ("T1", 100.0)


def test_no_plan_of_no_months(store_with_bill: str):
    with pytest.raises(Refusal, match="months"):
        plan(store_with_bill, months=0)
