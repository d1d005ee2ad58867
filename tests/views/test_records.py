"""Entries by themselves: voiding, correcting, history."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.apps import apps
from django.urls import reverse

from brewlog.domain import lots
from brewlog.models import Checkpoint, IngredientLot, Lot, ProcessStep, Supplier
from brewlog.models.base import Guarded
from brewlog.views.corrections import CORRECTABLE, NOT_VOIDED
from brewlog.when import on_day
from tests import factories as make
from tests.factories import at

pytestmark = pytest.mark.django_db


def _address(name: str, record) -> str:
    return reverse(f"record-{name}", args=[record._meta.model_name, record.pk])


@pytest.fixture
def reading(manager):
    return make.reading(
        manager, make.batch(manager), "8.31", at(8, 9, 15), sample_temperature=Decimal("21.25")
    )


# Voiding ---------------------------------------------------------------------------------


def test_a_voided_entry_stays_struck_through_with_its_reason(browse, operator, reading):
    browser = browse(operator)

    page = browser.send(_address("void", reading), {"reason": "it was 3.31"})

    reading.refresh_from_db()
    assert (reading.void_reason, reading.voided_by) == ("it was 3.31", operator)
    assert page.response.redirect_chain[0][0] == reverse("lot-detail", args=[reading.lot.code])
    assert "It stays visible, struck through." in page.text
    assert 'class="struck"' in page.response.content.decode()
    assert "it was 3.31" in browser.open(_address("detail", reading)).text


def _record(browser, slug, **typed):
    address = reverse("entry", args=[slug])
    return browser.send(address, browser.fill(address, **typed))


def test_what_was_just_recorded_is_struck_out_from_where_it_is_confirmed(browse, operator, manager):
    browser, batch = browse(operator), make.batch(manager)
    told = _record(browser, "step", lot=batch.code, kind="stir")
    step = ProcessStep.objects.get(kind="stir")

    address = told.links["Void it, and say why"]
    page = browser.send(address, {**browser.fill(address), "reason": "another jar"})

    assert address == _address("void", step)
    step.refresh_from_db()
    assert (page.status, step.void_reason) == (200, "another jar")


def test_of_several_recorded_at_once_each_is_struck_out_by_itself(browse, operator, manager):
    bottles = make.bottles(manager)
    page = _record(
        browse(operator), "breakage", lot=bottles.code, broken="2", cleaned="filler and floor"
    )

    ways = {text: url for text, url in page.links.items() if url.endswith("/void/")}
    assert len(ways) > 1


def test_what_was_only_changed_is_not_offered_to_be_struck_out(browse, operator, manager):
    delivery = make.ingredient_lot(manager, "5 kg", accepted=None)
    page = _record(browse(operator), "accept", lot=delivery.code, reason="sound")

    assert "Recorded: accept a delivery" in page.text
    assert "Void it, and say why" not in page.links


def test_who_may_not_strike_it_out_is_not_offered_to(browse, operator, manager):
    batch = make.batch(manager)
    page = _record(
        browse(operator),
        "deviation",
        lot=batch.code,
        kind="procedure",
        title="lid left open",
        what_happened="found open in the morning",
    )

    assert "Recorded: write down that something went wrong" in page.text
    assert "Void it, and say why" not in page.links


def test_voiding_asks_for_a_reason(browse, operator, reading):
    page = browse(operator).send(_address("void", reading), {"reason": " "})

    assert page.links["Why it is wrong"] == "#id_reason"
    assert not Checkpoint.objects.get().is_void


def test_what_leans_on_a_lot_is_listed(browse, operator, manager):
    tea = make.ingredient_lot(manager, "5 kg")
    use = make.use(manager, tea, make.brew(manager), "1 kg", purpose="ingredient")

    page = browse(operator).send(_address("void", tea), {"reason": "typed twice"})

    assert f"{tea.code} is in use. Void these first: {use}." in page.text
    assert page.links[str(use)] == _address("void", use)


@pytest.mark.parametrize("name", ["void", "correct"])
@pytest.mark.parametrize("method", ["get", "post"])
def test_an_inspector_neither_voids_nor_corrects(browse, inspector, reading, name, method):
    client = browse(inspector).client

    response = getattr(client, method)(_address(name, reading), {"reason": "wrong"})

    assert response.status_code == 403
    assert not Checkpoint.objects.get().is_void


def test_recipes_are_voided_by_managers_only(browse, operator, manager):
    version = make.recipe_version(manager)

    assert browse(operator).open(_address("void", version)).status == 403
    assert browse(manager).open(_address("void", version)).status == 200


def test_a_hold_is_voided_by_those_who_review(browse, operator, reviewer):
    hold = make.hold(reviewer, make.bottles(reviewer))

    assert browse(operator).open(_address("void", hold)).status == 403
    assert browse(reviewer).open(_address("void", hold)).status == 200


# Correcting ------------------------------------------------------------------------------


def test_a_correction_is_a_new_version_with_its_reason(browse, operator, manager):
    supplier = make.supplier(manager, "Tidewater Tees")
    browser = browse(operator)
    form = browser.fill(_address("correct", supplier), name="Tidewater Teas", reason="misspelt")

    browser.send(_address("correct", supplier), form)

    supplier.refresh_from_db()
    assert supplier.name == "Tidewater Teas"
    page = browser.open(_address("history", supplier))
    assert ["Name", "Tidewater Tees", "Tidewater Teas"] in page.rows
    assert f"{operator}: misspelt" in page.text
    assert ["Name", "Tidewater Tees"] in page.rows


def test_a_correction_asks_for_a_reason_and_for_something_different(browse, operator, reading):
    browser = browse(operator)
    same = browser.fill(_address("correct", reading), reason="just looking")

    unchanged = browser.send(_address("correct", reading), same)
    without = browser.send(_address("correct", reading), same | {"reason": "", "note": "cold"})

    assert "Nothing is different from what was written." in unchanged.text
    assert without.links["What was wrong, and how it is known"] == "#id_reason"
    assert without.fields["note"] == "cold"
    assert reading.history.count() == 1


@pytest.mark.parametrize("units", ["metric", "us"])
def test_only_what_was_changed_is_changed_in_any_units(browse, operator, reading, units):
    """A temperature shown without its unit would come back as another one."""
    operator.units = units
    operator.save()
    browser = browse(operator)
    form = browser.fill(_address("correct", reading), note="sample was cold", reason="left out")

    browser.send(_address("correct", reading), form)

    after = Checkpoint.objects.get()
    assert (after.note, after.sample_temperature) == ("sample was cold", Decimal("21.25"))
    assert after.when == reading.when


def test_what_somebody_else_changed_meanwhile_is_told_and_nothing_typed_is_lost(
    browse, operator, reviewer, manager
):
    supplier = make.supplier(manager, "Hill Farm")
    form = browse(operator).fill(_address("correct", supplier), reason="moved again")
    form["address"] = "Quay 5"
    lots.correct(
        actor=reviewer, record=supplier, reason="they moved", address="Quay 3", note="by boat"
    )

    told = browse(operator).send(_address("correct", supplier), form)

    assert "Reviewer wrote “Quay 3” here at " in told.text
    assert told.links["Address"] == "#id_address"
    assert (told.fields["address"], told.fields["reason"]) == ("Quay 5", "moved again")
    assert told.fields["note"] == "by boat"
    assert Supplier.objects.get().address == "Quay 3"

    browse(operator).send(_address("correct", supplier), told.fields)

    after = Supplier.objects.get()
    assert (after.address, after.note) == ("Quay 5", "by boat")


def test_what_was_mended_meanwhile_is_looked_at_again_before_it_is_voided(
    browse, operator, reviewer, manager
):
    supplier = make.supplier(manager, "Hill Farm")
    form = browse(operator).fill(_address("void", supplier), reason="no such place")
    lots.correct(actor=reviewer, record=supplier, reason="misspelt", name="Hall Farm")

    told = browse(operator).send(_address("void", supplier), form)

    assert "Name: Reviewer wrote “Hall Farm” here at " in told.text
    assert told.fields["reason"] == "no such place"
    assert not Supplier.objects.get().is_void

    browse(operator).send(_address("void", supplier), told.fields)

    assert Supplier.objects.get().is_void


def test_a_time_known_to_the_day_stays_so(browse, operator, manager):
    day = on_day(dt.date(2026, 3, 8))
    reading = make.reading(manager, make.batch(manager), "3.40", day)
    browser = browse(operator)
    form = browser.fill(_address("correct", reading), note="sample was cold", reason="left out")

    browser.send(_address("correct", reading), form)
    later = browser.fill(_address("correct", reading), when="2026-03-09", reason="misread")
    browser.send(_address("correct", reading), later)

    assert Checkpoint.objects.get().when == on_day(dt.date(2026, 3, 9))


def test_a_note_with_lines_is_not_changed_by_a_browser(browse, operator, manager):
    supplier = make.supplier(manager)
    lots.correct(actor=manager, record=supplier, reason="more", note="first\nsecond")
    form = browse(operator).fill(_address("correct", supplier), reason="none")

    page = browse(operator).send(_address("correct", supplier), form | {"note": "first\r\nsecond"})

    assert "Nothing is different from what was written." in page.text


def test_a_refusal_of_the_correction_is_shown(browse, operator, manager):
    make.supplier(manager, "Granite Sugar")
    other = make.supplier(manager, "Tidewater Teas")
    form = browse(operator).fill(_address("correct", other), name="granite sugar", reason="renamed")

    page = browse(operator).send(_address("correct", other), form)

    assert "That name is taken." in page.text
    assert Supplier.objects.get(pk=other.pk).name == "Tidewater Teas"


def test_amounts_are_not_corrected_in_place(browse, operator, manager):
    tea = make.ingredient_lot(manager)

    fields = browse(operator).open(_address("correct", tea)).fields

    assert {"made", "made_text", "when", "code"} & set(fields) == set()
    assert fields["supplier_code"] == ""


def test_every_correctable_field_is_one_of_the_record():
    for model, names in CORRECTABLE.items():
        known = {field.name for field in model._meta.concrete_fields} | {"when"}

        assert set(names) <= known, model


def test_every_record_is_corrected_or_has_no_need_to():
    """A new kind of record has to be thought about."""
    records = {
        model
        for model in apps.get_app_config("brewlog").get_models()
        if issubclass(model, Guarded) and model is not Lot and "Historical" not in model.__name__
    }
    settled_otherwise = {
        "Hold",
        "HoldEnd",
        "ReviewFlag",
        "RecipeVersion",
        "RecipeLine",
        "CalibrationPoint",
    }

    left = {model.__name__ for model in records - set(CORRECTABLE) - NOT_VOIDED}

    assert left <= settled_otherwise


# By themselves ---------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["detail", "history", "void", "correct"])
@pytest.mark.parametrize("model", ["lot", "user", "session", "no-such"])
def test_what_is_no_record_has_no_such_page(browse, manager, model, name):
    assert browse(manager).open(reverse(f"record-{name}", args=[model, 1])).status == 404


def test_a_flag_leads_to_settling_it(browse, reviewer, operator, manager):
    bottles = make.bottles(manager, 10)
    make.shipment(manager, bottles, "12")
    flag = bottles.flags.get()
    settle = f"{reverse('entry', args=['settle'])}?flag={flag.pk}"

    assert (
        browse(reviewer).open(_address("detail", flag)).links["Settle what needs a look"] == settle
    )
    assert settle not in browse(operator).open(_address("detail", flag)).links.values()
    assert browse(reviewer).open(settle).fields["flag"] == str(flag.pk)


def test_the_first_version_lists_what_was_written(browse, operator, manager):
    tea = make.ingredient_lot(manager, "12.5 kg", supplier_code="TW-1")

    page = browse(operator).open(_address("history", tea))

    assert ["Amount", "12.5 kg"] in page.rows
    assert ["Supplier's lot code", "TW-1"] in page.rows
    assert "12 500 000" not in page.text


def test_there_is_no_file_where_none_was_kept(browse, operator, manager):
    tea = make.ingredient_lot(manager)
    kinds = ("certificate", "code", "recorded_by")

    for field in kinds:
        address = reverse("record-file", args=["ingredientlot", tea.pk, field])
        assert browse(operator).open(address).status == 404
    assert IngredientLot.objects.get().certificate == ""
