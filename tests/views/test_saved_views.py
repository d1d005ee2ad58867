"""Views of a list that people keep: under a name, for themselves or offered to everyone."""

from __future__ import annotations

import pytest
from django.urls import reverse

from brewlog.models import SavedView
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def suppliers(manager):
    for name in ("Hill Farm", "Hill Sugar", "Granite Tea"):
        make.supplier(manager, name)


def _save(browser, name, q="hill", **form):
    """Keep the suppliers called Hill, the last first, from the link above the list."""
    page = browser.open(reverse("supplier-list"), q=q, sort="-name", page="1")
    return browser.send(page.links["Save this view"], {"name": name} | form)


def test_a_view_brings_back_the_search_and_the_order(browse, operator, suppliers):
    browser = browse(operator)

    saved = _save(browser, "Hills, backwards")
    page = browser.open(browser.open(reverse("supplier-list")).links["Hills, backwards"])

    assert [row[0] for row in saved.rows[1:]] == ["Hill Sugar", "Hill Farm"]
    assert [row[0] for row in page.rows[1:]] == ["Hill Sugar", "Hill Farm"]
    assert "Save this view" not in page.links
    assert SavedView.objects.get().query == "q=hill&sort=-name"


def test_a_view_is_ones_own_until_a_manager_offers_it(browse, operator, manager, suppliers):
    _save(browse(operator), "Mine", is_shared="on")
    _save(browse(manager), "Ours", is_shared="on")
    _save(browse(manager), "Manager's own", q="tea")

    links = browse(operator).open(reverse("supplier-list")).links

    assert {"Mine", "Ours"} <= set(links)
    assert "Manager's own" not in links
    assert not SavedView.objects.get(name="Mine").is_shared


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("", "This is required"),
        ("x" * 61, "At most 60 characters are kept; these are 61."),
        ("hills", "of that name"),
    ],
)
def test_a_name_that_will_not_do_is_refused_and_kept_in_the_form(
    browse, operator, suppliers, name, said
):
    browser = browse(operator)
    _save(browser, "Hills")

    page = browser.send(reverse("saved-view-save", args=["supplier"]) + "?q=hill", {"name": name})

    assert said in page.text
    assert page.fields["name"] == name
    assert SavedView.objects.count() == 1


def test_a_view_is_renamed_offered_and_deleted(browse, manager, suppliers):
    browser = browse(manager)
    _save(browser, "Hills")
    view, address = SavedView.objects.get(), reverse("saved-views")

    browser.send(address, {"view": view.pk, "do": "rename", "name": " All  hills "})
    browser.send(address, {"view": view.pk, "do": "share"})
    view.refresh_from_db()
    assert (view.name, view.is_shared) == ("All hills", True)
    browser.send(address, {"view": view.pk, "do": "keep"})
    view.refresh_from_db()
    assert not view.is_shared
    page = browser.send(address, {"view": view.pk, "do": "delete"})

    assert "None yet." in page.text
    assert not SavedView.objects.exists()


def test_a_refused_name_stays_in_its_box(browse, operator, suppliers):
    browser = browse(operator)
    _save(browser, "Hills")
    _save(browser, "Slopes", q="sugar")
    second = SavedView.objects.get(name="Slopes")

    page = browser.send(
        reverse("saved-views"), {"view": second.pk, "do": "rename", "name": "hills"}
    )

    assert "You have a view of that name for this list already." in page.text
    assert page.fields["name"] == "hills"
    second.refresh_from_db()
    assert second.name == "Slopes"


def test_nobody_changes_what_is_another_persons(browse, operator, reviewer, manager, suppliers):
    _save(browse(operator), "Mine")
    _save(browse(manager), "Ours", is_shared="on")
    mine, ours = SavedView.objects.get(name="Mine"), SavedView.objects.get(name="Ours")
    browser, address = browse(reviewer), reverse("saved-views")

    unknown = browser.client.post(address, {"view": mine.pk, "do": "delete"})
    refused = browser.send(address, {"view": ours.pk, "do": "delete"})
    not_shared = browse(operator).send(address, {"view": mine.pk, "do": "share"})

    assert unknown.status_code == 404
    assert "That view is somebody else's." in refused.text
    assert "Only a manager offers a view to everyone." in not_shared.text
    assert SavedView.objects.count() == 2


def test_only_lists_there_are_have_views(browse, operator):
    assert browse(operator).client.get("/views/nothing/save/").status_code == 404
