"""Every template of these pages is rendered, and none asks for what it is not given."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client
from django.test.signals import template_rendered
from django.urls import reverse

from brewlog.domain import lots
from brewlog.entries import ENTRIES
from brewlog.models import User
from brewlog.views.nouns import LISTINGS
from tests import factories as make
from tests.factories import at
from tests.views.conftest import read

pytestmark = pytest.mark.django_db

# Tested where they are used: the calculations, the import, who is at work, plans of two, the
# limits beside an entry, pages without a request.
ELSEWHERE = {
    "500.html",
    "403_csrf.html",
    "brewlog/_plain.html",
    "registration/locked_out.html",
    "brewlog/first_manager.html",
    "brewlog/_meanwhile.html",
    "brewlog/_held_to.html",
    "brewlog/_why_limits.html",
}


def _ours() -> set[str]:
    folder = Path(settings.BASE_DIR) / "templates"
    found = {path.relative_to(folder).as_posix() for path in folder.rglob("*.html")}
    others = (
        "compliance/",
        "brewlog/calc",
        "brewlog/_answer",
        "brewlog/who",
        "brewlog/_who",
        "brewlog/import",
        "brewlog/_problems",
    )
    return {name for name in found if not name.startswith(others)} - ELSEWHERE


@pytest.fixture
def rendered():
    """The names of the templates rendered while the test runs."""
    names = set()

    def note(template, **signal):
        names.add(template.name)

    template_rendered.connect(note)
    yield names
    template_rendered.disconnect(note)


def test_every_template_is_rendered_with_all_it_asks_for(
    rendered, browse, manager, inspector, reviewer, brewery
):
    starter = make.culture(manager)
    batch = make.batch(manager, starter=starter, when=at(3))
    first = make.bottles(manager, 100, batch, "40 L", at(10))
    make.use(manager, make.batch(manager, "40 L"), batch, "20 L", at(12))
    make.shipment(manager, first, "120")
    make.hold(reviewer, starter)
    wrong = make.reading(manager, batch)
    for day in (5, 6):
        make.reading(manager, batch, when=at(day))
    lots.void(actor=manager, record=wrong, reason="another batch")
    again = make.ingredient_lot(manager, code="TW-1")
    lots.void(actor=manager, record=again, reason="typed twice")
    make.ingredient_lot(manager, code="TW-1")
    browser = browse(manager)

    pages = [
        reverse("home"),
        reverse("today-kind", args=["planned"]),
        reverse("bottling-day"),
        f"{reverse('bottling-day')}?batch={batch.code}",
        reverse("plant"),
        reverse("records"),
        reverse("entry-index"),
        reverse("round"),
        reverse("batch-to-batch"),
        *(reverse("entry", args=[entry.slug]) for entry in ENTRIES),
        *(reverse(f"{listing.noun}-list") for listing in LISTINGS),
        *(
            reverse(name, args=[code])
            for name in (
                "lot-detail",
                "lot-course",
                "lot-history",
                "lot-stock",
                "lot-trace",
                "lot-recall",
            )
            for code in (starter.code, batch.code, first.code, "TW-1", "no-such")
        ),
        *(
            reverse(f"record-{name}", args=["checkpoint", wrong.pk])
            for name in ("detail", "history", "void", "correct")
        ),
        reverse("family", args=[starter.line.pk]),
        reverse("supplier-detail", args=[make.supplier(manager).pk]),
        reverse("person-detail", args=[manager.pk]),
        reverse("own-password"),
        "/no/such/page",
    ]
    for page in pages:
        browser.open(page)
    browser.open(reverse("entry", args=["reading"]), lot=batch.code)
    told = make.reading(manager, batch)
    browser.open(reverse("lot-detail", args=[batch.code]), reading=told.pk)
    saving = f"{reverse('saved-view-save', args=['supplier'])}?q=hill"
    browser.open(saving)
    browser.send(saving, {"name": "Hills"})
    browser.open(reverse("saved-views"))
    for words in ("", starter.code[:3], "no such thing"):
        browser.open(reverse("find"), q=words)
    bottling = browser.fill(reverse("entry", args=["bottle"]))
    browser.send(reverse("entry", args=["bottle"]), bottling)
    browser.send(reverse("entry", args=["bottle"]), bottling | {"suggest": "1"})
    brewing = browser.fill(reverse("entry", args=["brew"]))
    browser.send(reverse("entry", args=["brew"]), brewing | {"suggest": "1"})
    browse(inspector).open(reverse("entry", args=["receive"]))
    read(Client().get(reverse("login")))

    assert _ours() - rendered == set()


def test_a_page_before_there_is_a_brewery_asks_for_nothing_it_has_not(strict_templates):
    client = Client()
    client.force_login(User.objects.create_superuser("owner", password="living culture 7"))

    for name in ("home", "records", "entry-index", "batch-list"):
        assert read(client.get(reverse(name))).status == 200
    for entry in ENTRIES:
        assert read(client.get(reverse("entry", args=[entry.slug]))).status == 200
