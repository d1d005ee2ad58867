"""The labels of a lot in the browser: looked at, printed, counted."""

from __future__ import annotations

import io
import json
from decimal import Decimal

import openpyxl
import pypdf
import pytest
from django.core.files.storage import default_storage
from django.urls import reverse

from brewlog.domain import lots, people
from brewlog.models import Brewery
from compliance.domain import labels
from compliance.models import LabelRun, LabelSheet
from tests import factories
from tests.compliance.documents import story as told
from tests.compliance.documents.papers import codes_of, words_of
from tests.compliance.rules import address

pytestmark = pytest.mark.django_db


@pytest.fixture
def story(brewery, manager):
    return told.tell(manager)


def print_form(browser, **typed):
    form = browser.fill(address("print-labels"), lot="L26071A", **typed)
    return browser.send(address("print-labels"), form)


def corrected(actor, record, **changes):
    return lots.correct(actor=actor, record=record, reason="mended", **changes)


def test_labels_are_printed_once_recorded_and_drawn_from_the_record(story, browse, operator):
    browser = browse(operator)
    answer = print_form(browser, count="9", start="3")
    assert answer.response.redirect_chain[-1][0] == reverse("lot-labels", args=["L26071A"])
    run = LabelRun.objects.get()
    assert (run.count, run.start, run.stock) == (9, 3, "a4")
    pdf = browser.client.get(reverse("label-run-pdf", args=[run.pk]))
    assert pdf["Content-Disposition"] == 'inline; filename="labels-L26071A.pdf"'
    assert len(pypdf.PdfReader(io.BytesIO(pdf.content)).pages) == 2
    assert len(codes_of(pdf.content, 203)) == 9
    assert "PROOF" not in words_of(pdf.content)


def test_the_page_shows_what_the_label_says_and_whether_labels_add_up(story, browse, operator):
    browser = browse(operator)
    print_form(browser, count="150")
    form = browser.fill(address("count-labels"), lot="L26071A", put_on="148", spoiled="2")
    browser.send(address("count-labels"), form)
    words = browser.open(reverse("lot-labels", args=["L26071A"])).text
    for part in (
        "Kombucha with ginger",
        "330 mL (11.1 fl oz)",
        "Water is not recorded as a lot",
        "2 bottles have no label",
        "150 for bottles, cans or kegs",
    ):
        assert part in words


def test_labels_that_do_not_fit_are_not_recorded_as_printed(story, browse, operator):
    browser = browse(operator)
    small = {"name": "tiny", "paper": "roll", "label_width": "60", "label_height": "40"}
    browser.send(address("label-sheet"), browser.fill(address("label-sheet"), **small))
    assert LabelSheet.objects.get().geometry.per_page == 1
    answer = print_form(browser, count="1", sheet="tiny")
    assert "There is no room for the" in answer.text
    assert not LabelRun.objects.exists()


def test_a_voided_printing_and_a_lot_kept_back_have_no_pdf(story, browse, operator):
    browser = browse(operator)
    print_form(browser, count="2")
    print_form(browser, count="1")
    first, second = LabelRun.objects.order_by("id")
    lots.void(actor=story.actor, record=first, reason="another lot")
    voided = browser.client.get(reverse("label-run-pdf", args=[first.pk]))
    assert (voided.status_code, b"was voided" in voided.content) == (409, True)
    told.hold(story.actor, story.culture)
    kept = browser.client.get(reverse("label-run-pdf", args=[second.pk]))
    assert (kept.status_code, b"must not be labelled" in kept.content) == (409, True)
    page = browser.open(reverse("lot-labels", args=["L26071A"]))
    assert "No labels are printed of it" in page.text
    assert "Count labels" in page.links
    assert not {"Print labels", "Look at a proof"} & set(page.links)


def test_a_printing_is_drawn_as_it_was_after_the_records_change(story, browse, operator):
    browser = browse(operator)
    print_form(browser, count="3")
    run = LabelRun.objects.get()
    address_of_pdf = reverse("label-run-pdf", args=[run.pk])
    before = browser.client.get(address_of_pdf).content
    corrected(story.actor, story.bottles.flavour, storage="Keep dark.", label_name="Ginger tea")

    after = browser.client.get(address_of_pdf).content

    assert after == before
    words = browser.open(reverse("lot-labels", args=["L26071A"])).text
    assert "A label printed now says something else in: Name of the food, Storage" in words
    assert "Kombucha with ginger" in words


