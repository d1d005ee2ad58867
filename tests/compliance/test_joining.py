"""What is written in the browser or by an import is looked at before it is kept."""

from __future__ import annotations

import pytest
from django.test import RequestFactory

from brewlog.domain.looking import look_at, lots_touched
from brewlog.importing.reading import read_files
from brewlog.importing.running import import_source
from brewlog.models import Checkpoint, Hold
from brewlog.recording import recording
from brewlog.views.submissions import sending_of
from compliance.domain.watch import undecided
from tests import factories
from tests.compliance import rules
from tests.factories import at

pytestmark = pytest.mark.django_db

READINGS = """Lot,Measured,Reading,Stage,When,By
{code},pH,4.60,"finished, cold",2026-03-14 09:00,{by}
"""


@pytest.fixture
def bottles(operator, brewery):
    return factories.bottles(operator, when=at(12))


def imported(manager, operator, bottles, **options):
    sheet = READINGS.format(code=bottles.code, by=operator.username)
    source = read_files("Readings.csv", [("Readings.csv", sheet.encode())])
    return import_source(source, actor=manager, **options)


def test_an_import_keeps_back_what_it_shows_to_be_outside_and_says_so(manager, operator, bottles):
    rules.bound(manager, "kombucha-guidance")

    outcome = imported(manager, operator, bottles)

    assert outcome.problems == []
    hold = Hold.objects.get()
    assert (hold.lot_id, hold.recorded_by) == (bottles.pk, manager)
    assert outcome.seen == [f"{bottles.code} is kept back. {hold.reason}. A reviewer decides."]


def test_an_import_that_is_only_looked_at_keeps_nothing_back(manager, operator, bottles):
    rules.bound(manager, "kombucha-guidance")

    outcome = imported(manager, operator, bottles, dry_run=True)

    assert outcome.seen == []
    assert not Hold.objects.exists()
    assert not Checkpoint.objects.exists()


def test_nothing_is_kept_back_while_no_rule_set_binds(manager, operator, bottles):
    assert imported(manager, operator, bottles).seen == []
    assert not Hold.objects.exists()


def test_only_the_lots_touched_are_looked_at(manager, operator, bottles):
    rules.bound(manager, "kombucha-guidance")
    other = factories.bottles(operator, when=at(12))
    for lot in (bottles, other):
        factories.reading(operator, lot, "4.60", when=at(14), stage="finished")

    with recording(operator):
        said = look_at(operator, [bottles])

    assert [words.split()[0] for words in said] == [bottles.code]
    assert [finding.lot.pk for finding in undecided([bottles, other])] == [other.pk]


def test_lots_are_found_in_what_a_verb_was_given_and_what_came_of_it(operator, bottles):
    batch = factories.batch(operator)
    use = factories.use(operator, batch, factories.batch(operator), "2 L")
    reading = factories.reading(operator, bottles, stage="finished", when=at(14))

    touched = lots_touched([reading, [use], "4.60", None])

    assert {lot.pk for lot in touched} == {bottles.pk, use.source_id, use.into_id}


def test_a_form_is_told_apart_by_all_but_the_password(operator):
    def sent(**fields):
        request = RequestFactory().post("/record/release/", {"form_token": "x" * 20, **fields})
        request.user = operator
        return sending_of(request).digest

    assert sent(lot="A", password="one") == sent(lot="A", password="another")
    assert sent(lot="A", password="one") != sent(lot="B", password="one")
