"""What holds for every test."""

import os
from typing import Any

import pytest


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    """On the build machine everything that a test needs is there: a skipped test is a failed one."""
    reporter: Any = session.config.pluginmanager.get_plugin("terminalreporter")
    if os.environ.get("CI") == "true" and reporter is not None and reporter.stats.get("skipped") and session.exitstatus == 0:
        session.exitstatus = 1
