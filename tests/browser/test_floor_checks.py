"""What is seen, smelled and tasted beside the jar, with a picture of it."""

from __future__ import annotations

import io

import pytest
from PIL import Image

from brewlog.models import ConditionCheck
from tests import factories as make
from tests.browser.screen import WITH_SCRIPTS_AND_WITHOUT, Screen

pytestmark = pytest.mark.browser


def picture() -> bytes:
    """A photo as small as one may be."""
    out = io.BytesIO()
    Image.new("RGB", (8, 8), "#c9b458").save(out, "JPEG")
    return out.getvalue()


@WITH_SCRIPTS_AND_WITHOUT
def test_taste_smell_and_film_are_recorded_with_a_photo(screens, operator, manager, scripts, size):
    batch = make.batch(manager, code="B26062A")
    screen: Screen = screens(operator, scripts=scripts, size=size)
    screen.lot(batch.code)
    screen.follow("Look at a culture or batch")
    assert "never goes back into the vessel" in screen.text
    screen.write_all(
        {"Smell": "vinegar, clean", "Colour and film": "white, flat", "Taste": "sharp"}
    )
    screen.write("Mould", "no mould")
    screen.write("Verdict", "suspect")
    photo = {"name": "film.jpg", "mimeType": "image/jpeg", "buffer": picture()}
    screen.control("Photo").set_input_files(photo)
    screen.press("Record")

    found = ConditionCheck.objects.get()
    assert (found.lot.code, found.smell, found.verdict) == (batch.code, "vinegar, clean", "suspect")
    assert found.photo.size == len(picture())
    assert screen.heading == batch.code
    assert "suspect" in screen.text


def test_a_photo_outlasts_a_slip_elsewhere(screens, operator, manager):
    batch = make.batch(manager, code="B26062A")
    screen: Screen = screens(operator)
    screen.open(f"/record/condition/?lot={batch.code}")
    screen.write("Lot", "B26063X")
    screen.write("Mould", "no mould")
    photo = {"name": "film.jpg", "mimeType": "image/jpeg", "buffer": picture()}
    screen.control("Photo").set_input_files(photo)
    screen.press("Record")
    assert "film.jpg is chosen." in screen.text

    screen.write("Lot", batch.code)
    screen.press("Record")

    assert ConditionCheck.objects.get().photo.size == len(picture())


def test_what_is_no_picture_is_refused_and_the_words_are_kept(screens, operator, manager):
    batch = make.batch(manager, code="B26062A")
    screen: Screen = screens(operator)
    screen.open(f"/record/condition/?lot={batch.code}")
    screen.write("Taste", "sharp")
    screen.write("Mould", "no mould")
    note = {"name": "film.jpg", "mimeType": "image/jpeg", "buffer": b"not a picture"}
    screen.control("Photo").set_input_files(note)
    screen.press("Record")

    (told,) = screen.errors
    assert told.startswith("Photo: ")
    assert screen.value("Taste") == "sharp"
    assert "is chosen" not in screen.text
    assert not ConditionCheck.objects.exists()
