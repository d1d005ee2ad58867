"""What the machine at hand cannot test is left out, and said so at the end.

`BREWLOG_CI=yes` turns that into a failure, and a skip too: there everything is installed.
Tests of one database run in that database's own run.
"""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest
from django.conf import settings

_IN_CI = os.environ.get("BREWLOG_CI") == "yes"
_BROWSERS = ("chromium", "chromium-browser", "google-chrome")


def on_postgresql() -> bool:
    return settings.DATABASES["default"]["ENGINE"] == "django.db.backends.postgresql"


def chromium() -> str | None:
    """The path of Chromium; None where there is none."""
    return next((path for name in _BROWSERS if (path := shutil.which(name))), None)


def _reasons() -> dict[str, str]:
    """By the marker of the tests that cannot run here: why not."""
    reasons = {}
    if chromium() is None:
        reasons["browser"] = "browser tests (no Chromium found)"
    if not Path(os.environ.get("BREWLOG_EPCIS_SCHEMA") or "nowhere").is_file():
        reasons["epcis_schema"] = (
            "trace events against the published schema (BREWLOG_EPCIS_SCHEMA names no file)"
        )
    if on_postgresql():
        reasons["sqlite"] = "tests of SQLite (DATABASE_URL names a PostgreSQL server)"
    else:
        reasons["postgresql"] = (
            "the suite on PostgreSQL and the tests of it (DATABASE_URL names no server)"
        )
    return reasons


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    reasons = _reasons()
    if _IN_CI and "browser" in reasons:
        raise pytest.UsageError(f"BREWLOG_CI leaves nothing out: {reasons['browser']}.")
    items[:] = [
        item for item in items if not any(item.get_closest_marker(name) for name in reasons)
    ]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    for reason in _reasons().values():
        terminalreporter.write_line(f"Left out: {reason}.", yellow=True)


def pytest_sessionfinish(session: pytest.Session) -> None:
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if not _IN_CI or reporter is None:
        return
    unwanted = [kind for kind in ("skipped", "xfailed", "xpassed") if reporter.stats.get(kind)]
    if unwanted:
        reporter.write_line(f"BREWLOG_CI allows no {' and no '.join(unwanted)} tests.", red=True)
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
