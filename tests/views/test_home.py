"""The start page, logging in and out, and the pages for when something is wrong."""

from __future__ import annotations

import re

import pytest
from django.template.loader import render_to_string
from django.test import Client
from django.urls import reverse

from brewlog.models import User
from brewlog.pins import MOST_WRONG_PASSWORDS
from tests import factories as make
from tests.views.conftest import read

pytestmark = pytest.mark.django_db

HOME = reverse("home")


def test_what_is_in_the_vessels_is_at_hand(browse, operator, manager):
    batch = make.batch(manager, vessel=make.vessel(manager, "Jar 4"), when=make.now(-12))
    make.reading(manager, batch, "3.31", make.now(-1))
    emptied = make.batch(manager, "20 L")
    make.bottles(manager, 60, emptied, "20 L")

    page = browse(operator).open(HOME)

    (row,) = [row for row in page.rows if row[0] == batch.code]
    assert row[1] == "Jar 4"
    assert row[3:7] == ["fermenting", "60 L", "12 days", "3.31"]
    assert emptied.code not in page.links
    assert page.links["Take a reading"] == reverse("entry", args=["reading"])


def test_an_inspector_reads_the_start_page_without_buttons(browse, inspector, manager):
    make.batch(manager)

    page = browse(inspector).open(HOME)

    assert "In the vessels" in page.text
    assert [url for url in page.links.values() if "/record/" in url] == []


def test_someone_without_a_role_is_told_so(strict_templates, brewery):
    nobody = User.objects.create_user("nobody", password="living culture 7")
    client = Client()
    client.force_login(nobody)

    page = read(client.get(HOME))

    assert page.status == 403
    assert "Your account has no role yet. Ask the manager to give you one." in page.text


def test_every_list_is_in_the_index_of_records(browse, inspector):
    from brewlog.views.nouns import LISTINGS

    links = browse(inspector).open(reverse("records")).links

    assert {links[each.title] for each in LISTINGS} == {
        reverse(f"{each.noun}-list") for each in LISTINGS
    }


def test_logging_in_leads_to_the_page_asked_for(strict_templates, brewery, operator):
    client = Client()
    address = f"{reverse('login')}?next=/batches/"
    form = read(client.get(address)).fields

    wrong = read(client.post(address, form | {"username": operator.username, "password": "x"}))
    right = client.post(
        address, form | {"username": operator.username, "password": "living culture 7"}
    )

    assert "The user name and the password do not belong together." in wrong.text
    assert wrong.fields["username"] == operator.username
    assert right["Location"] == "/batches/"


def test_logging_out_is_a_button(browse, operator):
    browser = browse(operator)

    assert browser.client.get(reverse("logout")).status_code == 405
    assert browser.client.post(reverse("logout"))["Location"] == reverse("login")
    assert browser.client.get(HOME).status_code == 302


def test_guessing_passwords_locks_out(strict_templates, settings, brewery, operator):
    settings.AXES_ENABLED = True
    client = Client()
    form = {"username": operator.username, "password": "guess"}
    for _ in range(MOST_WRONG_PASSWORDS):
        response = client.post(reverse("login"), form)

    page = read(response)
    assert page.status == 429
    assert "Too many wrong passwords" in page.text


def test_an_address_with_nothing_at_it_says_so(browse, operator):
    page = browse(operator).open("/no/such/page")

    assert (page.status, page.links["Go to the start page"]) == (404, "/")


def test_the_page_for_a_fault_says_nothing_was_recorded(strict_templates):
    text = render_to_string("500.html")

    assert "What you sent was not recorded" in text
    assert "INVALID[" not in text


def test_a_form_without_its_cookie_is_explained(operator, brewery):
    client = Client(enforce_csrf_checks=True)
    client.force_login(operator)

    response = client.post(reverse("entry", args=["receive"]), {})

    assert response.status_code == 403
    assert "Nothing was recorded. Go back, load the page again" in response.content.decode()


@pytest.mark.parametrize("name", ["home", "entry-index", "records", "batch-list"])
def test_pages_hold_no_style_and_no_script_of_their_own(browse, manager, name):
    make.batch(manager)

    response = browse(manager).client.get(reverse(name))
    body = response.content.decode()

    assert "<style" not in body
    assert " style=" not in body
    # A script is a file of ours, with nothing written between its marks.
    scripts = re.findall(r"<script\b([^>]*)>(.*?)</script>", body, re.DOTALL)
    assert [each for each in scripts if 'src="/static/' not in each[0] or each[1]] == []
    assert body.count("<script") == len(scripts)
    assert "style-src 'self'" in response["Content-Security-Policy"]
