"""Untidy records, each a mess seen in practice: what is read of them, what is said of them, and what is refused."""

import datetime as dt
import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import make_workbooks
import pandas as pd
import pytest
from cases import CASES, HERE, Case

from wearfit.cli.main import main
from wearfit.errors import Refusal
from wearfit.records.assemble import assemble
from wearfit.records.findings import Finding
from wearfit.records.readers.read import read
from wearfit.records.records import Records
from wearfit.workflow.check import Check, check

TODAY = dt.date(2026, 6, 30)
TAKEN = tuple(case for case in CASES if case.refusal is None)
REFUSED = tuple(case for case in CASES if case.refusal is not None)
MOST_LETTERS = 600  # of a sentence for a person


def named(case: Case) -> str:
    return case.name


def checked(case: Case) -> Check:
    return check(case.records, case.choices, TODAY)


@cache
def first_check(name: str) -> Check:
    """The check of a case, made once for all the tests that look at it."""
    return checked(next(case for case in CASES if case.name == name))


def records_of(case: Case, with_notes: bool = True) -> Records:
    upload = read(case.records, case.choices, TODAY)
    return assemble(upload.rows, upload.empty_tables, case.choices, with_notes)


def test_there_are_cases_of_both_kinds():
    assert len(TAKEN) >= 25
    assert len(REFUSED) >= 6


@pytest.mark.parametrize("case", TAKEN, ids=named)
def test_without_what_only_tells_the_records_are_the_same(case: Case):
    told, untold = records_of(case), records_of(case, with_notes=False)
    for name, frame in told.tables.items():
        pd.testing.assert_frame_equal(untold.tables[name], frame, check_exact=True, obj=name)
    assert set(untold.findings) <= set(told.findings)
    assert all(finding.severity == "note" for finding in set(told.findings) - set(untold.findings))


@pytest.mark.parametrize("case", TAKEN, ids=named)
def test_rows_are_counted(case: Case):
    found = first_check(case.name)
    assert found.refusal is None
    assert {name: {"rows": t.rows, "used": t.used, "set_aside": t.set_aside} for name, t in found.tables.items()} == case.tables


@pytest.mark.parametrize("case", TAKEN, ids=named)
def test_what_must_be_said_is_said(case: Case):
    findings = first_check(case.name).findings
    missing = []
    for wanted in case.findings:
        times = sum(map(wanted.fits, findings))
        if times == 0 or (wanted.times is not None and times != wanted.times):
            missing.append((times, wanted))
    assert not missing, "\n".join(map(str, [*missing, "of", *findings]))


@pytest.mark.parametrize("case", TAKEN, ids=named)
def test_nothing_else_is_set_aside_or_repaired(case: Case):
    findings = first_check(case.name).findings
    unasked = [f for f in findings if f.severity != "note" and not any(wanted.fits(f) for wanted in case.findings)]
    assert not unasked
    mentioned = [f for f in findings for word in case.silent if word in f"{f.source} {f.value} {f.problem} {f.repair}"]
    assert not mentioned


@pytest.mark.parametrize("case", TAKEN, ids=named)
def test_the_records_say_what_the_owner_meant(case: Case):
    tables = records_of(case).tables
    for fact in case.facts:
        rows = tables[fact["table"]]
        for column, cell in fact.get("where", {}).items():
            rows = rows[rows[column] == cell]
        assert len(rows), fact
        assert said_by(rows, fact) == wanted_by(fact), fact


def said_by(rows: pd.DataFrame, fact: Mapping[str, Any]) -> Any:
    if "texts" in fact:
        return sorted(set(rows[fact["texts"]]))
    if "sum" in fact:
        return float(rows[fact["sum"]].sum())
    day = rows[fact["min"]].min() if "min" in fact else rows[fact["max"]].max()
    return str(pd.Timestamp(day).date())


def wanted_by(fact: Mapping[str, Any]) -> Any:
    if "texts" in fact:
        return sorted(fact["are"])
    return pytest.approx(fact["is"], rel=fact.get("within", 1e-9)) if "sum" in fact else fact["is"]


@pytest.mark.parametrize("case", REFUSED, ids=named)
def test_what_cannot_be_read_is_refused_in_a_sentence(case: Case):
    assert case.refusal is not None
    with pytest.raises(Refusal) as refused:
        checked(case)
    for part in ("problem", "repair"):
        sentence = getattr(refused.value, part)
        assert is_a_sentence(sentence), sentence
        for word in case.refusal.get(part, ()):
            assert word.casefold() in sentence.casefold()
    assert refused.value.status == case.refusal.get("status", refused.value.status)


@pytest.mark.parametrize("case", TAKEN, ids=named)
def test_findings_are_written_for_people(case: Case):
    findings = first_check(case.name).findings
    assert len(findings) == len(set(findings)), "said twice"
    for finding in findings:
        assert is_a_sentence(finding.problem), finding
        assert is_a_sentence(finding.repair), finding
        assert len(finding.value or "") <= 210
        assert names_its_place(finding), finding


def is_a_sentence(text: str) -> bool:
    first = text[:1]
    return text.isprintable() and text == text.strip() and text.endswith(".") and not first.isspace() and len(text) <= MOST_LETTERS


def names_its_place(finding: Finding) -> bool:
    """A finding about a row says in which file or sheet it stands."""
    return finding.row is None or bool(finding.source)


@pytest.mark.parametrize("case", TAKEN, ids=named)
def test_a_second_look_sees_the_same(case: Case):
    assert checked(case).as_json() == first_check(case.name).as_json()


def test_the_command_says_the_same(capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    case = next(case for case in TAKEN if case.name == "02_german_semicolon")
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("WEARFIT_STORE", raising=False)
    assert main(["check", str(case.records), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["tables"] == case.tables
    assert all(any(wanted.fits(Finding(**finding)) for finding in said["findings"]) for wanted in case.findings)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("case", REFUSED, ids=named)
def test_the_command_refuses_without_a_trace(
    case: Case, capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("WEARFIT_STORE", raising=False)
    assert main(["check", str(case.records)]) in (1, 2)
    said = capsys.readouterr()
    assert "Traceback" not in said.out + said.err
    assert "fault of its own" not in said.out + said.err


def test_the_workbooks_are_those_that_are_kept(tmp_path: Path):
    make_workbooks.main(tmp_path)
    made = [path for path in sorted(tmp_path.rglob("*")) if path.is_file()]
    assert len(made) == 14
    for path in made:
        assert path.read_bytes() == (HERE / path.relative_to(tmp_path)).read_bytes(), path.name
