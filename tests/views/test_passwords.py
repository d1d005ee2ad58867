"""Passwords in the browser: given, chosen, and guessed at."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from brewlog.domain import people
from brewlog.models import Hold, User
from tests import factories as make

pytestmark = pytest.mark.django_db

OWN = reverse("own-password")
GIVE = reverse("entry", args=["password"])


@pytest.fixture
def newcomer(manager):
    """Someone from the sheet of people: no password yet."""
    return people.add_person(actor=manager, username="ines", name="Ines Vale", role="operator")


def log_in(username: str, password: str) -> Client:
    client = Client()
    client.post(reverse("login"), {"username": username, "password": password})
    return client


def test_someone_without_a_password_is_given_one_and_chooses_their_own(browse, manager, newcomer):
    browser = browse(manager)
    assert ["Ines Vale", "ines", "operator", "yes", "none yet", "—"] in browser.open(
        reverse("person-list")
    ).rows
    page = browser.open(reverse("person-detail", args=[newcomer.pk]))
    form = browser.fill(page.links["Give someone a password"], password="salt & tea 9")
    browser.send(GIVE, form)

    client = log_in("ines", "salt & tea 9")
    first = client.get(reverse("records"), follow=True)

    assert first.redirect_chain == [(OWN, 302)]
    assert "At least 8 characters" in first.text
    client.post(
        OWN, {"current": "salt & tea 9", "password": "quay at dawn", "again": "quay at dawn"}
    )
    assert client.get(reverse("records")).status_code == 200
    assert User.objects.get(username="ines").check_password("quay at dawn")


def test_a_new_password_typed_differently_the_second_time_is_not_taken(browse, operator):
    browser = browse(operator)
    sent = {"current": "living culture 7", "password": "quay at dawn", "again": "quay at dusk"}

    page = browser.send(OWN, sent)

    assert "The two are not the same." in page.text
    assert page.fields["password"] == ""
    assert User.objects.get(pk=operator.pk).check_password("living culture 7")


def test_nobody_is_offered_to_give_themselves_a_password(browse, manager, operator):
    own = browse(manager).open(reverse("person-detail", args=[manager.pk]))
    other = browse(operator).open(reverse("person-detail", args=[manager.pk]))

    assert "Change your password" in own.links
    assert {"Give someone a password", "Change your password"} & set(other.links) == set()
    assert "Give someone a password" not in own.links


class TestGuessing:
    """As at log-in: after ten wrong ones the password is not taken for a quarter of an hour."""

    @pytest.fixture(autouse=True)
    def _counting(self, settings):
        settings.AXES_ENABLED = True

    def test_at_a_signature_is_counted_and_stopped(self, browse, reviewer, manager):
        batch = make.batch(manager)
        hold = make.hold(manager, batch, "record")
        browser = browse(reviewer)
        form = browser.fill(
            reverse("entry", args=["dispose"]), hold=hold.pk, lot=batch.code, why="tasted"
        )
        form["kind"] = "release"
        address = reverse("entry", args=["dispose"])

        for _ in range(9):
            wrong = browser.send(address, form | {"password": "a guess"})
            assert "That is not your password." in wrong.text
        stopped = browser.send(address, form | {"password": "a guess"})
        right = browser.send(address, form | {"password": "living culture 7"})

        assert "Too many wrong passwords." in stopped.text
        assert "Too many wrong passwords." in right.text
        assert right.fields["why"] == "tasted"
        assert Hold.objects.get().is_open
        assert "_auth_user_id" not in log_in(reviewer.username, "living culture 7").session

    def test_who_types_the_pin_is_told_that_it_signs_nothing(self, browse, reviewer, manager):
        batch = make.batch(manager)
        make.reading(manager, batch)
        browser = browse(reviewer)
        address = reverse("reviews")

        page = browser.send(address, dict(browser.open(address).fields) | {"password": "7391"})
        other = browser.send(address, dict(browser.open(address).fields) | {"password": "a 7391"})

        assert "it signs nothing: type your password" in page.text
        assert "it signs nothing" not in other.text

    def test_the_right_password_still_signs_after_some_wrong_ones(self, browse, reviewer, manager):
        batch = make.batch(manager)
        make.reading(manager, batch)
        browser = browse(reviewer)
        address = reverse("reviews")
        form = dict(browser.open(address).fields)

        wrong = browser.send(address, form | {"password": "a guess"})
        page = browser.open(address)

        assert "That is not your password." in wrong.text
        assert batch.code in page.text
