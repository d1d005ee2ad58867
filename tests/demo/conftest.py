"""The demo is read in once for all tests of a module: it takes half a minute."""

from __future__ import annotations

import pytest

from tests.demo.loading import demo_records


@pytest.fixture(scope="module")
def demo(django_db_setup, django_db_blocker):
    """What the import reported; its records are in the database during the module."""
    with django_db_blocker.unblock(), demo_records() as outcome:
        yield outcome
