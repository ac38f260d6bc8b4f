"""`measure` as JSON and in tables, on the demo's saved calibration."""

import datetime as dt

import pytest
from run_command import Run

from wearfit.workflow.wording import CAUTION


def unfolded(out: str) -> str:
    return " ".join(out.split())


def test_the_document_says_every_record_of_every_tool(wearfit: Run, demo_store: str) -> None:
    said = wearfit("measure", "--store", demo_store, "--json")
    assert said.status == 0
    document = said.document
    assert document.keys() >= {"as_of", "calibration", "fingerprint", "unnoticed", "tools", "plants", "resins"}
    for tool in document["tools"]:
        assert tool["inspect_by"] is None or dt.date.fromisoformat(tool["inspect_by"]) >= dt.date.fromisoformat(document["as_of"])
        for record in tool["records"]:
            assert record.keys() == {"record", "of", "feature", "range_months", "narrows_months"}


def test_the_table_fits_eighty_columns_and_names_every_tool_once(wearfit: Run, demo_store: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    out = wearfit("measure", "--store", demo_store).out
    tools = [tool["tool_id"] for tool in wearfit("measure", "--store", demo_store, "--json").document["tools"]]
    assert max(map(len, out.splitlines())) <= 80
    named = [line.split()[0] for line in out.splitlines() if line.strip().startswith("T-")]
    assert sorted(named) == sorted(tools)
    assert unfolded(out).count(CAUTION) == 1


def test_of_one_tool_it_says_all_that_is_missing_and_where_it_goes(wearfit: Run, demo_store: str) -> None:
    (tool,) = wearfit("measure", "--tool", "T-092", "--store", demo_store, "--json").document["tools"]
    out = unfolded(wearfit("measure", "--tool", "T-092", "--store", demo_store).out)
    assert len(tool["records"]) > 1
    assert "its cavity steel" in out
    assert "tools: cavity_steel" in out


def test_a_smaller_accepted_risk_means_an_earlier_look(wearfit: Run, demo_store: str, monkeypatch: pytest.MonkeyPatch) -> None:
    by = {}
    for risk in ("0.01", "0.2"):
        tools = wearfit("measure", "--unnoticed", risk, "--store", demo_store, "--json").document["tools"]
        by[risk] = [tool["inspect_by"] or "9999" for tool in tools]
    assert all(early <= late for early, late in zip(by["0.01"], by["0.2"], strict=True))
    assert by["0.01"] != by["0.2"]
    monkeypatch.setenv("WEARFIT_UNNOTICED", "0.2")
    told = wearfit("measure", "--store", demo_store, "--json").document
    assert [tool["inspect_by"] or "9999" for tool in told["tools"]] == by["0.2"]
    assert wearfit("measure", "--unnoticed", "2", "--store", demo_store).status == 2
