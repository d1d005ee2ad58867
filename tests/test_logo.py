"""The brewery's logo: what is kept of a picture, and what is refused."""

from __future__ import annotations

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from brewlog.domain import people
from brewlog.logo import as_logo, logo_bytes, logo_within
from brewlog.models import Brewery
from brewlog.recording import Refused
from tests.factories import picture


def test_a_large_picture_is_kept_small_and_in_its_shape():
    kept = Image.open(as_logo(picture(3000, 1500)))
    assert (kept.format, kept.size) == ("PNG", (600, 300))


def test_nothing_but_the_picture_is_kept():
    sent = io.BytesIO()
    told = Image.Exif()
    told[0x010E] = "taken at home"
    Image.new("RGB", (200, 100), "brown").save(sent, "JPEG", exif=told, comment=b"secret")
    kept = as_logo(SimpleUploadedFile("logo.jpg", sent.getvalue())).read()
    assert b"taken at home" not in kept
    assert b"secret" not in kept


def test_a_picture_taken_on_its_side_stands_upright():
    sent = io.BytesIO()
    told = Image.Exif()
    told[0x0112] = 6  # to be turned a quarter to the right, EXIF 2.3
    Image.new("RGB", (200, 100), "brown").save(sent, "JPEG", exif=told)
    kept = Image.open(as_logo(SimpleUploadedFile("logo.jpg", sent.getvalue())))
    assert kept.size == (100, 200)


def test_empty_edges_are_cut_off():
    drawn = Image.new("RGBA", (400, 400))
    drawn.paste("brown", (100, 150, 300, 250))
    assert Image.open(as_logo(picture(image=drawn))).size == (200, 100)


def test_the_same_picture_has_the_same_name_and_another_another():
    assert as_logo(picture(200, 100)).name == as_logo(picture(200, 100)).name
    assert as_logo(picture(200, 100)).name != as_logo(picture(200, 101)).name


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        (lambda: SimpleUploadedFile("a.png", b"\x89PNG\r\n\x1a\n and nothing"), "can be read"),
        (lambda: SimpleUploadedFile("a.svg", b"<svg onload='x()'/>"), "PNG or a JPEG"),
        (lambda: picture(30, 30), "too few"),
        (lambda: picture(image=Image.new("RGBA", (100, 100))), "transparent"),
    ],
)
def test_what_is_no_logo_is_refused(sent, words):
    with pytest.raises(Refused, match=words):
        as_logo(sent())


@pytest.mark.django_db
def test_a_manager_chooses_the_logo_and_takes_it_off_and_the_history_names_both(manager, brewery):
    people.set_logo(actor=manager, reason="a new sign", logo=picture(200, 100))
    chosen = Brewery.objects.get().logo.name
    assert logo_within(chosen, 100, 10) == (20, 10)
    people.set_logo(actor=manager, reason="no sign", take_off=True)
    assert Brewery.objects.get().logo.name == ""
    assert [each.logo for each in brewery.history.order_by("history_id")][-2:] == [chosen, ""]
    assert logo_bytes(chosen)


@pytest.mark.django_db
def test_only_a_manager_chooses_it_and_says_why(manager, reviewer, brewery):
    with pytest.raises(Refused, match="manager"):
        people.set_logo(actor=reviewer, reason="nicer", logo=picture(200, 100))
    with pytest.raises(Refused, match="Say why"):
        people.set_logo(actor=manager, reason=" ", logo=picture(200, 100))
    with pytest.raises(Refused, match="Choose a picture"):
        people.set_logo(actor=manager, reason="none")


def test_no_logo_takes_no_room():
    assert logo_within("", 100, 100) == (0, 0)
    assert logo_within("logo/gone.png", 100, 100) == (0, 0)
