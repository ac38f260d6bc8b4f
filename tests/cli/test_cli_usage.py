"""Wrong use is a sentence with its repair and exit status 2, and JSON where that was asked for."""

import re
from pathlib import Path

import pytest
from run_command import Run

from wearfit.cli.main import COMMANDS
from wearfit.decisions.choices import DECISIONS

WRONG = (
    ("forecst",),
    ("--bogus",),
    ("check",),
    ("check", "one", "two"),
    ("check", "nowhere"),
    ("check", ".", "--choices", "nowhere.toml"),
    ("template",),
    ("template", "records.csv"),
    ("calibrations", "extra"),
    ("calibrations", "--use"),
    ("calibrations", "--use", "x"),
    ("calibrations", "--bogus"),
    ("calibrations", "--store", "mysql://somewhere/else"),
    ("calibrations", "--store", ""),
    ("history", "--after", "x"),
    ("history", "--after", "1", "--restore", "1"),
    ("history", "--out", "folder"),
    ("forecast", "--as-of", "2026-02-30"),
    ("forecast", "--as-of", "30.06.2026"),
    ("forecast", "--horizon", "0"),
    ("forecast", "--tolerance", "1"),
    ("forecast", "T-001"),
    ("recalibrate", "nowhere"),
    ("recalibrate", "--seed", "-1"),
    ("recalibrate", "--cluster", "tcp://somewhere"),
    ("recalibrate", "--priors", "nowhere.toml", "."),
    ("recalibrate", "--choices", "nowhere.toml", "."),
    ("next-run",),
    ("next-run", "--tool", "T-001"),
    ("next-run", "--tool", "T", "--plant", "P", "--resin", "R", "--month", "July", "--shots", "1"),
    ("next-run", "--tool", "T", "--plant", "P", "--resin", "R", "--month", "2026-13", "--shots", "1"),
    ("next-run", "--tool", "T", "--plant", "P", "--resin", "R", "--month", "2026-07", "--shots", "0"),
    ("next-run", "--tool", "T", "--plant", "P", "--resin", "R", "--month", "2026-07", "--shots", "1.5"),
    ("next-run", "--tool", "T", "--runs", "runs.csv"),
    ("next-run", "--runs", "nowhere.csv"),
    ("plants", "--as-of", "soon"),
    ("backtest", "--cutoffs", "0"),
    ("backtest", "--cutoffs", "2", "--on", "2024-01-31"),
    ("backtest", "--horizon", "0"),
    ("backtest", "--on", "31.01.2024"),
    ("backtest", "--processes", "0"),
    ("backtest", "--cluster", "tcp://somewhere", "--processes", "2"),
    ("brief",),
    ("brief", "T-001"),
    ("export",),
    ("export", "one", "two"),
    ("plan", "nowhere.csv"),
    ("plan", "--months", "0"),
    ("plan", "--months", "many"),
    ("plan", "--refurbish", "sometimes"),
    ("plan", "--uptime", "2"),
    ("choose", "nothing"),
    ("choose", "refurbish", "--tool", "T-001", "--planned-shots", "many"),
    ("choose", "refurbish", "--bogus", "1"),
)


@pytest.mark.parametrize("arguments", WRONG, ids=" ".join)
def test_wrong_use(wearfit: Run, arguments: tuple[str, ...]):
    said = wearfit(*arguments)
    assert said.status == 2
    assert said.out == ""
    lines = [line for line in said.err.splitlines() if line and line != "reading the records"]
    assert len(lines) == 1
    assert lines[0].endswith(".")
    as_json = wearfit(*arguments, "--json")
    assert as_json.status == 2
    assert set(as_json.document) == {"error", "repair"}
    assert all(as_json.document.values())


@pytest.mark.parametrize(
    "arguments",
    [("forecast",), ("plants",), ("plan",), ("calibrations",), ("history",), ("recalibrate",), ("backtest",), ("export", "new")],
    ids=" ".join,
)
def test_a_store_that_is_not_there_gives_no_answer_and_is_not_made(wearfit: Run, tmp_path: Path, arguments: tuple[str, ...]):
    said = wearfit(*arguments, "--json")
    assert said.status == 1
    assert set(said.document) == {"error", "repair"}
    assert not (tmp_path / "wearfit.db").exists()


def test_help_names_every_command_in_the_order_of_the_work(wearfit: Run):
    said = wearfit("--help")
    assert said.status == 0
    places = [said.out.index(f"│ {name} ") for name, _ in COMMANDS]
    assert places == sorted(places)
    assert wearfit().out == said.out


@pytest.mark.parametrize(
    "command", [*((name,) for name, _ in COMMANDS if name != "choose"), *(("choose", d.name) for d in DECISIONS)], ids=" ".join
)
def test_every_option_says_what_it_is_for(wearfit: Run, monkeypatch: pytest.MonkeyPatch, command: tuple[str, ...]):
    monkeypatch.setenv("COLUMNS", "80")
    options = [line.strip("│ *") for line in wearfit(*command, "--help").out.splitlines() if re.match(r"│ (\*\s+)?--", line)]
    assert options
    # The name and what is typed, at least two blanks, and then words.
    assert [option for option in options if not re.fullmatch(r"--\S+( \S+)? {2,}\w.*", option)] == []


@pytest.mark.parametrize(
    "command", [*((name,) for name, _ in COMMANDS if name != "choose"), *(("choose", d.name) for d in DECISIONS)], ids=" ".join
)
def test_every_command_takes_store_and_json(wearfit: Run, command: tuple[str, ...]):
    said = wearfit(*command, "--help")
    assert said.status == 0
    for words in ("--store", "WEARFIT_STORE", "--json"):
        assert words in said.out
    for clutter in ("--no-json", "--empty", "default:", "Annotated"):
        assert clutter not in said.out


def test_an_unexpected_fault_is_a_document_too(wearfit: Run, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture):
    def fail(*arguments: object) -> None:
        raise ZeroDivisionError("by nothing")

    monkeypatch.setattr("wearfit.workflow.calibrations.calibrations", fail)
    said = wearfit("calibrations", "--json")
    assert said.status == 1
    assert "by nothing" in said.document["error"]
    assert "Traceback" in caplog.text


def test_an_interrupt_is_said_without_a_traceback(wearfit: Run, monkeypatch: pytest.MonkeyPatch):
    def interrupt(*arguments: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("wearfit.workflow.calibrations.calibrations", interrupt)
    said = wearfit("calibrations")
    assert said.status == 1
    assert said.err.startswith("Stopped.")
    assert "Traceback" not in said.err
