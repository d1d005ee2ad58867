"""Every verb in the browser: who may, what is kept, what is recorded and how often."""

from __future__ import annotations

import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from brewlog.entries import BY_SLUG, ENTRIES, FURTHER_ENTRIES
from brewlog.models import IngredientLot, LotUse, PreparationLot, RecipeLine, ReviewFlag, Shipment
from tests import factories as make

pytestmark = pytest.mark.django_db

RECEIVE = reverse("entry", args=["receive"])
PREPARE = reverse("entry", args=["prepare"])


@pytest.fixture
def tea(manager):
    return make.ingredient(manager, "Assam tea")


@pytest.fixture
def delivery(browse, operator, manager, tea):
    """A filled-in delivery, ready to be sent."""
    make.supplier(manager, "Tidewater Teas")
    typed = {"ingredient": "Assam tea", "quantity": "12.5 kg", "supplier": "Tidewater Teas"}
    return browse(operator).fill(RECEIVE, **typed)


# Who may ---------------------------------------------------------------------------------


def test_a_stranger_is_sent_to_log_in(db):
    response = Client().get(RECEIVE)

    assert response.status_code == 302
    assert response["Location"] == f"{reverse('login')}?next={RECEIVE}"


@pytest.mark.parametrize("method", ["get", "post"])
def test_an_inspector_is_told_in_words_and_writes_nothing(browse, inspector, delivery, method):
    response = getattr(browse(inspector).client, method)(RECEIVE, delivery)

    assert response.status_code == 403
    assert "Recording is for operators, reviewers and managers" in response.content.decode()
    assert IngredientLot.objects.count() == 0


def test_an_operator_may_record_and_not_set_recipes(browse, operator):
    browser = browse(operator)

    assert browser.open(RECEIVE).status == 200
    assert browser.open(reverse("entry", args=["recipe"])).status == 403


@pytest.mark.parametrize("entry", ENTRIES, ids=[entry.slug for entry in ENTRIES])
def test_every_entry_opens_for_a_manager_with_its_caution(browse, manager, entry):
    page = browse(manager).open(reverse("entry", args=[entry.slug]))

    assert page.status == 200
    assert entry.title in page.text
    assert entry.caution in page.text
    assert {field for field in page.fields if field.endswith("-rows")} == {
        f"{lines.name}-rows" for lines in entry.lines
    }


def test_every_form_carries_what_keeps_it_from_being_recorded_twice(browse, manager):
    browser = browse(manager)
    without = [
        entry.slug
        for entry in (*ENTRIES, *FURTHER_ENTRIES)
        if len(browser.open(reverse("entry", args=[entry.slug])).fields["form_token"]) < 16
    ]

    assert without == []


def test_what_the_form_keeps_to_itself_is_not_shown_as_a_field(browse, manager):
    page = browse(manager).open(reverse("entry", args=["brewery"]))

    assert page.fields["seen"] != ""
    assert "Version shown" not in page.text


def test_an_empty_register_leads_to_its_form_and_back(browse, operator):
    browser = browse(operator)
    adding = browser.open(RECEIVE).links["Add a supplier"]

    back = browser.send(adding, browser.fill(adding, name="Tidewater Teas"))

    assert back.response.request["PATH_INFO"] == RECEIVE
    assert "Add a supplier" not in back.links


def test_an_inspector_is_not_among_those_who_did_it(browse, operator, inspector):
    page = browse(operator).open(RECEIVE).response.content.decode()

    assert f'<option value="{operator.username}"' in page
    assert f'<option value="{inspector.username}"' not in page


def test_an_unknown_entry_is_not_found(browse, operator):
    assert browse(operator).open(reverse("entry", args=["no-such-thing"])).status == 404


def test_the_index_lists_what_the_person_may_record(browse, operator, manager):
    for_operator = browse(operator).open(reverse("entry-index")).links
    for_manager = browse(manager).open(reverse("entry-index")).links

    assert for_operator["Receive a delivery"] == RECEIVE
    assert "Name a recipe" not in for_operator
    assert "Name a recipe" in for_manager


