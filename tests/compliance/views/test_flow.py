"""From a reading outside its limit to a release, and to what was changed after it."""

from __future__ import annotations

import pytest
from django.urls import reverse

from brewlog.domain.blocks import all_blocks, blocks
from brewlog.models import Checkpoint, Hold
from compliance.domain.watch import watch
from compliance.models import Deviation, Disposition, Release, Review
from tests import factories
from tests.compliance.rules import PASSWORD
from tests.factories import at

pytestmark = pytest.mark.django_db


def entry(slug: str) -> str:
    return reverse("entry", args=[slug])


FOUR_PARTS = {
    "problem_corrected": "The meter was read before it settled.",
    "made_less_likely": "Readings are written once they stand still for a minute.",
    "product_evaluated": "Three bottles were measured again.",
    "kept_out": "The lot stood in the locked cage.",
}


@pytest.fixture
def bottles(operator, guidance):
    batch = factories.batch(operator, when=at(3))
    factories.reading(operator, batch, "3.40", when=at(8))
    lot = factories.bottles(operator, count=100, batch=batch, drawn="34 L", when=at(12))
    factories.reading(operator, lot, "3.42", when=at(12), stage="bottling")
    return lot


def write_reading(browser, lot, value, day):
    form = browser.fill(
        entry("reading"),
        lot=lot.code,
        measurand="ph",
        value=value,
        stage="finished",
        when=f"2026-03-{day} 09:00",
        reason="typed from the paper",
    )
    return browser.send(entry("reading"), form)


def test_a_reading_out_of_its_limit_keeps_the_lot_back_in_the_same_step(browse, operator, bottles):
    page = write_reading(browse(operator), bottles, "4.60", 14)

    (hold,) = Hold.objects.all()
    assert (hold.lot_id, hold.cause, hold.is_open) == (bottles.pk, "acidification", True)
    assert f"{bottles.code} is kept back." in page.text
    assert "4.6" in page.text.split("is kept back.")[1]
    assert "A reviewer decides." in page.text
    assert Deviation.objects.get().hold == hold


def test_a_reading_within_its_limit_keeps_nothing_back(browse, operator, bottles):
    page = write_reading(browse(operator), bottles, "3.41", 14)

    assert not Hold.objects.exists()
    assert "is kept back" not in page.text


def test_a_reading_struck_out_clears_what_was_found(browse, operator, bottles):
    browser = browse(operator)
    wrong = factories.reading(operator, bottles, "8.31", when=at(14), stage="finished")
    assert all_blocks(bottles, "sent out")

    browser.send(reverse("record-void", args=["checkpoint", wrong.pk]), {"reason": "meant 3.31"})

    assert not Hold.objects.exists()
    assert all_blocks(bottles, "sent out") == []


def test_a_hold_says_that_its_limit_is_met_by_a_reading_written_in_later(
    browse, operator, reviewer, guidance
):
    batch = factories.batch(operator, when=at(3))
    factories.reading(operator, batch, "4.60", when=at(4))
    (hold,) = watch()
    page = reverse("hold-detail", args=[hold.pk])
    said = "By what is written now, nothing is found against"
    assert said not in browse(reviewer).open(page).text

    factories.reading(operator, batch, "3.60", when=at(8))

    assert said in browse(reviewer).open(page).text


def test_the_check_list_leads_to_what_is_still_open(browse, reviewer, inspector, operator, bottles):
    check_list = reverse("lot-release", args=[bottles.code])
    factories.reading(operator, bottles, "3.40", when=at(15), stage="bottling")

    page = browse(reviewer).open(check_list)
    reading = browse(reviewer).open(page.links["Take a reading"])

    assert (reading.fields["lot"], reading.fields["stage"]) == (bottles.code, "finished")
    assert page.links["Review them"].startswith(f"{entry('review')}?lot=")
    assert "Take a reading" not in browse(inspector).open(check_list).links


def test_the_whole_way_from_a_hold_to_a_release_that_was_changed(
    browse, operator, reviewer, bottles
):
    floor, desk = browse(operator), browse(reviewer)
    write_reading(floor, bottles, "4.60", 14)
    write_reading(floor, bottles, "3.40", 15)
    hold, deviation = Hold.objects.get(), Deviation.objects.get()

    # Decided and signed.
    decide = f"{entry('dispose')}?hold={hold.pk}&lot={bottles.code}"
    page = desk.send(
        entry("dispose"),
        desk.fill(decide, kind="release", why="three bottles at 3.40", password=PASSWORD),
    )
    assert "Recorded: decide what we do with a held lot" in page.text
    assert Disposition.objects.get().signature.printed_name == str(reviewer)
    assert blocks(bottles) == []

    # Corrected, all four parts, and signed.
    correct = f"{entry('correct-deviation')}?deviation={deviation.pk}"
    desk.send(entry("correct-deviation"), desk.fill(correct, password=PASSWORD, **FOUR_PARTS))
    assert not deviation.is_open

    # Reviewed, released.
    check_list = reverse("lot-release", args=[bottles.code])
    assert "not yet Its records were reviewed" in desk.open(check_list).text
    for lot in (bottles, bottles.uses_in.get(source__kind="batch").source):
        review = f"{entry('review')}?lot={lot.code}"
        desk.send(entry("review"), desk.fill(review, password=PASSWORD))
    assert Review.objects.count() == 2
    assert "not yet" not in desk.open(check_list).text
    release = f"{entry('release')}?lot={bottles.code}"
    desk.send(entry("release"), desk.fill(release, password=PASSWORD))
    assert Release.objects.get().undone_by is None
    lot_page = reverse("lot-detail", args=[bottles.code])
    assert "released Reviewer" in floor.open(lot_page).text

    # A later correction shows, by name.
    reading = Checkpoint.objects.get(value_text="3.40", lot=bottles.pk)
    correction = reverse("record-correct", args=["checkpoint", reading.pk])
    floor.send(
        correction,
        floor.fill(correction, note="of bottle 57", reason="the bottle was not named"),
    )
    assert "released, changed after signature" in floor.open(lot_page).text
    page = desk.open(check_list)
    assert "changed (note)" in page.text

    # Taken back by a new signature; the old one stays.
    back = f"{entry('take-back-release')}?lot={bottles.code}"
    desk.send(
        entry("take-back-release"),
        desk.fill(back, reason="the bottle has to be looked at", password=PASSWORD),
    )
    assert Release.objects.get().undone_by.meaning == "undo"
    assert "release taken back" in floor.open(lot_page).text
