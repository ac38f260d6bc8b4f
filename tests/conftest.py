"""What holds for every test."""

import importlib.util
import itertools
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import own_server
import pytest
from sqlalchemy import create_engine

# A process of tests has one core to itself. Small products of matrices that are spread over more than there are wait for each other.
# Before NumPy is loaded; what the tests start inherits it.
for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

_NUMBERS = itertools.count()

# Files that take longest come first, or one process would still be at them when the other has nothing left to do. The first compiles
# what all models share, while the other process is at two that compile none: side by side, two would compile it twice.
LONGEST_FIRST = (
    "workflow/test_workflow_backtest.py", "model/test_rows_marginal.py", "model/test_padding.py", "model/test_recovery.py",
    "workflow/test_workflow_faults.py", "cli/test_cli_recalibrate.py", "model/test_posterior_metamorphic.py",
    "cli/test_cli_fingerprint.py", "untidy/test_untidy.py",
)  # fmt: skip

# The benchmark's own dependency group, which no other test wants: its slow test is there only where that is installed.
collect_ignore = [] if importlib.util.find_spec("numpyro") else ["model/test_in_numpyro.py"]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the tests of the files that take longest first."""
    place = {Path(__file__).parent / name: i for i, name in enumerate(LONGEST_FIRST)}
    items.sort(key=lambda item: place.get(item.path, len(place)))


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    """On the build machine everything that a test needs is there: a skipped test is a failed one."""
    reporter: Any = session.config.pluginmanager.get_plugin("terminalreporter")
    if os.environ.get("CI") == "true" and reporter is not None and reporter.stats.get("skipped") and session.exitstatus == 0:
        session.exitstatus = 1


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """Address of a PostgreSQL server for tests: the one that the environment names, else one of this process's own."""
    if named := os.environ.get(own_server.VARIABLE):
        yield named
        return
    if own_server.binaries() is None:
        pytest.skip("the programs of a PostgreSQL server are not installed (Debian: apt-get install postgresql)")
    url = own_server.start()
    yield url
    own_server.stop(url)


@pytest.fixture
def database(server: str) -> Iterator[str]:
    """Address of an empty database of the server, dropped after the test."""
    name = f"test_{os.getpid()}_{next(_NUMBERS)}"
    engine = create_engine(server, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.exec_driver_sql(f"CREATE DATABASE {name}")
    yield server.replace("/postgres?", f"/{name}?")
    with engine.connect() as connection:
        connection.exec_driver_sql(f"DROP DATABASE {name} WITH (FORCE)")
    engine.dispose()
