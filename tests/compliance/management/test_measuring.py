"""The benchmark has a row for the list of findings once something is kept for it."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import call_command
from django.utils import timezone

from brewlog.management.measuring import measure
from compliance.management.measuring import questions
from tests import factories
from tests.compliance import rules

pytestmark = pytest.mark.django_db


def test_the_page_is_measured_once_the_watch_has_run(brewery, manager):
    rules.bound(manager, "house-template")
    timezone.deactivate()
    factories.bottles(manager)
    factories.bottles(manager)
    assert questions() == []

    call_command("watch", stdout=StringIO())
    (question,) = questions()
    measured = measure(question, ())

    assert measured.question == "page of what needs a look"
    # A head, and two findings of each lot.
    assert measured.size == 5
    assert list(measured.medians) == ["brewlog"]
    assert list(measured.targets) == ["under 100 ms"]
