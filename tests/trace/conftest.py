from __future__ import annotations

import pytest

from tests.trace.plants import Plant


@pytest.fixture
def plant(operator) -> Plant:
    return Plant(operator)
