"""Everything that was ever written of a lot, on one page."""

from __future__ import annotations

import csv
import io

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from openpyxl import load_workbook

from brewlog.domain import checkpoints, lots, stock
from brewlog.models import BottlingLot, Lot
from brewlog.verify import recorded_models
from brewlog.views import lot_history
from brewlog.views.lot_history import OF_LOTS
from tests import factories as make
from tests.compliance import rules
from tests.factories import at, quantity

pytestmark = pytest.mark.django_db


def _history(lot, **query) -> str:
    return reverse("lot-history", args=[lot.code], query=query)


def _rows(browse, who, lot, **query) -> list[dict[str, str]]:
    """The downloaded rows: a field each."""
    address = reverse("lot-history-download", args=[lot.code, "csv"], query=query)
    sent = browse(who).client.get(address)
    return list(csv.DictReader(io.StringIO(sent.content.decode("utf-8-sig"))))


@pytest.fixture
def batch(manager, operator, brewery):
    """A batch by one person, with a reading of another that was corrected, and one voided."""
    found = make.batch(manager, starter=make.culture(manager), when=at(3))
    reading = make.reading(operator, found, "3.90", at(5), note="cloudy")
    lots.correct(actor=manager, record=reading, reason="it was clear", note="clear")
    wrong = make.reading(operator, found, "8.31", at(6))
    lots.void(actor=manager, record=wrong, reason="mistyped")
    return found


def test_all_that_was_written_stands_on_one_page_newest_first(
    browse, inspector, manager, reviewer, batch
):
    bottles = make.bottles(manager, 10, batch, "4 L", at(9))
    checkpoints.check_condition(actor=manager, lot=batch, when=at(8), mould="none")
    make.hold(reviewer, batch, "other")

    page = browse(inspector).open(_history(batch))

    for words in ("batch", "reading", "lot use", "bottling lot", "condition check", "hold"):
        assert words in page.text
    told = [each.record for each in page.response.context["entries"]]
    assert told[0].startswith(f"{batch.code} held")
    assert bottles.code in told
    written = [each.at for each in page.response.context["entries"]]
    assert written == sorted(written, reverse=True)


def test_a_correction_says_who_when_why_and_what_was_before(
    browse, inspector, manager, operator, batch
):
    page = browse(inspector).open(_history(batch))

    (changed,) = (each for each in page.response.context["entries"] if each.did == "changed"
                  and each.kind == "reading")  # fmt: skip
    assert (changed.by, changed.reason) == (str(manager), "it was clear")
    assert [(c.label, c.before, c.after) for c in changed.changes] == [("Note", "cloudy", "clear")]
    assert str(changed.happened) == "2026-03-05 09:00"
    assert ["Note", "cloudy", "clear"] in page.rows
    first = next(each for each in page.response.context["entries"] if each.by == str(operator))
    assert ("Reading", "8.31") in [(c.label, c.after) for c in first.changes]


def test_a_voided_entry_is_told_as_voided(browse, inspector, batch):
    page = browse(inspector).open(_history(batch))

    (voided,) = (each for each in page.response.context["entries"] if each.did == "voided")
    assert voided.record == f"{batch.code}: pH 8.31"
    assert voided.reason == "mistyped"


@pytest.mark.parametrize(
    ("query", "kinds", "first"),
    [
        ({"kind": "checkpoint"}, {"reading"}, {True, False}),
        ({"kind": "checkpoint", "only": "changes"}, {"reading"}, {False}),
        ({"kind": "no-such"}, {"reading", "batch", "lot use", "process step"}, {True, False}),
    ],
)
def test_it_is_narrowed_by_kind_and_to_what_was_changed(
    browse, inspector, batch, query, kinds, first
):
    entries = browse(inspector).open(_history(batch, **query)).response.context["entries"]

    assert {each.kind for each in entries} == kinds
    assert {each.is_first for each in entries} == first


def test_it_is_narrowed_by_person(browse, inspector, operator, batch):
    page = browse(inspector).open(_history(batch, by=operator.pk))

    assert {each.by for each in page.response.context["entries"]} == {str(operator)}
    assert len(page.response.context["entries"]) == 2
    assert page.fields["by"] == str(operator.pk)


def test_what_nobody_wrote_is_said(browse, inspector, operator, batch):
    page = browse(inspector).open(_history(batch, by=operator.pk, only="changes"))

    assert "Nothing was written that matches" in page.text


def test_many_writings_stand_on_pages(browse, inspector, batch, monkeypatch):
    monkeypatch.setattr(lot_history, "PAGE_SIZE", 4)
    seen = []
    address = _history(batch)
    while address:
        page = browse(inspector).open(address)
        seen += [(each.at, each.record) for each in page.response.context["entries"]]
        further = page.links.get("Next page")
        address = f"{reverse('lot-history', args=[batch.code])}{further}" if further else ""

    assert len(seen) == page.response.context["all"]
    assert seen == sorted(seen, key=lambda each: each[0], reverse=True)


