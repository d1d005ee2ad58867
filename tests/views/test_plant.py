"""The whole plant on one page: what stands where, and how it stands."""

from __future__ import annotations

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from brewlog.domain import batches
from tests import factories as make
from tests.compliance.assessment import helpers
from tests.factories import quantity
from tests.many import many_more

pytestmark = pytest.mark.django_db

URL = reverse("plant")
# Three are: session, person, brewery; two for what the person may; one begins the reading. Holds;
# open batches and starters twice each, their readings; verdicts, limits and checks; the empty
# vessels; bottles standing warm; the bottles; the stores.
QUERIES = 35


def _row(page, first: str) -> list[str]:
    (found,) = [row for row in page.rows if row[0] == first]
    return found


def test_a_vessel_shows_what_is_in_it_and_how_that_stands(browse, inspector, manager):
    helpers.limit(
        manager,
        "by_deadline",
        title="pH in time",
        measurand="ph",
        lot_kind="batch",
        operator="<=",
        value="4.2",
        within_hours=168,
        since="pitched",
    )
    jar = make.vessel(manager, "Jar 4")
    batch = make.batch(manager, vessel=jar, when=make.now(-2))
    make.reading(manager, batch, "4.31", make.now(-1))

    row = _row(browse(inspector).open(URL), "Jar 4")

    assert row[1] == batch.code
    assert row[3:7] == ["fermenting", "60 L", "2 days", "4.31"]
    assert "≤ 4.2 pH" in row[8]
    assert row[10].startswith(("5 days left: ", "4 days left: "))


def test_vessels_stand_in_the_order_of_their_names_and_empty_ones_below(browse, inspector, manager):
    for name in ("Jar 10", "Jar 2"):
        make.batch(manager, vessel=make.vessel(manager, name))
    make.vessel(manager, "Jar 30")
    make.vessel(manager, "Jar 3")
    make.vessel(manager, "Old jar", in_use=False)

    page = browse(inspector).open(URL)

    names = [row[0] for row in page.rows if row and row[0].startswith("Jar")]
    assert names == ["Jar 2", "Jar 10"]
    assert re.search("Empty: Jar 3 ?, Jar 30", page.text)
    assert "Old jar" not in page.text


def test_a_starter_shows_its_own_last_ph(browse, inspector, manager):
    starter = make.culture(manager, vessel=make.vessel(manager, "Starter jar"))
    make.reading(manager, starter, "2.9", make.now(-3))
    make.reading(manager, starter, "2.8", make.now(-1))

    assert _row(browse(inspector).open(URL), "Starter jar")[6] == "2.8"


def test_what_is_held_what_stands_warm_and_what_there_is(browse, inspector, manager, reviewer):
    flavour = make.flavour(manager, "Ginger")
    form = make.bottle_format(manager, "Brown 330")
    good, held = (
        make.bottles(
            manager,
            10,
            when=make.now(-3),
            flavour=flavour,
            format=form,
            carbonation=carbonation,
        )
        for carbonation in ("natural", "still")
    )
    make.hold(reviewer, held, "other")

    page = browse(inspector).open(URL)

    assert [row[:3] for row in page.rows if row[0] == held.code] == [
        [held.code, "Ginger, Brown 330", "other"]
    ]
    assert _row(page, good.code)[1:] == ["Ginger, Brown 330", "10", "3 days", "sugar not known"]
    assert _row(page, "Ginger")[1:4] == ["Brown 330", "20", "10"]


def test_what_planned_batches_take_stands_beside_what_there_is(browse, inspector, manager):
    version = make.recipe_version(manager)
    sugar = version.lines.get(role="sugar").ingredient
    make.ingredient_lot(manager, "10 kg", of=sugar)
    assert "Planned batches take" not in browse(inspector).open(URL).text

    batches.plan_batch(actor=manager, when=make.now(), recipe=version, planned=quantity("200 L"))

    row = _row(browse(inspector).open(URL), sugar.name)
    assert row[1:] == ["10 kg", "12 kg", "short"]


@pytest.mark.parametrize("more", [0, 2, 299])
def test_no_more_is_asked_for_many_vessels_than_for_one(browse, inspector, manager, more):
    jar = make.vessel(manager, "Jar 1")
    batch = make.batch(manager, vessel=jar, when=make.now(-2))
    starter = make.culture(manager, when=make.now(-3))
    bottles = make.bottles(manager, 10, when=make.now(-3), carbonation="natural")
    for record in (jar, batch, starter, bottles):
        many_more(manager, record, more)
    client = browse(inspector).client
    client.get(URL)

    with CaptureQueriesContext(connection) as queries:
        client.get(URL)

    assert len(queries) == QUERIES
