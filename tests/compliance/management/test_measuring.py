"""The benchmark has rows for papers, and for the list of findings once something is kept for it."""

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
    assert [each.name for each in questions()] == ["binder (pages)"]

    call_command("watch", stdout=StringIO())
    question, _ = questions()
    measured = measure(question, ())

    assert measured.question == "page of what needs a look"
    # Of each of two limits a head, and what was found of each lot.
    assert measured.size == 6
    assert list(measured.medians) == ["brewlog"]
    assert list(measured.targets) == ["under 100 ms"]


def test_papers_are_timed_once_with_the_memory_they_take(brewery, manager):
    factories.bottles(manager, batch=factories.batch(manager), drawn="33 L")
    packet, founder, bound = (measure(question, ()) for question in questions())

    assert packet.question == "recall packet, culture of late (rows)"
    assert founder.question == "recall packet, founding culture (rows)"
    assert list(packet.targets) == ["under 10000 ms"]
    # A cover, the contents, and at least a page for each chapter and each of two lots.
    assert bound.size >= 11
    assert packet.peak_mb > 20
    assert bound.peak_mb > 20
