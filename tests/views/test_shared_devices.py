"""A shared device: the person at work changes by a tap and a PIN, and nothing typed is lost."""

from __future__ import annotations

import time

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from brewlog.domain import lots, people
from brewlog.models import Checkpoint, SharedDevice, User
from tests import factories as make
from tests.factories import now
from tests.views.conftest import Browser, read

pytestmark = pytest.mark.django_db

WHO = reverse("who")
READING = reverse("entry", args=["reading"])
PASSWORD = "living culture 7"


def choose_pin(person: User, pin: str) -> User:
    return people.set_pin(actor=person, current=PASSWORD, pin=pin, again=pin)


@pytest.fixture
def tablet(browse, manager):
    """A device a manager has shared, with nobody logged in."""
    browser = browse(manager)
    share = reverse("entry", args=["share-device"])
    browser.send(share, browser.fill(share, name="Brew room tablet", idle_minutes="10"))
    browser.client.post(reverse("logout"))
    return browser


@pytest.fixture
def ana(operator):
    return choose_pin(operator, "2580")


@pytest.fixture
def bo(manager):
    return choose_pin(make.person("operator", "bo"), "7391")


def take_over(tablet: Browser, person: User, pin: str, page=None):
    """Tap the name, type the PIN; from a page that has something kept, or from the names."""
    fields = dict(page.fields) if page else {}
    asked = tablet.send(WHO, fields | {"person": person.username})
    return tablet.send(WHO, dict(asked.fields) | {"pin": pin})


def leave_alone(tablet: Browser, minutes: int) -> None:
    session = tablet.client.session
    session["last-seen"] = int(time.time()) - minutes * 60
    session.save()


def at_work(tablet: Browser) -> str:
    key = tablet.client.session.get("_auth_user_id")
    return User.objects.get(pk=key).username if key else ""


def test_a_name_and_a_pin_change_who_is_at_work(tablet, ana, bo):
    asked = tablet.client.get(reverse("records"))
    assert asked["Location"] == f"{WHO}?next=%2Frecords%2F"

    page = take_over(tablet, ana, "2580", tablet.open(asked["Location"]))
    assert page.response.redirect_chain == [(reverse("records"), 302)]
    assert at_work(tablet) == ana.username

    take_over(tablet, bo, "7391")
    assert at_work(tablet) == "bo"


def test_only_a_shared_device_takes_a_pin(ana, tablet):
    other = Client()

    assert other.get(WHO).status_code == 404
    assert other.post(WHO, {"person": ana.username, "pin": "2580"}).status_code == 404
    assert other.get(reverse("records"))["Location"].startswith(reverse("login"))


def test_a_cookie_made_up_or_of_a_device_shared_no_longer_is_nothing(tablet, ana):
    made_up = Client()
    made_up.cookies["shared-device"] = f"{SharedDevice.objects.get().pk}:x:y"
    assert made_up.get(WHO).status_code == 404

    device = SharedDevice.objects.get()
    lots.correct(actor=make.person("manager"), record=device, reason="sold", in_use=False)
    assert tablet.client.get(WHO).status_code == 404


def test_a_wrong_pin_lets_nobody_in_and_is_counted(tablet, ana, settings):
    settings.AXES_ENABLED = True

    for _ in range(4):
        assert "That is not the PIN of Operator." in take_over(tablet, ana, "0001").text
    assert "Too many wrong PINs." in take_over(tablet, ana, "0001").text
    assert "Too many wrong PINs." in take_over(tablet, ana, "2580").text
    assert at_work(tablet) == ""


def test_what_is_in_a_form_goes_over_to_the_next_person(tablet, manager, ana, bo):
    batch = make.batch(manager, when=now(-5))
    take_over(tablet, ana, "2580")
    typed = tablet.fill(f"{READING}?lot={batch.code}", value="3.41", note="cloudy")

    names = tablet.send(WHO, typed | {"back_to": READING})
    assert at_work(tablet) == ana.username
    go_on = take_over(tablet, bo, "7391", names)
    form = tablet.send(READING, go_on.fields)

    assert not Checkpoint.objects.exists()
    kept = {name: form.fields[name] for name in ("value", "note", "lot", "done_by")}
    assert kept == {"value": "3.41", "note": "cloudy", "lot": batch.code, "done_by": "bo"}
    tablet.send(READING, form.fields)
    found = Checkpoint.objects.get()
    assert (found.recorded_by, found.done_by) == (bo, bo)