def test_the_index_leaves_no_entry_out(browse, manager):
    links = set(browse(manager).open(reverse("entry-index")).links.values())
    elsewhere = {reverse("entry", args=[slug]) for slug in ("units", "pin")}

    assert {reverse("entry", args=[entry.slug]) for entry in ENTRIES} - links == elsewhere


def test_the_index_is_not_for_an_inspector(browse, inspector):
    assert browse(inspector).open(reverse("entry-index")).status == 403


# Recording -------------------------------------------------------------------------------


def test_rows_left_as_the_page_shows_them_do_not_count(browse, manager):
    make.recipe_version(manager, "Black tea base")
    make.ingredient(manager, "Assam tea")
    address = reverse("entry", args=["recipe-version"])
    browser = browse(manager)
    tea = {"lines-0-role": "tea", "lines-0-ingredient": "Assam tea", "lines-0-quantity": "7 g"}

    page = browser.send(address, browser.fill(address, recipe="Black tea base", **tea))

    assert "to mend" not in page.text
    assert [line.role for line in RecipeLine.objects.filter(version__number=2)] == ["tea"]


@pytest.mark.parametrize(
    ("slug", "field"),
    [
        ("vessel", "material"),
        ("ingredient", "kind"),
        ("calibrate", "outcome"),
        ("hold", "cause"),
        ("dispose", "kind"),
    ],
)
def test_nothing_is_chosen_before_somebody_chooses(browse, manager, slug, field):
    """The first of a list, sent unseen, would be a record nobody made."""
    assert browse(manager).open(reverse("entry", args=[slug])).fields[field] == ""


def test_a_delivery_is_recorded_and_its_page_shown(browse, operator, delivery):
    page = browse(operator).send(RECEIVE, delivery)

    lot = IngredientLot.objects.get()
    assert (lot.made, lot.made_text, lot.recorded_by) == (12_500_000, "12.5 kg", operator)
    assert page.response.redirect_chain == [(reverse("lot-detail", args=[lot.code]), 302)]
    assert f"Recorded: receive a delivery ({lot.code})." in page.text


def test_mistakes_are_listed_with_links_and_everything_typed_is_kept(browse, operator, delivery):
    typed = delivery | {"quantity": "12.5 furlongs", "supplier_code": "TW-1", "note": "wet sack"}

    page = browse(operator).send(RECEIVE, typed)

    assert IngredientLot.objects.count() == 0
    assert page.text.count("One thing to mend") == 1
    assert page.links["Amount"] == "#id_quantity"
    assert {"id_quantity", "id_quantity_error"} <= page.ids
    kept = {name: page.fields[name] for name in ("quantity", "supplier_code", "note", "supplier")}
    assert kept == {
        "quantity": "12.5 furlongs",
        "supplier_code": "TW-1",
        "note": "wet sack",
        "supplier": "Tidewater Teas",
    }


def test_a_refusal_of_the_verb_stands_at_its_field(browse, operator, delivery):
    page = browse(operator).send(RECEIVE, delivery | {"quantity": "20 L"})

    assert page.links["Amount"] == "#id_quantity"
    assert "Assam tea is counted by mass, and 20 L is a volume." in page.text
    assert IngredientLot.objects.count() == 0


def test_a_wrong_field_is_never_folded_away(browse, operator, delivery):
    typed = delivery | {"picked_on": "the other day"}

    page = browse(operator).send(RECEIVE, typed)

    assert page.links["Picked on"] == "#id_picked_on"
    assert '<details class="more" open>' in page.response.content.decode()


def test_what_needs_a_look_is_said_at_once(browse, operator, manager):
    lot = make.bottles(manager, 10)
    make.customer(manager, "Corner Larder")
    address = reverse("entry", args=["ship"])
    typed = {"customer": "Corner Larder", "lines-0-lot": lot.code, "lines-0-quantity": "12"}

    page = browse(operator).send(address, browse(operator).fill(address, **typed))

    flag = ReviewFlag.objects.get()
    assert Shipment.objects.count() == 1
    assert f"Needs a look: {lot.code}: {flag.text}. A reviewer will see it." in page.text


