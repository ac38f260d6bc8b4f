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

# The benchmark's own dependency group, which no other test wants: its slow test is there only where that is installed.
collect_ignore = [] if importlib.util.find_spec("numpyro") else ["model/test_in_numpyro.py"]


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