def test_a_file_that_was_chosen_goes_over_too(tablet, ana, bo, settings, tmp_path):
    settings.DATA_DIR = settings.MEDIA_ROOT = tmp_path
    address = reverse("entry", args=["receive"])
    take_over(tablet, ana, "2580")
    paper = SimpleUploadedFile("tea.pdf", b"%PDF-1.4 tea", "application/pdf")
    typed = tablet.fill(address, quantity="5 kg") | {"certificate": paper, "back_to": address}

    go_on = take_over(tablet, bo, "7391", tablet.send(WHO, typed))

    assert "tea.pdf is chosen." in tablet.send(address, go_on.fields).text


def test_who_did_it_stays_where_a_third_person_is_named(tablet, manager, ana, bo):
    batch = make.batch(manager, when=now(-5))
    take_over(tablet, ana, "2580")
    typed = tablet.fill(f"{READING}?lot={batch.code}", value="3.41", done_by=manager.username)

    go_on = take_over(tablet, bo, "7391", tablet.send(WHO, typed | {"back_to": READING}))
    tablet.send(READING, tablet.send(READING, go_on.fields).fields)

    found = Checkpoint.objects.get()
    assert (found.recorded_by, found.done_by) == (bo, manager)


def test_a_device_left_alone_asks_who_is_there_and_keeps_what_was_typed(tablet, manager, ana):
    batch = make.batch(manager, when=now(-5))
    take_over(tablet, ana, "2580")
    typed = tablet.fill(f"{READING}?lot={batch.code}", value="3.41")
    leave_alone(tablet, 11)

    names = tablet.send(READING, typed)
    assert at_work(tablet) == ""
    assert "What was typed is kept" in names.text
    go_on = take_over(tablet, ana, "2580", names)
    form = tablet.send(READING, go_on.fields)

    assert form.fields["value"] == "3.41"
    assert not Checkpoint.objects.exists()


def test_a_device_used_within_its_time_asks_nobody(tablet, ana):
    take_over(tablet, ana, "2580")
    leave_alone(tablet, 9)

    assert tablet.open(reverse("records")).status == 200
    leave_alone(tablet, 9)
    assert tablet.open(reverse("records")).status == 200


def test_a_round_left_alone_is_kept_row_by_row(tablet, manager, ana, bo):
    batch = make.batch(manager, when=now(-5), vessel=make.vessel(manager, "Jar 1"))
    take_over(tablet, ana, "2580")
    address = reverse("round")
    name = f"row-{batch.pk}-value"
    typed = tablet.fill(address) | {name: "3.41", "save": str(batch.pk)}
    leave_alone(tablet, 30)

    asked = tablet.client.post(address, typed, headers={"HX-Request": "true"})
    assert (asked["HX-Retarget"], asked["HX-Reswap"]) == ("body", "innerHTML")
    go_on = take_over(tablet, bo, "7391", read(asked))
    page = tablet.send(address, go_on.fields)

    assert page.fields[name] == "3.41"
    assert not Checkpoint.objects.exists()


def test_no_password_is_carried_along(tablet, ana):
    take_over(tablet, ana, "2580")

    page = tablet.send(WHO, {"back_to": READING, "password": "secret 1", "value": "3.41"})

    assert "3.41" in page.fields["kept"]
    assert "secret 1" not in page.response.content.decode()


@pytest.mark.parametrize("kept", ["x", "[1]", '["//evil.example/", [], ""]', '["/a", [1], ""]'])
def test_what_was_not_kept_here_is_not_carried_on(tablet, ana, kept):
    asked = tablet.send(WHO, {"person": ana.username, "kept": kept})

    assert "kept" not in asked.fields


def test_a_pin_is_chosen_with_the_password_and_never_shown(browse, operator):
    browser = browse(operator)
    address = reverse("entry", args=["pin"])

    wrong = browser.send(
        address, browser.fill(address, current="a guess", pin="2580", again="2580")
    )
    assert "That is not your password." in wrong.text
    differs = browser.send(
        address, browser.fill(address, current=PASSWORD, pin="2580", again="2581")
    )
    assert "The two are not the same." in differs.text
    form = browser.fill(address, current=PASSWORD, pin="2580", again="2580")
    page = browser.send(address, form)

    operator.refresh_from_db()
    assert operator.pin.startswith(("md5$", "pbkdf2"))
    assert "2580" not in page.response.content.decode()
    assert "PIN for shared devices chosen" in page.text
