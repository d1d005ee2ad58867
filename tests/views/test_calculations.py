"""Calculations in the browser: tried freely, prefilled from records, never saved."""

from __future__ import annotations

import pytest
from django.urls import reverse

from brewlog.calculations import CALCULATIONS
from brewlog.models import AlcoholEstimate, LotKind
from tests import factories
from tests.factories import at

pytestmark = pytest.mark.django_db


@pytest.fixture
def page(client, brewery):
    def get(user, slug, **query):
        client.force_login(user)
        return client.get(reverse("calculation", args=[slug]), query)

    return get


@pytest.mark.parametrize("slug", [each.slug for each in CALCULATIONS])
def test_each_opens_empty_for_whoever_may_read(page, inspector, slug):
    response = page(inspector, slug)

    assert response.status_code == 200
    assert response.context["answer"] is None
    assert response.context["problems"] == []


def test_the_index_lists_all_and_for_a_lot_only_what_it_can_fill_in(client, brewery, operator):
    client.force_login(operator)
    brew = factories.brew(operator)

    everything = client.get(reverse("calculations"))
    of_brew = client.get(reverse("calculations"), {"for-lot": brew.code})

    def listed(response):
        return {each.slug for _, group in response.context["groups"] for each in group}

    assert listed(everything) == {each.slug for each in CALCULATIONS}
    assert listed(of_brew) == {
        "scale",
        "top-up",
        "hottest-concentrate",
        "cooling",
        "brix",
        "hydrometer",
        "refractometer",
    }


def test_an_answer_comes_in_words_with_its_working(page, inspector):
    response = page(inspector, "titration", work=1, titrant="10", strength="0.1", sample="10")

    text = response.content.decode()
    assert "6.01 g/L as acetic acid" in text
    assert "mL titrant x mol/L x 60.052 / mL sample" in text
    assert "AOAC 942.15" in text


def test_out_of_range_is_a_sentence_and_what_was_typed_is_kept(page, inspector):
    response = page(
        inspector,
        "cooling",
        work=1,
        first="90 C",
        second="80 C",
        hours="1",
        room="20 C",
        target="10 C",
    )

    assert response.context["answer"] is None
    (problem,) = response.context["problems"]
    assert problem.text.startswith("Target temperature of 10 °C is outside the range")
    assert 'value="90 C"' in response.content.decode()


def test_a_lots_records_fill_the_form_and_say_so(page, operator):
    batch = factories.batch(operator, code="B7")
    factories.reading(operator, batch, "3.2", measurand="brix", when=at(9))

    response = page(operator, "alcohol", **{"for-lot": "b7"})

    assert response.context["form"]["brix"].value() == "3.2"
    assert "From the records: reading of 9 Mar 2026" in response.content.decode()


@pytest.mark.parametrize("slug", [c.slug for c in CALCULATIONS if LotKind.BATCH in c.about])
def test_each_about_a_batch_opens_filled_from_one_with_starter_in_it(page, operator, slug):
    starter = factories.culture(operator, "8 L", at(1))
    factories.reading(operator, starter, "2.9", at(1))
    batch = factories.batch(operator, starter=starter, starter_amount="4 L", when=at(2))

    assert page(operator, slug, **{"for-lot": batch.code}).status_code == 200


class TestKeeping:
    query = {
        "work": 1,
        "for_lot": "B7",
        "gravity": "1.0146",
        "brix": "4.5",
        "acidity": "5",
    }

    def test_is_offered_to_who_records_and_nothing_is_saved_before(self, page, operator):
        factories.batch(operator, code="B7")

        response = page(operator, "alcohol", **self.query)

        assert reverse("entry", args=["alcohol-estimate"]) in response.context["keep_url"]
        assert not AlcoholEstimate.objects.exists()

    def test_opens_the_entry_filled_in(self, page, client, operator):
        factories.batch(operator, code="B7")
        keep_url = page(operator, "alcohol", **self.query).context["keep_url"]

        form = client.get(keep_url).context["page"].form

        assert form["lot"].value() == "B7"
        assert form["inputs"].value().startswith("SG 1.0146")
        assert form["calculation_version"].value() == "1"

    def test_is_not_offered_to_an_inspector(self, page, operator, inspector):
        factories.batch(operator, code="B7")

        assert page(inspector, "alcohol", **self.query).context["keep_url"] == ""


def test_an_unknown_calculation_or_lot_is_not_found(page, inspector):
    assert page(inspector, "alchemy").status_code == 404
    assert page(inspector, "alcohol", **{"for-lot": "NOPE"}).status_code == 404
