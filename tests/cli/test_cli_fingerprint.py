"""Every answer of the command names the fingerprint of the calibration, as a document and in its words."""

from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Final

import pytest
from run_command import Run
from stores import make_store

from wearfit.cli.main import COMMANDS
from wearfit.demo.shipped import scenario_folder
from wearfit.workflow.answers import forecast

ASKED: Final[dict[str, tuple[str, ...]]] = {
    "preview": (),
    "calibrations": (),
    "forecast": (),
    "measure": (),
    "next-run": ("--tool", "T-049", "--plant", "salt-quay", "--resin", "pp-natural", "--month", "2026-10", "--shots", "88000"),
    "plants": (),
    "plan": (),
    "choose": ("replace", "--tool", "T-049"),
    "fit": (),
    "moved": (),
    "brief": ("T-049", "--out", "brief.pdf"),
    "export": ("exported",),
}
# They have no store, make calibrations, or tell what was done or logged and nothing of wear: the tests of each look at its document.
OTHERS: Final = {"demo", "template", "check", "recalibrate", "backtest", "serve", "law", "history", "worker", "rollup"}


@pytest.fixture(scope="session")
def store(tmp_path_factory: pytest.TempPathFactory) -> str:
    return make_store(tmp_path_factory.mktemp("whole") / "demo.db", records=scenario_folder(), calibrations=(True,))


@pytest.fixture
def worked_out_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Answers that take many seconds are the same as a document and in words, and are worked out for one of them."""
    for name in ("moved", "fit"):
        module = import_module(f"wearfit.workflow.{name}")
        held = cache(getattr(module, name))
        monkeypatch.setattr(module, name, lambda store, report, held=held: held(store))


def test_every_command_is_looked_at() -> None:
    assert ASKED.keys() | OTHERS == {name for name, _ in COMMANDS}


@pytest.mark.usefixtures("worked_out_once")
@pytest.mark.parametrize("command", ASKED)
def test_it_names_its_calibration(wearfit: Run, store: str, command: str) -> None:
    wanted = forecast(store)["fingerprint"]
    said = wearfit(command, *ASKED[command], "--store", store, "--json")
    assert said.status == 0, said.err
    document = said.document
    assert (document["calibration"], document["fingerprint"]) == (1, wanted)
    assert document.keys() >= {"as_of"}
    if command == "export":
        Path("exported").rename("before")
    assert wanted in wearfit(command, *ASKED[command], "--store", store).out


def test_a_check_names_the_fingerprint_of_the_records(wearfit: Run, store: str) -> None:
    assert forecast(store)["fingerprint"] in wearfit("check", str(scenario_folder())).out
