"""The app, opened in this process on stores in every state."""

from pathlib import Path

import pytest
from opened import Open, Page, open_page
from stores import make_store

from wearfit.demo.shipped import scenario_folder


@pytest.fixture(scope="session")
def demo_records_store(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Address of a store with the scenario's records and its calibration; to be read only."""
    return make_store(tmp_path_factory.mktemp("demo") / "demo.db", records=scenario_folder(), calibrations=(True,))


@pytest.fixture
def own_demo_store(tmp_path: Path) -> str:
    """The same without the records, to be written to."""
    return make_store(tmp_path / "own.db", calibrations=(True,))


@pytest.fixture
def open_app(monkeypatch: pytest.MonkeyPatch) -> Open:
    """Opens a screen of the app on a store."""
    for name in ("HORIZON", "TOLERANCE"):
        monkeypatch.delenv(f"WEARFIT_{name}", raising=False)

    def opened(store: str, screen: str = "Fleet", **query: str) -> Page:
        monkeypatch.setenv("WEARFIT_STORE", store)
        return open_page(screen, query)

    return opened
