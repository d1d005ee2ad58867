"""Browsers, as for the pages of the records, and rule sets that bind."""

from __future__ import annotations

import pytest

from tests.compliance import rules
from tests.views.conftest import browse, strict_templates  # noqa: F401  fixtures


@pytest.fixture
def guidance(manager):
    """The published guidance, binding since the beginning of 2026."""
    return rules.bound(manager, "kombucha-guidance")
