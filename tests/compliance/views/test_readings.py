"""What a person is told right after a reading, and what becomes of a slip of the finger."""

from __future__ import annotations

import pytest
from django.urls import reverse

from brewlog.domain.blocks import blocks
from brewlog.models import Checkpoint, Hold, ReviewFlag
from compliance.assessment.hearing import hear
from compliance.models import Deviation
from tests import factories as make
from tests.compliance import rules
from tests.factories import at, now

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("guidance")]

READING = rules.address("reading")


@pytest.fixture
def bottles(manager):
    return make.bottles(manager, when=now(-8))


def take(browser, lot, value, **typed):
    return browser.send(READING, browser.fill(f"{READING}?lot={lot.code}", value=value, **typed))


def void_it(browser, reading, reason="meant 3.31"):
    return browser.send(reverse("record-void", args=["checkpoint", reading.pk]), {"reason": reason})


def test_the_limit_is_shown_before_the_number_is_typed(browse, operator, bottles):
    page = browse(operator).open(READING, lot=bottles.code)

    assert "pH of the finished drink: ≤ 4.2 pH" in page.text


@pytest.mark.parametrize(
    ("value", "word", "step"),
    [
        ("3.41", "pH 3.41: clear", ""),
        ("4.19", "pH 4.19: too close, measure again", "take a fresh sample and measure again"),
        ("4.60", "pH 4.60: outside", "Measure a second sample now."),
    ],
)
def test_the_verdict_the_limit_and_the_step_are_told_at_once(
    browse, operator, bottles, value, word, step
):
    page = take(browse(operator), bottles, value, stage="finished")

    assert word in page.text
    assert "Limit ≤ 4.2 pH (pH of the finished drink)" in page.text
    assert step in page.text
    assert ("Measure again" in page.links) == bool(step)


def test_a_ferment_that_has_time_left_is_told_until_when(browse, operator, manager):
    batch = make.batch(manager, when=now(-2))

    page = take(browse(operator), batch, "4.60")

    assert "pH 4.60: not there yet" in page.text
    assert "Read it again by" in page.text
    assert not Hold.objects.exists()


def test_a_mistyped_reading_holds_at_once_and_its_voiding_lets_go(browse, operator, bottles):
    browser = browse(operator)
    page = take(browser, bottles, "8.31", stage="finished")
    assert "pH 8.31: outside" in page.text
    assert Hold.objects.live().count() == Deviation.objects.live().count() == 1

    page = void_it(browser, Checkpoint.objects.get())

    assert "Measure a second sample now." in page.text
    assert blocks(bottles) == []
    hold = Hold.objects.get()
    assert (hold.is_void, Deviation.objects.get().is_void) == (True, True)
    assert hold.void_reason == f"it stood on {bottles.code}: pH 8.31, voided: meant 3.31"
    told = f"{bottles.code}: pH 8.31 was voided (meant 3.31), and the hold it had set with it"
    assert ReviewFlag.objects.get().text == told


def test_a_hold_another_reading_still_stands_on_stays(browse, operator, bottles):
    browser = browse(operator)
    take(browser, bottles, "8.31", stage="finished")
    take(browser, bottles, "4.60", stage="finished")

    void_it(browser, Checkpoint.objects.get(value_text="8.31"))

    assert Hold.objects.live().count() == 1


def test_a_hold_a_person_placed_is_not_let_go_by_a_voided_reading(
    browse, operator, reviewer, bottles
):
    browser = browse(operator)
    make.hold(reviewer, bottles, "acidification", when=now(-1))
    take(browser, bottles, "8.31", stage="finished")

    void_it(browser, Checkpoint.objects.get())

    assert Hold.objects.live().filter(recorded_by=reviewer).count() == 1


def test_what_is_heard_of_many_readings_asks_no_more_often(manager, django_assert_num_queries):
    readings = [make.reading(manager, make.bottles(manager, when=at(2))) for _ in range(3)]

    for some in (readings[:1], readings):
        with django_assert_num_queries(31):
            assert len(hear(some)) == len(some)


@pytest.mark.parametrize("vessels", [1, 3, 30])
def test_a_round_with_its_verdicts_asks_no_more_often_for_more_vessels(
    browse, operator, manager, vessels, django_assert_num_queries
):
    starter = make.culture(manager, "40 L", when=now(-9))
    for number in range(vessels):
        jar = make.vessel(manager, f"Jar {number}")
        batch = make.batch(manager, when=now(-5), vessel=jar, starter=starter, starter_amount="1 L")
        make.reading(manager, batch, "3.41", now())
    browser = browse(operator)

    with django_assert_num_queries(37):
        page = browser.open(reverse("round"))

    assert page.text.count("3.41 clear") == vessels
