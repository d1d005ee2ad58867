from __future__ import annotations

import pytest

from tests.compliance.documents import story as told
from tests.compliance.documents.story import Story


@pytest.fixture
def story(brewery, manager) -> Story:
    return told.tell(manager)
