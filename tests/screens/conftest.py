"""The app, opened in this process on stores in every state."""

import datetime as dt
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from opened import Open, Page, open_page
from stores import make_store
from streamlit.components.v2 import manifest_scanner

from wearfit.demo.shipped import scenario_folder
from wearfit.workflow.answers import forecast


@pytest.fixture(scope="session", autouse=True)
def packages_looked_through_once() -> Iterator[None]:
    """A server looks once through all installed packages for parts of pages; a page in a test would each time, for most of a second."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(manifest_scanner, "scan_component_manifests", cache(manifest_scanner.scan_component_manifests))
        yield


@pytest.fixture(scope="session")
def demo_records_store(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Address of a store with the scenario's records and its calibration; to be read only."""
    return make_store(tmp_path_factory.mktemp("demo") / "demo.db", records=scenario_folder(), calibrations=(True,))


@pytest.fixture(scope="session")
def tools(demo_records_store: str) -> list[dict[str, Any]]:
    """The demo's fleet, as the command answers."""
    return list(forecast(demo_records_store)["tools"])


@pytest.fixture(scope="session")
def own_day(demo_records_store: str) -> dt.date:
    """The day up to which the demo's calibration knows the records."""
    return dt.date.fromisoformat(forecast(demo_records_store)["as_of"])


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
