"""A flag beats the environment, which beats the store's settings, which beat the default."""

from pathlib import Path

import pytest
from run_command import Run

from wearfit.calibration import Calibration
from wearfit.store.store import Store


def test_the_store_is_named_by_flag_else_environment_else_default(wearfit: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path):
    def store_in_use(*arguments: str) -> str:
        said = wearfit("calibrations", *arguments)
        assert said.status == 1
        return said.err.split("There is no store at ")[1].split(" yet")[0]

    assert store_in_use() == str(tmp_path / "wearfit.db")
    monkeypatch.setenv("WEARFIT_STORE", "environment.db")
    assert store_in_use() == str(tmp_path / "environment.db")
    assert store_in_use("--store", "flag.db") == str(tmp_path / "flag.db")
    assert store_in_use("--store", "sqlite:///url.db") == str(tmp_path / "url.db")


def test_horizon(wearfit: Run, monkeypatch: pytest.MonkeyPatch, demo_store: str, demo_calibration: Calibration):
    some = [str(demo_calibration.levels.tool[tool]) for tool in demo_calibration.live.tool[:12]]

    def dates(*arguments: str) -> int:
        """How many quantiles of some tools have a date."""
        tools = wearfit("forecast", "--store", demo_store, "--json", "--tool", *some, *arguments).document["tools"]
        return sum(day is not None for tool in tools for day in tool["wear_out_on"].values())

    by_default, one, two, three = (dates("--horizon", years) for years in ("10", "1", "2", "3"))
    assert one < two < three < by_default
    assert dates() == by_default
    with Store.open(demo_store) as store:
        store.set_setting("horizon", "1")
    assert dates() == one
    monkeypatch.setenv("WEARFIT_HORIZON", "2")
    assert dates() == two
    assert dates("--horizon", "3") == three
    monkeypatch.delenv("WEARFIT_HORIZON")
    with Store.open(demo_store) as store:
        store.set_setting("horizon", "far")
    broken = wearfit("forecast", "--store", demo_store)
    assert broken.status == 2
    assert "horizon" in broken.err
    with Store.open(demo_store) as store:
        store.set_setting("horizon", None)


def test_a_bad_value_in_the_environment_is_wrong_use(wearfit: Run, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("WEARFIT_SEED", "many")
    said = wearfit("recalibrate", ".")
    assert said.status == 2
    assert "many" in said.err
