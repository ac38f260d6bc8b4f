"""Answers come at once: the commands that give them load neither the model nor pandas."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from wearfit.calibration import Calibration

HEAVY = {"pymc", "pytensor", "nutpie", "numba", "arviz", "arviz_stats", "arviz_base", "arviz_plots", "xarray", "pandas", "streamlit"}
PROGRAM = (
    "import sys\n"
    "from wearfit.cli.main import main\n"
    "status = main(sys.argv[1:])\n"
    "print(*sorted({name.partition('.')[0] for name in sys.modules}), file=sys.stderr)\n"
    "sys.exit(status)\n"
)


def loaded_by(arguments: list[str], folder: Path) -> set[str]:
    environment = {name: value for name, value in os.environ.items() if not name.startswith("WEARFIT_")}
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, *arguments], cwd=folder, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return set(done.stderr.splitlines()[-1].split())


def next_run_of(calibration: Calibration) -> list[str]:
    levels, live = calibration.levels, calibration.live
    tool, plant, resin = str(levels.tool[live.tool[0]]), str(levels.plant[0]), str(levels.resin[0])
    return ["next-run", "--tool", tool, "--plant", plant, "--resin", resin, "--month", calibration.identity.as_of[:7], "--shots", "1000"]


@pytest.mark.parametrize("command", ["--help", "calibrations", "forecast", "measure", "next-run", "plants", "plan", "choose", "brief"])
def test_no_heavy_library_is_loaded(command: str, demo_store: str, demo_calibration: Calibration, tmp_path: Path):
    asked = {
        "next-run": next_run_of(demo_calibration),
        "choose": ["choose", "replace", "--tool", "T-049"],
        "brief": ["brief", "T-049", "--out", "x.pdf"],
    }
    arguments = asked.get(command, [command])
    if command != "--help":
        arguments += ["--store", demo_store, "--json"]
    loaded = loaded_by(arguments, tmp_path)
    assert "wearfit" in loaded
    assert not loaded & HEAVY


def test_next_runs_of_a_file_are_read_without_pandas(demo_store: str, demo_calibration: Calibration, tmp_path: Path):
    one = next_run_of(demo_calibration)
    (tmp_path / "runs.csv").write_text("tool_id,plant_id,resin_id,month,shots\n" + ",".join(one[2::2]) + "\n", encoding="utf-8")
    assert not loaded_by(["next-run", "--runs", "runs.csv", "--store", demo_store], tmp_path) & HEAVY


def test_readings_of_a_file_are_counted_without_pandas(demo_store: str, demo_calibration: Calibration, tmp_path: Path):
    levels, live, day = demo_calibration.levels, demo_calibration.live, demo_calibration.identity.as_of
    tool = str(levels.tool[live.tool[int((live.status == "running").argmax())]])
    (tmp_path / "readings.csv").write_text(f"tool_id,date,feature,value,limit\n{tool},{day},flash_mm,0.1,0.13\n", encoding="utf-8")
    for command in (["forecast"], next_run_of(demo_calibration)):
        assert not loaded_by([*command, "--readings", "readings.csv", "--store", demo_store], tmp_path) & (HEAVY | {"scipy"})


def test_a_plan_in_a_file_is_read_without_pandas(demo_store: str, tmp_path: Path):
    (tmp_path / "plan.csv").write_text("month,tool_id,shots\n2026-07,T-049,1000\n", encoding="utf-8")
    assert not loaded_by(["plan", "plan.csv", "--store", demo_store], tmp_path) & HEAVY


@pytest.mark.parametrize("command", ["recalibrate", "backtest", "demo", "check", "template"])
def test_help_loads_nothing_but_itself(command: str, tmp_path: Path):
    assert not loaded_by([command, "--help"], tmp_path) & (HEAVY | {"sqlalchemy"})


def test_the_template_is_written_without_pandas_and_without_the_store(tmp_path: Path):
    assert not loaded_by(["template", "records.xlsx"], tmp_path) & (HEAVY | {"sqlalchemy"})