def test_fields_named_in_the_address_are_filled_in(browse, operator, manager):
    batch = make.batch(manager)
    starter = make.culture(manager)

    as_batch = browse(operator).open(reverse("entry", args=["pitch"]), lot=batch.code)
    as_starter = browse(operator).open(reverse("entry", args=["pitch"]), source=starter.code)

    assert as_batch.fields["batch"] == batch.code
    assert (as_starter.fields["batch"], as_starter.fields["lines-0-source"]) == ("", starter.code)


def test_likely_lots_are_offered_with_what_they_are(browse, operator, manager, tea):
    full = make.ingredient_lot(manager, "3 kg", tea)
    rejected = make.ingredient_lot(manager, "3 kg", tea, accepted=False)
    BY_SLUG["reject"].verb(actor=operator, lot=rejected, reason="wet")
    emptied = make.ingredient_lot(manager, "1 kg", tea)
    make.use(operator, emptied, make.brew(manager), "1 kg", purpose="ingredient")

    body = browse(operator).open(PREPARE).response.content.decode()

    assert f'<option value="{full.code}">Assam tea, 3 kg on hand</option>' in body
    assert f'value="{rejected.code}"' not in body
    assert f'value="{emptied.code}"' not in body


# Rows ------------------------------------------------------------------------------------


@pytest.fixture
def ginger(manager):
    return [make.ingredient_lot(manager, "5 kg", make.ingredient(manager)) for _ in range(2)]


@pytest.fixture
def syrup(browse, operator, ginger):
    """A syrup of the first lot, the second row left blank."""
    return browse(operator).fill(
        PREPARE,
        **{
            "name": "Ginger syrup",
            "preparation_kind": "syrup",
            "quantity": "3 L",
            "lines-0-source": ginger[0].code,
            "lines-0-quantity": "1 kg",
        },
    )


def test_blank_rows_are_left_out(browse, operator, ginger, syrup):
    more = {"lines-2-source": ginger[1].code, "lines-2-quantity": "200 g"}

    browse(operator).send(PREPARE, syrup | more)

    made = PreparationLot.objects.get()
    assert [(use.source_id, use.quantity_text) for use in made.uses_in.all()] == [
        (ginger[0].pk, "1 kg"),
        (ginger[1].pk, "200 g"),
    ]


def test_too_few_rows_are_asked_for(browse, operator, syrup):
    empty = {"lines-0-source": "", "lines-0-quantity": ""}

    page = browse(operator).send(PREPARE, syrup | empty)

    assert "What went in: fill in at least one row." in page.text
    assert PreparationLot.objects.count() == 0


def test_a_mistake_in_a_row_names_the_row(browse, operator, syrup):
    page = browse(operator).send(PREPARE, syrup | {"lines-1-quantity": "1 kg"})

    assert page.links["What went in, row 2: Lot used"] == "#id_lines-1-source"
    assert page.fields["lines-1-quantity"] == "1 kg"


def test_a_refusal_about_one_lot_stands_at_its_row_and_nothing_is_half_saved(
    browse, operator, reviewer, ginger, syrup
):
    make.hold(reviewer, ginger[1], "foreign")
    more = {"lines-1-source": ginger[1].code, "lines-1-quantity": "200 g"}

    page = browse(operator).send(PREPARE, syrup | more)

    assert page.links["What went in, row 2: Lot used"] == "#id_lines-1-source"
    assert f"{ginger[1].code} must not be used" in page.text
    assert (PreparationLot.objects.count(), LotUse.objects.count()) == (0, 0)


def test_more_rows_come_without_scripts_and_lose_nothing(browse, operator, syrup):
    typed = syrup | {"quantity": "three litres", "add-rows": "lines"}

    page = browse(operator).send(PREPARE, typed)

    assert page.fields["lines-rows"] == "6"
    assert page.fields["quantity"] == "three litres"
    assert page.fields["lines-0-source"] == syrup["lines-0-source"]
    assert page.fields["form_token"] == syrup["form_token"]
    assert "to mend" not in page.text
    assert PreparationLot.objects.count() == 0


def test_rows_have_an_end(browse, operator, syrup):
    page = browse(operator).send(PREPARE, syrup | {"lines-rows": "9999", "add-rows": "lines"})

    assert page.fields["lines-rows"] == "200"


# Once ------------------------------------------------------------------------------------