def test_a_printing_whose_logo_is_gone_says_so(story, browse, operator, manager):
    people.set_logo(actor=manager, reason="a sign", logo=factories.picture())
    browser = browse(operator)
    large = {"name": "roll", "paper": "roll", "label_width": "140", "label_height": "120"}
    browser.send(address("label-sheet"), browser.fill(address("label-sheet"), **large))
    print_form(browser, count="1", sheet="roll")
    run = LabelRun.objects.get()
    address_of_pdf = reverse("label-run-pdf", args=[run.pk])
    assert browser.client.get(address_of_pdf).status_code == 200

    default_storage.delete(Brewery.objects.get().logo.name)
    answer = browser.client.get(address_of_pdf)

    assert (answer.status_code, b"is gone: the file logo/" in answer.content) == (409, True)


def test_a_printing_that_says_what_one_would_say_now_says_nothing_of_it(story, browse, operator):
    browser = browse(operator)
    print_form(browser, count="3", what="case", per_case="12")
    words = browser.open(reverse("lot-labels", args=["L26071A"])).text
    assert "says something else" not in words
    assert "12 × 330 mL (11.1 fl oz)" in words


def test_stock_measured_anew_leaves_what_was_printed_on_it(story, browse, operator):
    browser = browse(operator)
    large = {"name": "roll", "paper": "roll", "label_width": "100", "label_height": "80"}
    browser.send(address("label-sheet"), browser.fill(address("label-sheet"), **large))
    print_form(browser, count="1", sheet="roll")
    corrected(story.actor, LabelSheet.objects.get(), label_width=Decimal(120))
    run = LabelRun.objects.get()

    pdf = browser.client.get(reverse("label-run-pdf", args=[run.pk])).content

    [page] = pypdf.PdfReader(io.BytesIO(pdf)).pages
    assert float(page.mediabox.width) == pytest.approx(100 / 25.4 * 72, abs=0.01)


def test_a_printing_is_taken_along_by_a_printing_house(story, browse, operator):
    browser = browse(operator)
    print_form(browser, count="3", symbol="code128")
    run = LabelRun.objects.get()

    def file(ending):
        return browser.client.get(reverse("label-run-file", args=[run.pk, ending]))

    book = openpyxl.load_workbook(io.BytesIO(file("xlsx").content))
    heads, row = book["Label"].iter_rows(values_only=True)
    said = dict(zip(heads, row, strict=True))
    assert (said["labels"], said["Net contents"]) == (3, "330 mL (11.1 fl oz)")
    assert said["barcode holds"] == "010952012345678815260610" + "10L26071A"
    words = [line[1] for line in book["Lines"].iter_rows(min_row=2, values_only=True)]
    assert words[0] == "Kombucha with ginger"
    assert json.loads(file("json").content)["lines"]["Lot"] == "L26071A"
    assert file("csv").status_code == 404


def test_other_lots_have_no_labels(story, client, operator):
    client.force_login(operator)
    answer = client.get(reverse("lot-labels", args=["B26061A"]))
    assert answer.status_code == 409
    assert "Labels are for bottling lots." in answer.content.decode()


@pytest.mark.parametrize("count", [1, 3])
def test_queries_of_the_list_do_not_grow(story, client, operator, count,
                                         django_assert_num_queries):  # fmt: skip
    for _ in range(count):
        labels.print_labels(actor=story.actor, lot=story.bottles, count=1, when=factories.at(13))
    client.force_login(operator)
    with django_assert_num_queries(9):
        assert client.get(reverse("label-run-list")).status_code == 200


def test_labels_printed_elsewhere_are_shown_without_what_they_said(story, browse, operator):
    browser = browse(operator)
    form = browser.fill(address("labels-elsewhere"), lot="L26071A", count="150")
    browser.send(address("labels-elsewhere"), form)
    run = LabelRun.objects.get()

    page = browser.open(reverse("lot-labels", args=["L26071A"]))
    pdf = browser.client.get(reverse("label-run-pdf", args=[run.pk]))
    file = browser.client.get(reverse("label-run-file", args=[run.pk, "xlsx"]))
    listed = browser.open(reverse("label-run-list"))

    assert "150 for bottles, cans or kegs, printed elsewhere" in page.text
    assert "What these labels say" not in page.text
    assert (pdf.status_code, b"what they said is not kept" in pdf.content) == (409, True)
    assert (file.status_code, b"what they said is not kept" in file.content) == (409, True)
    assert "printed elsewhere" in listed.text
