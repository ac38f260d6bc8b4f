"""What holds for every test."""

import importlib.util
import itertools
import os
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import own_server
import pytest

# A process of tests has one core to itself. Small products of matrices that are spread over more than there are wait for each other.
# Before NumPy is loaded; what the tests start inherits it.
for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

# Files that take longest come first, or one process would still be at them when the other has nothing left to do. The first compiles
# what all models share, while the other process is at two that compile none: side by side, two would compile it twice.
LONGEST_FIRST = (
    "workflow/test_workflow_backtest.py", "model/test_rows_marginal.py", "model/test_padding.py", "model/test_recovery.py",
    "workflow/test_workflow_faults.py", "cli/test_cli_recalibrate.py", "model/test_posterior_metamorphic.py",
    "cli/test_cli_fingerprint.py", "untidy/test_untidy.py", "model/test_sbc.py",
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
    with own_server.empty_database(server) as url:
        yield url


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.server)])
def new_store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Callable[[], str]]:
    """Gives the address of a store that is not there yet, of another one at each call; once for each kind of store."""
    with ExitStack() as made:
        if request.param == "sqlite":
            numbers = itertools.count(1)
            yield lambda: str(tmp_path / ("wearfit.db" if (n := next(numbers)) == 1 else f"wearfit-{n}.db"))
        else:
            server = request.getfixturevalue("server")
            yield lambda: made.enter_context(own_server.empty_database(server))


@pytest.fixture
def url(new_store: Callable[[], str]) -> str:
    """Address of a store that is not there yet, once of each kind."""
    return new_store()