def test_the_file_has_a_row_for_each_field(browse, inspector, manager, batch):
    rows = _rows(browse, inspector, batch, kind="checkpoint", only="changes")

    corrected = [row for row in rows if row["What was done"] == "changed"]
    assert [tuple(row.values())[1:] for row in corrected] == [
        (str(manager), "reading", f"{batch.code}: pH 3.90", "5 Mar 2026 09:00", "changed", "Note",
         "cloudy", "clear", "it was clear")
    ]  # fmt: skip
    assert {row["Field"] for row in rows if row["What was done"] == "voided"} == {
        "Voided at",
        "Voided by",
        "Void reason",
    }


def test_the_file_is_a_workbook_too_and_nothing_else(browse, inspector, batch):
    client = browse(inspector).client
    sent = client.get(reverse("lot-history-download", args=[batch.code, "xlsx"]))
    sheet = load_workbook(io.BytesIO(sent.content)).active

    assert sheet.max_row == len(_rows(browse, inspector, batch)) + 1
    assert client.get(reverse("lot-history-download", args=[batch.code, "pdf"])).status_code == 404
    assert client.get(reverse("lot-history-download", args=["no-such", "csv"])).status_code == 404


def test_a_delivery_and_its_uses_have_one_too(browse, inspector, manager, brewery):
    delivery = make.ingredient_lot(manager, "5 kg")
    use = make.use(manager, delivery, make.brew(manager), "1 kg", purpose="ingredient")

    records = {row["Record"] for row in _rows(browse, inspector, delivery)}

    assert records == {delivery.code, str(use)}


def test_amounts_and_temperatures_have_their_units(browse, inspector, manager, batch):
    stock.adjust(actor=manager, lot=batch, quantity=quantity("1.5 L"), why="sediment", when=at(9))
    bottles = make.bottles(manager, 4, batch, "2 L", at(10), conditioning_temperature="21")

    told = {
        (row["Kind of record"], row["Field"]): row["After"]
        for row in _rows(browse, inspector, batch)
    }

    assert told["stock adjustment", "Change"] == "−1.5 L"
    assert told["lot use", "Quantity"] == "6 L"  # of starter, the first
    assert told["bottling lot", "Warm at"] == "21.0 °C"
    assert bottles.code in {row["Record"] for row in _rows(browse, inspector, batch)}


def test_a_voided_lot_keeps_its_history(browse, inspector, manager, brewery):
    delivery = make.ingredient_lot(manager, "5 kg", code="TW-1")
    lots.void(actor=manager, record=delivery, reason="typed twice")
    again = make.ingredient_lot(manager, "6 kg", code="TW-1")

    of_voided = browse(inspector).open(_history(delivery, entry=delivery.pk))
    of_live = browse(inspector).open(_history(again))

    assert [each.did for each in of_voided.response.context["entries"]][-1] == "first written"
    assert "typed twice" in of_voided.text
    assert "typed twice" not in of_live.text


def test_what_is_made_of_a_lot_by_reviewers_is_there(browse, inspector, manager, brewery):
    bottles = make.bottles(manager, 10)
    deviation = rules.deviation(manager, bottles)

    records = {row["Record"] for row in _rows(browse, inspector, bottles)}

    assert {str(deviation), f"{deviation}: {bottles}"} <= records


def test_the_page_is_reached_from_the_lot_and_leads_to_each_record(browse, inspector, batch):
    of_lot = browse(inspector).open(reverse("lot-detail", args=[batch.code]))
    page = browse(inspector).open(of_lot.links["All changes"])

    reading = batch.readings.live().get()
    assert page.links[f"{batch.code}: pH 3.90"] == reverse(
        "record-detail", args=["checkpoint", reading.pk]
    )


def test_an_unknown_code_suggests_those_near_it(browse, inspector, batch):
    page = browse(inspector).open(reverse("lot-history", args=[batch.code[:-1]]))

    assert (page.status, batch.code in page.links) == (404, True)


# What points at a lot and is told elsewhere: kept for speed, or on a page of its own.
_TOLD_ELSEWHERE: set[str] = set()


def test_every_kind_of_record_that_points_at_a_lot_is_asked():
    kinds = {each.model for each in OF_LOTS}
    lot_models = {Lot, *Lot.__subclasses__()}
    pointing = {
        model
        for model in recorded_models()
        for field in model._meta.concrete_fields
        if field.is_relation and field.related_model in lot_models
    }

    assert {model.__name__ for model in pointing - kinds} == _TOLD_ELSEWHERE
    assert BottlingLot in kinds


def test_no_more_is_asked_for_many_writings_than_for_few(
    browse, inspector, manager, batch, monkeypatch
):
    # All on one page, so that the same kinds of record are on it.
    monkeypatch.setattr(lot_history, "PAGE_SIZE", 500)
    client = browse(inspector).client
    counted = []
    for more in (1, 5):
        for number in range(more):
            make.reading(
                manager, batch, f"3.{number}1", at(12, number), instrument=make.instrument(manager)
            )
            make.use(manager, make.batch(manager, "40 L"), batch, "1 L", at(12))
            checkpoints.check_condition(actor=manager, lot=batch, when=at(12, number), mould="none")
            make.bottles(manager, 4, batch, "2 L", at(13))
        with CaptureQueriesContext(connection) as queries:
            client.get(_history(batch))
        counted.append(len(queries))

    # Of these kinds of record one for the versions, one for the names, and one for what each
    # points at that is not read yet.
    assert counted == [26, 26]
