"""A file chosen for a form is not lost where the form is shown again."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from brewlog.importing import keeping
from brewlog.models import IngredientLot
from tests import factories as make

pytestmark = pytest.mark.django_db

RECEIVE = reverse("entry", args=["receive"])
PAPER = b"%PDF-1.4 certificate of the tea"


@pytest.fixture(autouse=True)
def data_folder(settings, tmp_path):
    settings.DATA_DIR = settings.MEDIA_ROOT = tmp_path
    return tmp_path


@pytest.fixture
def browser(browse, operator, manager):
    make.ingredient(manager, "Assam")
    make.supplier(manager, "Hill Farm")
    return browse(operator)


def paper(name="tea.pdf", content=PAPER):
    return SimpleUploadedFile(name, content, "application/pdf")


def delivery(browser, **typed):
    form = browser.fill(RECEIVE, ingredient="Assam", supplier="Hill Farm", accepted="on")
    return form | {"quantity": "5 kg"} | typed


def certificate():
    """The bytes kept with the one delivery there is."""
    return Path(IngredientLot.objects.get().certificate.path).read_bytes()


def kept(folder):
    return sorted(path for path in (folder / "imports").glob("*/0"))


def test_a_slip_elsewhere_does_not_lose_the_file(browser):
    page = browser.send(RECEIVE, delivery(browser, quantity="much", certificate=paper()))

    assert "tea.pdf is chosen." in page.text
    browser.send(RECEIVE, page.fields | {"quantity": "5 kg"})

    assert certificate() == PAPER


def test_it_outlasts_several_slips_kept_once_and_goes_when_recorded(browser, data_folder):
    page = browser.send(RECEIVE, delivery(browser, quantity="much", certificate=paper()))
    page = browser.send(RECEIVE, page.fields)
    page = browser.send(RECEIVE, page.fields)
    assert len(kept(data_folder)) == 1

    browser.send(RECEIVE, page.fields | {"quantity": "5 kg"})

    assert certificate() == PAPER
    assert kept(data_folder) == []


def test_another_file_takes_its_place(browser):
    page = browser.send(RECEIVE, delivery(browser, quantity="much", certificate=paper()))
    other = paper("sugar.pdf", b"%PDF-1.4 the other")

    browser.send(RECEIVE, page.fields | {"quantity": "5 kg", "certificate": other})

    assert certificate() == b"%PDF-1.4 the other"


def test_it_can_be_left_out_after_all(browser):
    page = browser.send(RECEIVE, delivery(browser, quantity="much", certificate=paper()))

    browser.send(RECEIVE, page.fields | {"quantity": "5 kg", "certificate-left-out": "on"})

    assert not IngredientLot.objects.get().certificate


def test_what_is_no_paper_is_not_kept(browser, data_folder):
    bad = paper("tea.pdf", b"no paper at all")

    page = browser.send(RECEIVE, delivery(browser, certificate=bad))

    assert "Send one of these." in page.text
    assert "is chosen" not in page.text
    assert kept(data_folder) == []


def test_a_file_kept_too_long_ago_is_asked_for_again(browser, data_folder, operator):
    page = browser.send(RECEIVE, delivery(browser, quantity="much", certificate=paper()))
    long_ago = time.time() - 25 * 3600
    for folder in (data_folder / "imports").iterdir():
        os.utime(folder, (long_ago, long_ago))
    keeping.forget_old()

    page = browser.send(RECEIVE, page.fields | {"quantity": "5 kg"})

    assert "The file is not kept any more: choose it again" in page.text
    assert not IngredientLot.objects.exists()
    browser.send(RECEIVE, page.fields)
    assert not IngredientLot.objects.get().certificate


def test_a_reference_that_is_not_ours_brings_nothing_back(browser, data_folder, operator):
    token = keeping.keep(owner_id=operator.pk, name="s.csv", files=[("s.csv", b"secret")], found={})

    page = browser.send(RECEIVE, delivery(browser, **{"certificate-chosen": token}))

    assert "The file is not kept any more" in page.text
    assert not IngredientLot.objects.exists()


def test_a_reference_to_a_field_there_is_none_of_is_passed_over(browser):
    browser.send(RECEIVE, delivery(browser, **{"nonsense-chosen": "x"}))

    assert IngredientLot.objects.exists()


def test_a_loggers_file_is_not_lost_for_want_of_a_place(browse, operator, manager):
    make.location(manager, "Cooler", is_cold=True)
    browser = browse(operator)
    address = reverse("logger-upload")
    file = SimpleUploadedFile("cooler.csv", b"Time,Temp C\n2026-03-04 10:00,4.5\n", "text/csv")

    page = browser.send(address, browser.fill(address) | {"file": file})
    assert "cooler.csv is chosen." in page.text
    looked = browser.send(address, page.fields | {"location": "Cooler"})

    assert "cooler.csv" in looked.text
    assert looked.response.redirect_chain


@pytest.mark.parametrize(
    "name", ["é" * 200 + ".pdf", "tea <b>'é\"& 茶 #1%.pdf", "شاي.pdf", "...pdf"]
)
def test_a_file_of_any_name_is_kept(browser, name):
    browser.send(RECEIVE, delivery(browser, certificate=paper(name)))

    assert certificate() == PAPER
