"""What the answers wait for: loading the store and opening one that is up to date."""

import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from wearfit.store.store import Store

_OPEN = """
import sys, time
from wearfit.store.store import Store
with Store.open(sys.argv[1], must_exist=True) as store:
    store.current_id()
    print(time.process_time())
print(*sorted(name for name in sys.modules if "." not in name))
"""


@pytest.fixture
def opened(path: Path, tmp_path: Path) -> Callable[[], tuple[float, set[str]]]:
    """Opens an up-to-date store in a new process; gives its CPU time [s] and the modules it loaded."""
    Store.open(str(path)).close()
    # Compiled modules are kept, as on a user's machine, wherever the tests themselves run without.
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    environment["PYTHONPYCACHEPREFIX"] = str(tmp_path / "compiled")

    def run() -> tuple[float, set[str]]:
        done = subprocess.run([sys.executable, "-c", _OPEN, str(path)], env=environment, capture_output=True, text=True, check=True)
        seconds, modules = done.stdout.splitlines()
        return float(seconds), set(modules.split())

    return run


def test_opening_an_up_to_date_store_loads_little(opened: Callable[[], tuple[float, set[str]]]) -> None:
    assert not opened()[1] & {"alembic", "numpy", "pandas"}


@pytest.mark.slow
def test_opening_an_up_to_date_store_is_fast(opened: Callable[[], tuple[float, set[str]]]) -> None:
    opened()
    assert min(opened()[0] for _ in range(3)) < 0.35


@pytest.mark.slow
def test_a_large_upload_is_fast(path: Path, runs: Callable, upload_of: Callable) -> None:
    upload = upload_of(runs(range(40_000)))
    with Store.open(str(path)) as store:
        start = time.process_time()
        outcome = store.add_upload(upload)
        seconds = time.process_time() - start
        assert outcome.new == 40_000
        assert len(store.rows()) == 40_000
    assert seconds < 4