def test_a_form_sent_twice_is_recorded_once(browse, operator, delivery):
    browser = browse(operator)

    first = browser.send(RECEIVE, delivery)
    second = browser.send(RECEIVE, delivery)

    assert IngredientLot.objects.count() == 1
    assert second.response.redirect_chain == first.response.redirect_chain
    assert "This form was sent twice. It is recorded once" in second.text


def test_a_form_sent_again_with_other_contents_is_asked_about(browse, operator, delivery):
    browser = browse(operator)
    browser.send(RECEIVE, delivery)

    asked = browser.send(RECEIVE, delivery | {"quantity": "7 kg"})

    assert IngredientLot.objects.count() == 1
    assert "This form was recorded once already" in asked.text
    lot = IngredientLot.objects.get()
    assert asked.links["see that record"] == reverse("lot-detail", args=[lot.code])

    browser.send(RECEIVE, {**asked.fields, "quantity": "7 kg", "code": ""})

    assert sorted(IngredientLot.objects.values_list("made_text", flat=True)) == ["12.5 kg", "7 kg"]


def test_a_refused_form_can_be_mended_and_sent(browse, operator, delivery):
    browser = browse(operator)
    refused = browser.send(RECEIVE, delivery | {"quantity": "20 L"})

    browser.send(RECEIVE, delivery | {"form_token": refused.fields["form_token"]})

    assert IngredientLot.objects.get().made_text == "12.5 kg"


def test_a_token_of_somebody_else_does_not_swallow_an_entry(browse, operator, manager, delivery):
    browse(manager).send(RECEIVE, delivery)

    page = browse(operator).send(RECEIVE, delivery)

    assert IngredientLot.objects.count() == 1
    assert "This form was recorded once already" in page.text


def test_two_forms_opened_one_after_the_other_are_two_entries(browse, operator, delivery):
    browser = browse(operator)
    token = browser.open(RECEIVE).fields["form_token"]

    browser.send(RECEIVE, delivery)
    browser.send(RECEIVE, delivery | {"form_token": token})

    assert IngredientLot.objects.count() == 2


# Files -----------------------------------------------------------------------------------


def test_a_certificate_is_kept_and_served_to_those_who_may_read(browse, operator, delivery):
    paper = SimpleUploadedFile("organic.pdf", b"%PDF-1.4 certificate", "application/pdf")
    browse(operator).send(RECEIVE, delivery | {"certificate": paper})
    lot = IngredientLot.objects.get()
    address = reverse("record-file", args=["ingredientlot", lot.pk, "certificate"])

    response = browse(operator).client.get(address)

    assert b"".join(response.streaming_content) == b"%PDF-1.4 certificate"
    assert response["Content-Type"] == "application/pdf"
    assert response["Content-Disposition"].startswith('attachment; filename="organic')
    assert response["X-Content-Type-Options"] == "nosniff"
    assert response["Content-Security-Policy"] == "default-src 'none'; sandbox"
    assert Client().get(address).status_code == 302


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("page.html", b"<script>", "page.html is not a PDF, a JPEG or a PNG"),
        ("fake.pdf", b"<script>", "fake.pdf is not a PDF, a JPEG or a PNG"),
        ("big.pdf", b"%PDF-" + b"0" * (10 * 1024 * 1024), "at most 10 MB are kept"),
        ("paper.jpg", b"%PDF-1.4", "paper.jpg is not a PDF, a JPEG or a PNG. Send one of these."),
        ("tea.heic", b"\0\0\0\x18ftypheic", "Let the phone's camera save JPEG"),
        ("nothing.pdf", b"", "That file is empty. Choose it again, or send without it."),
    ],
)
def test_a_file_that_is_no_paper_is_refused(browse, operator, delivery, name, content, said):
    page = browse(operator).send(
        RECEIVE, delivery | {"certificate": SimpleUploadedFile(name, content)}
    )

    assert said in page.text
    assert IngredientLot.objects.count() == 0


def test_what_is_typed_from_right_to_left_stands_so_in_its_field(operator, brewery):
    client = Client()
    client.force_login(operator)

    page = client.get(RECEIVE).content.decode()

    [note] = re.findall(r'<textarea[^>]*name="note"[^>]*>', page)
    assert 'dir="auto"' in note
