"""Fixtures shared by all tests: a brewery, and one person of each role."""

from __future__ import annotations

import pytest
import time_machine
from django.db import connections
from django.utils import timezone

from brewlog.models import Brewery, User
from tests import factories
from tests.left_out import (  # noqa: F401  hooks
    on_postgresql,
    pytest_collection_modifyitems,
    pytest_sessionfinish,
    pytest_terminal_summary,
)


@pytest.fixture(scope="session")
def django_db_modify_db_settings(django_db_modify_db_settings_parallel_suffix, tmp_path_factory):
    """SQLite's tests run on a file, as a brewery does: in memory all threads share one
    connection, and readers wait for writers."""
    database = connections["default"].settings_dict
    if not on_postgresql():
        database["TEST"]["NAME"] = str(tmp_path_factory.mktemp("database") / "test.sqlite3")


@pytest.fixture(autouse=True)
def _begins_at_noon(request):
    """Noon of today, so that no midnight, no change of clocks and no end of a minute comes while
    a test reckons with them; a test of these travels there. A browser keeps its own clock."""
    if request.node.get_closest_marker("browser"):
        yield
        return
    with time_machine.travel(timezone.now().replace(hour=12, minute=0, second=0, microsecond=0)):
        yield


@pytest.fixture(autouse=True)
def _uploads_go_to_a_scratch_folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "files"
    # The tests' passwords need no slow hash.
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.AXES_ENABLED = False


@pytest.fixture
def manager(db) -> User:
    return factories.person("manager")


@pytest.fixture
def operator(db) -> User:
    return factories.person("operator")


@pytest.fixture
def reviewer(db) -> User:
    return factories.person("reviewer")


@pytest.fixture
def inspector(db) -> User:
    return factories.person("inspector")


@pytest.fixture
def brewery(manager) -> Brewery:
    """The brewery, with its clock in Lisbon for the whole test."""
    found = factories.brewery(manager)
    timezone.activate(found.zone)
    yield found
    timezone.deactivate()
