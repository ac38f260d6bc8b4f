"""`wearfit rollup` on a small log: runs and climate to files that the records read, and refusals."""

import datetime as dt
from pathlib import Path

import pytest
from run_command import Run
from shot_logs import FIRST, by_weeks, simulated, write_all

SHOTS = simulated(31, tools=2, sessions=5)


@pytest.fixture
def log(tmp_path: Path) -> Path:
    write_all(tmp_path / "log", by_weeks(SHOTS))
    return tmp_path / "log"


def air(path: Path) -> Path:
    rows = (f"P1,{FIRST + dt.timedelta(hours=h)},{10 + h % 12},{60 + h % 7}\n" for h in range(24 * 60))
    path.write_text("plant_id,timestamp,temp_c,rh_pct\n" + "".join(rows))
    return path


def test_it_writes_runs_and_climate_and_says_what_it_did(wearfit: Run, log: Path, tmp_path: Path) -> None:
    options = ("--out", "runs.csv", "--air", air(tmp_path / "air.csv"), "--air-out", "climate.csv", "--processes", "1")
    said = wearfit("rollup", log, *options)
    assert said.status == 0
    assert f"{len(SHOTS):,} shots in" in " ".join(said.out.split())
    assert "climate.csv" in said.out
    assert (tmp_path / "runs.csv").read_text().startswith("tool_id,plant_id,resin_id,started_on,ended_on,shots")
    assert (tmp_path / "climate.csv").read_text().startswith("plant_id,month,temp_c,rh_pct,place\nP1,2024-02,")
    again = wearfit("rollup", log, *options, "--json").document
    assert again["shots"] == len(SHOTS)
    assert again["parts_found"] == again["parts_drawn"]
    assert again["climate"]["out"] == "climate.csv"


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--out", "runs.xlsx"), "does not end in .csv"),
        (("--out", "no/such/runs.csv"), "does not exist"),
        (("--out", "runs.csv", "--gap", "0"), "A gap of"),
        (("--out", "runs.csv", "--memory", "1"), "too little"),
        (("--out", "runs.csv", "--column", "tool_id"), "OURS=THEIRS"),
        (("--out", "runs.csv", "--column", "colour=red"), "no column that a log is read for"),
        (("--out", "runs.csv", "--column", "tool_id=form"), "has no column 'form'"),
        (("--out", "runs.csv", "--air", "air.csv"), "given together"),
        (("--out", "runs.csv", "--air", "air.csv", "--air-out", "runs.csv"), "one file"),
        (("--out", "runs.csv", "--air", "air.csv", "--air-out", "c.csv", "--air-by", "year"), "by 'year'"),
        (("--out", "runs.csv", "--cluster", "tcp://127.0.0.1:9", "--processes", "2"), "Leave out"),
    ],
)
def test_wrong_use_is_told_and_nothing_is_written(wearfit: Run, log: Path, tmp_path: Path, options: tuple[str, ...], said: str) -> None:
    before = set(tmp_path.iterdir())
    refused = wearfit("rollup", log, *options)
    assert refused.status == 2
    assert said in refused.err
    assert set(tmp_path.iterdir()) == before


def test_a_file_that_is_no_runs_table_is_not_written_over(wearfit: Run, log: Path, tmp_path: Path) -> None:
    (tmp_path / "runs.csv").write_text("a letter")
    assert wearfit("rollup", log, "--out", "runs.csv", "--processes", "1").status == 2
    assert (tmp_path / "runs.csv").read_text() == "a letter"


def test_without_duckdb_it_says_what_to_install(wearfit: Run, log: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "duckdb", None)
    refused = wearfit("rollup", log, "--out", "runs.csv")
    assert refused.status == 2
    assert "pip install 'wearfit[logs]'" in refused.err
