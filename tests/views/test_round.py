"""Every open vessel on one form: saved row by row, gone on with by someone else."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse

from brewlog.models import Checkpoint
from tests import factories as make
from tests.factories import now
from tests.many import many_more
from tests.views.conftest import read

pytestmark = pytest.mark.django_db

ROUND = reverse("round")


@pytest.fixture
def jars(manager):
    """Batches in Jar 1, Jar 2 and Jar 10, which stand in the warm room; a starter elsewhere."""
    room = make.location(manager, "Warm room", kind="warm_room")
    starter = make.culture(manager, vessel=make.vessel(manager, "Starter jar"), when=now(-9))
    return [
        make.batch(
            manager,
            vessel=make.vessel(manager, f"Jar {number}", location=room),
            when=now(-5),
            starter=starter,
            starter_amount="1 L",
        )
        for number in (10, 2, 1)
    ][::-1]


def value_of(lot):
    return f"row-{lot.pk}-value"


def save(browser, rows, pressed="all", **typed):
    form = browser.fill(ROUND) | {value_of(lot): text for lot, text in rows.items()} | typed
    return browser.send(ROUND, form | {"save": str(getattr(pressed, "pk", pressed))})


def readings():
    found = Checkpoint.objects.order_by("id")
    return [(each.lot.code, each.value_text, each.recorded_by) for each in found]


def test_the_open_vessels_stand_in_the_order_of_their_names(browse, operator, jars):
    page = browse(operator).open(ROUND)

    assert "4 still to read: Jar 1, Jar 2, Jar 10, Starter jar" in page.text


def test_only_the_vessels_of_the_room_are_shown(browse, operator, jars):
    place = jars[0].vessel.location

    page = browse(operator).open(ROUND, place=place.pk)

    assert "3 still to read: Jar 1, Jar 2, Jar 10" in page.text
    assert "Starter jar" not in page.text.split("still to read")[1]


def test_one_row_is_saved_and_what_is_typed_into_others_stays(browse, operator, jars):
    page = save(browse(operator), {jars[0]: "3.41", jars[1]: "3.5"}, pressed=jars[0])

    assert readings() == [(jars[0].code, "3.41", operator)]
    assert page.fields[value_of(jars[1])] == "3.5"
    assert "3 still to read: Jar 2, Jar 10, Starter jar" in page.text


def test_enter_saves_all_that_are_filled_in(browse, operator, jars):
    page = save(browse(operator), {jars[0]: "3.41", jars[2]: "3,6"})

    assert readings() == [(jars[0].code, "3.41", operator), (jars[2].code, "3,6", operator)]
    assert page.response.redirect_chain == [(ROUND, 302)]


def test_a_slip_in_one_row_loses_no_other(browse, operator, jars):
    page = save(browse(operator), {jars[0]: "31", jars[1]: "3.5", jars[2]: "7.0.3"})

    assert readings() == [(jars[1].code, "3.5", operator)]
    assert page.fields[value_of(jars[0])] == "31"
    assert page.fields[value_of(jars[2])] == "7.0.3"
    assert "Did you mean 3.1?" in page.text
    assert "Did you mean 7.03?" in page.text
    assert page.fields[value_of(jars[1])] == ""


def test_half_a_round_is_gone_on_with_by_someone_else(browse, operator, manager, jars):
    save(browse(operator), {jars[0]: "3.41"})

    page = save(browse(manager), {jars[1]: "3.5"})

    assert [by for _, _, by in readings()] == [operator, manager]
    assert "2 still to read: Jar 10, Starter jar" in page.text
    assert "3.41 recorded Operator" in page.text


def test_what_was_read_before_the_round_began_is_not_of_it(browse, operator, manager, jars):
    make.reading(manager, jars[0], "3.62", now(-1))

    page = browse(operator).open(ROUND)

    assert "4 still to read" in page.text
    assert "Before: 3.62" in page.text


def test_a_row_sent_twice_is_recorded_once(browse, operator, jars):
    browser = browse(operator)
    form = browser.fill(ROUND) | {value_of(jars[0]): "3.41", "save": str(jars[0].pk)}

    browser.send(ROUND, form)
    browser.send(ROUND, form)

    assert len(readings()) == 1

    page = browser.send(ROUND, form | {value_of(jars[0]): "3.44"})
    assert "saved before with another number" in page.text
    assert len(readings()) == 1

    browser.send(ROUND, dict(page.fields) | {"save": str(jars[0].pk)})
    assert [text for _, text, _ in readings()] == ["3.41", "3.44"]


def test_the_instrument_holds_for_all_rows_and_is_remembered(browse, operator, manager, jars):
    make.instrument(manager, "Bench meter")
    browser = browse(operator)
    form = browser.fill(ROUND, instrument="Bench meter")
    rows = {value_of(jars[0]): "3.41", value_of(jars[1]): "3.5", "save": "all"}

    browser.send(ROUND, form | rows)

    assert {each.instrument.name for each in Checkpoint.objects.all()} == {"Bench meter"}
    assert browser.fill(ROUND)["instrument"] == "Bench meter"


def _degrees():
    return [each.sample_temperature for each in Checkpoint.objects.order_by("id")]


def test_the_temperature_of_the_samples_is_typed_once_for_the_rows_saved(browse, operator, jars):
    browser = browse(operator)
    form = browser.fill(ROUND) | {"sample_temperature": "22,5", value_of(jars[0]): "3.41"}

    page = browser.send(ROUND, form | {"save": "all"})

    assert "3.41 at 22.5 °C" in page.text
    assert page.fields["sample_temperature"] == "22,5"
    cooler = dict(page.fields) | {"sample_temperature": "19", value_of(jars[1]): "3.5"}
    browser.send(ROUND, cooler | {"save": str(jars[1].pk)})
    assert _degrees() == [Decimal("22.5"), Decimal("19")]


def test_the_next_round_begins_without_a_temperature(browse, operator, jars):
    browser = browse(operator)
    save(browser, {jars[0]: "3.41"}, sample_temperature="22")

    assert browser.fill(ROUND)["sample_temperature"] == ""


def test_a_temperature_that_cannot_be_read_saves_no_row_and_loses_none(browse, operator, jars):
    form = browse(operator).fill(ROUND) | {"sample_temperature": "warm", value_of(jars[0]): "3.41"}

    page = browse(operator).send(ROUND, form | {"save": "all"})

    assert readings() == []
    assert (page.fields["sample_temperature"], page.fields[value_of(jars[0])]) == ("warm", "3.41")
    assert "'warm'" in page.text


def test_a_round_of_temperatures_asks_for_no_other(browse, operator, jars):
    page = browse(operator).open(ROUND, measurand="temperature")

    assert value_of(jars[0]) in page.fields
    assert "sample_temperature" not in page.fields


def from_paper(browser, rows, **typed):
    form = browser.fill(f"{ROUND}?paper=1") | {value_of(lot): text for lot, text in rows.items()}
    return browser.send(f"{ROUND}?paper=1", form | typed | {"save": "all"})


def test_a_round_keyed_in_from_paper_has_its_own_time_and_person(browse, operator, manager, jars):
    read_at = now(-1)
    paper = {"when": str(read_at), "done_by": manager.username, "reason": "network down"}

    page = from_paper(browse(operator), {jars[0]: "3.41", jars[1]: "3.5"}, **paper)

    kept = Checkpoint.objects.all()
    assert {each.when for each in kept} == {read_at}
    assert {(each.done_by, each.recorded_by) for each in kept} == {(manager, operator)}
    assert "2 still to read: Jar 10, Starter jar" in page.text
    assert page.fields["when"] == str(read_at)
    assert page.fields["reason"] == "network down"


def test_a_round_from_paper_without_its_time_saves_nothing_and_loses_nothing(
    browse, operator, jars
):
    page = from_paper(browse(operator), {jars[0]: "3.41"}, reason="network down")

    assert readings() == []
    assert (page.fields[value_of(jars[0])], page.fields["reason"]) == ("3.41", "network down")
    assert "When: This is required" in page.text


def test_very_many_vessels_stand_on_pages_of_fifty(browse, operator, manager):
    first = make.culture(manager, vessel=make.vessel(manager, "Jar 0"), when=now(-5))
    many_more(manager, first, 50)
    browser = browse(operator)

    page = browser.open(ROUND, page="2")

    assert "1 still to read on this page" in page.text
    assert "51 to 51 of 51" in page.text


def test_with_scripts_only_the_row_comes_back_and_what_is_missing(browse, operator, jars):
    browser = browse(operator)
    form = browser.fill(ROUND) | {value_of(jars[0]): "3.41", "save": str(jars[0].pk)}

    answer = browser.client.post(ROUND, form, headers={"HX-Request": "true"})

    page = read(answer)
    assert "<html" not in answer.content.decode()
    assert f"row-{jars[0].pk}-box" in page.ids
    assert f"row-{jars[1].pk}-box" not in page.ids
    assert "3 still to read: Jar 2, Jar 10, Starter jar" in page.text


def test_a_vessel_that_moved_rooms_is_corrected(browse, operator, manager, jars):
    make.location(manager, "Cellar")
    jar = jars[0].vessel
    address = reverse("record-correct", args=["vessel", jar.pk])
    browser = browse(operator)
    form = browser.fill(address)
    assert form["location"] == "Warm room"

    browser.send(address, form | {"location": "Cellar", "reason": "carried down"})

    jar.refresh_from_db()
    assert jar.location.name == "Cellar"


@pytest.mark.parametrize("vessels", [1, 3, 30])
def test_a_round_asks_no_more_often_for_more_vessels(
    browse, operator, manager, vessels, django_assert_num_queries
):
    for number in range(vessels):
        jar = make.vessel(manager, f"Jar {number}")
        lot = make.culture(manager, vessel=jar, when=now(-5))
        make.reading(manager, lot, "3.41", now())
    browser = browse(operator)

    with django_assert_num_queries(20):
        page = browser.open(ROUND)

    assert "Every open vessel here was read." in page.text
