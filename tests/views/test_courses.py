"""The course of a lot: pictures of its readings, what lies ahead, and the batches before it."""

from __future__ import annotations

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from brewlog.domain import lots
from tests import factories as make
from tests.compliance import rules
from tests.factories import at

pytestmark = pytest.mark.django_db


def _course(lot) -> str:
    return reverse("lot-course", args=[lot.code])


def _pictures(page) -> list[str]:
    return re.findall(r"<svg.*?</svg>", page.response.content.decode(), re.DOTALL)


@pytest.fixture
def earlier(manager):
    """A recipe with a batch that soured as it should."""
    recipe = make.recipe_version(manager)
    batch = make.batch(manager, starter=make.culture(manager), when=at(1), recipe=recipe)
    for day, ph in ((1, "4.3"), (3, "3.9"), (6, "3.4"), (10, "3.1")):
        make.reading(manager, batch, ph, at(day, 10))
    return recipe, batch


def _batch(manager, recipe, *readings: tuple[int, str], **given):
    starter = make.culture(manager)
    batch = make.batch(manager, starter=starter, when=at(12), recipe=recipe, **given)
    for day, ph in readings:
        make.reading(manager, batch, ph, at(day, 12))
    return batch


@pytest.mark.parametrize("count", [0, 1, 3, 60])
def test_a_batch_has_a_course_however_often_it_was_read(browse, inspector, manager, count):
    batch = make.batch(manager, starter=make.culture(manager), when=at(3))
    for number in range(count):
        make.reading(manager, batch, f"{4.4 - number / 60:.2f}", at(4 + number // 6, number % 6))

    page = browse(inspector).open(_course(batch))

    assert page.status == 200
    assert len(_pictures(page)) == (2 if count > 1 else 0)
    assert ("Too few readings for a picture" in page.text) is (count < 2)


def test_the_table_says_what_is_drawn(browse, operator, manager):
    batch = make.batch(manager, starter=make.culture(manager), when=at(3))
    make.reading(manager, batch, "4.41", at(4))
    make.reading(manager, batch, "3.80", at(7))
    wrong = make.reading(manager, batch, "8.30", at(8))
    lots.void(actor=manager, record=wrong, reason="another batch")
    make.bottles(manager, 10, batch, "4 L", at(9))

    page = browse(operator).open(_course(batch))

    start = page.rows.index(["When", "pH", "Uncertainty, k = 1"])
    assert page.rows[start + 1 :] == [
        ["4 Mar 2026 09:00", "4.41", "± 0.05"],
        ["7 Mar 2026 09:00", "3.80", "± 0.05"],
        ["3 Mar 2026 09:00", "starter added", ""],
        ["9 Mar 2026 09:00", "bottled", ""],
    ]
    assert [svg.count("<circle") for svg in _pictures(page)] == [2, 2]
    assert "days since starter was added, 3 Mar 2026 09:00" in page.text


def test_too_few_readings_are_said_and_no_forecast_is_drawn(browse, operator, manager, earlier):
    batch = _batch(manager, earlier[0], (12, "4.3"), (13, "4.1"))

    page = browse(operator).open(_course(batch))

    assert "Too few readings: 3 at different times" in page.text
    assert "fill-band" not in page.response.content.decode()


def test_a_forecast_is_drawn_with_when_its_ph_is_reached(browse, operator, manager, earlier):
    batch = _batch(manager, earlier[0], (12, "4.3"), (14, "3.9"), (17, "3.45"))

    page = browse(operator).open(_course(batch))

    assert "only a reading can show" in page.text
    assert _pictures(page)[0].count("fill-band") == 1


def test_a_bottled_batch_has_nothing_ahead(browse, operator, manager, earlier):
    page = browse(operator).open(_course(earlier[1]))
    make.bottles(manager, 10, earlier[1], "4 L", at(11))

    bottled = browse(operator).open(_course(earlier[1]))

    assert "what lies ahead" in page.text
    assert "what lies ahead" not in bottled.text


def test_a_batch_lies_over_its_recipes_earlier_ones(browse, operator, manager, earlier):
    batch = _batch(manager, earlier[0], (12, "4.4"), (14, "4.38"), (17, "4.37"), (20, "4.36"))
    other = make.batch(manager, starter=make.culture(manager), when=at(2))
    make.reading(manager, other, "4.4", at(3))

    page = browse(operator).open(_course(batch))

    assert f"Dark: {batch.code}. Light: the 1 before it of the same recipe." in page.text
    assert "By its readings it is slower than they were" in page.text
    named = {row[0] for row in page.rows if len(row) == 4}
    assert named == {"Lot", batch.code, earlier[1].code}


def test_a_limit_is_drawn_with_its_words(browse, operator, manager):
    rules.bound(manager, "kombucha-guidance")
    batch = make.batch(manager, starter=make.culture(manager), when=at(3))
    for day in (4, 5):
        make.reading(manager, batch, "4.4", at(day))

    pictures = _pictures(browse(operator).open(_course(batch)))

    assert all("limit ≤ 4.2 pH within 7 days" in svg for svg in pictures)
    # The drink's own limits are of the bottles.
    assert all("≥" not in svg for svg in pictures)


def test_warmth_is_drawn_in_the_readers_degrees(browse, operator, manager):
    operator.units = "us"
    operator.save()
    batch = make.batch(manager, starter=make.culture(manager), when=at(3))
    for day in (4, 5):
        make.reading(manager, batch, "25", at(day), measurand="temperature")

    page = browse(operator).open(_course(batch))

    assert "temperature, °F" in page.text
    assert ">77<" in _pictures(page)[0] or ">76<" in _pictures(page)[0]


def test_the_stages_of_a_batch_have_their_times(browse, operator, manager):
    batch = make.batch(manager, starter=make.culture(manager), when=at(3))
    page = browse(operator).open(reverse("lot-detail", args=[batch.code]))
    bottles = make.bottles(manager, 10, batch, "4 L", at(9))
    later = browse(operator).open(reverse("lot-detail", args=[batch.code]))
    of_bottles = browse(operator).open(reverse("lot-detail", args=[bottles.code]))

    assert "Starter added 3 Mar 2026 09:00 Bottled not yet" in page.text
    assert "Starter added 3 Mar 2026 09:00 Bottled 9 Mar 2026 09:00" in later.text
    assert "Filled 9 Mar 2026 09:00 Moved to cold not yet Shipped not yet" in of_bottles.text


def test_nothing_on_the_pages_has_a_style_or_an_id_twice(browse, operator, manager, earlier):
    for address in (_course(earlier[1]), reverse("lot-detail", args=[earlier[1].code])):
        body = browse(operator).open(address).response.content.decode()
        ids = re.findall(r' id="([^"]*)"', body)
        assert "<svg" in body
        assert "style=" not in body
        assert len(ids) == len(set(ids))


def test_a_course_asks_as_much_for_many_readings_as_for_few(browse, operator, manager, earlier):
    batch = _batch(manager, earlier[0])
    client = browse(operator).client
    counted = []
    for day in (13, 16):
        for hour in range(1, 5):
            make.reading(manager, batch, f"{4.3 - hour / 10:.1f}", at(day, hour))
        with CaptureQueriesContext(connection) as queries:
            client.get(_course(batch))
        counted.append(len(queries))

    assert counted == [20, 20]


def test_an_unknown_code_suggests_those_near_it(browse, operator, manager):
    batch = make.batch(manager)

    page = browse(operator).open(reverse("lot-course", args=[batch.code[:-1]]))

    assert (page.status, page.links[batch.code]) == (404, reverse("lot-detail", args=[batch.code]))
