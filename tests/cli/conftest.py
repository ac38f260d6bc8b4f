"""Running the command in this process, and a store that answers from the demo's saved calibration."""

import datetime as dt
from pathlib import Path

import pytest
from run_command import Run, Said

from wearfit.calibration import Calibration, from_bytes
from wearfit.cli.main import main
from wearfit.demo.shipped import shipped_calibration_bytes
from wearfit.store.calibrations import CalibrationSummary
from wearfit.store.store import Store


@pytest.fixture
def wearfit(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Run:
    """The command, in an empty working folder and without settings from the environment."""
    monkeypatch.chdir(tmp_path)
    for name in ("STORE", "HORIZON", "TOLERANCE", "UNNOTICED", "SEED", "PRIORS", "CHOICES"):
        monkeypatch.delenv(f"WEARFIT_{name}", raising=False)

    def run(*arguments: str | Path) -> Said:
        capsys.readouterr()
        status = main([str(argument) for argument in arguments])
        captured = capsys.readouterr()
        return Said(status, captured.out, captured.err)

    return run


@pytest.fixture(scope="session")
def demo_bytes() -> bytes:
    return shipped_calibration_bytes()


@pytest.fixture(scope="session")
def demo_calibration(demo_bytes: bytes) -> Calibration:
    return from_bytes(demo_bytes)


@pytest.fixture(scope="session")
def demo_store(demo_bytes: bytes, demo_calibration: Calibration, tmp_path_factory: pytest.TempPathFactory) -> str:
    """Address of a store in which the demo's calibration is current."""
    url = str(tmp_path_factory.mktemp("store") / "demo.db")
    identity = demo_calibration.identity
    summary = CalibrationSummary(
        dt.date.fromisoformat(identity.as_of), identity.fingerprint, True, (), identity.lives, identity.wear_outs, identity.seed,
        identity.model_version, identity.format_version, identity.wear_law,
    )  # fmt: skip
    with Store.open(url) as store:
        store.add_calibration(demo_bytes, summary, make_current=True)
    return url
