"""The entries that end in a signature, and the pages of holds, deviations and rule sets."""

from __future__ import annotations

import csv
import inspect
import io
import re

import pytest
from django.contrib.auth.hashers import MD5PasswordHasher
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from brewlog.ledger import on_hand
from brewlog.models import CultureLot, HoldEnd, StockAdjustment, SubmittedForm
from compliance.entries import decisions, reviews, rulesets
from compliance.models import (
    Deviation,
    Disposition,
    MarketDecision,
    Review,
    Signature,
)
from tests import factories
from tests.compliance import rules
from tests.compliance.rules import PASSWORD, address
from tests.factories import at, quantity

pytestmark = pytest.mark.django_db

ENTRIES = (*decisions.ENTRIES, *reviews.ENTRIES, *rulesets.ENTRIES)
SIGNED = [entry for entry in ENTRIES if "password" in entry.form.base_fields]
BY_SLUG = pytest.mark.parametrize("entry", ENTRIES, ids=lambda entry: entry.slug)
NEEDING = [
    entry for entry in ENTRIES if any(field.required for field in entry.form.base_fields.values())
]
BY_NEEDING = pytest.mark.parametrize("entry", NEEDING, ids=lambda entry: entry.slug)
BY_SIGNED = pytest.mark.parametrize("entry", SIGNED, ids=lambda entry: entry.slug)


# Every entry -------------------------------------------------------------------------------


@BY_SLUG
def test_the_verb_takes_every_field_of_the_form(entry):
    parameters = inspect.signature(entry.verb).parameters
    takes_any = any(each.kind == each.VAR_KEYWORD for each in parameters.values())
    assert takes_any or set(entry.form.base_fields) <= set(parameters)


@BY_SLUG
def test_the_form_asks_for_everything_the_verb_needs(entry):
    needed = {
        name
        for name, each in inspect.signature(entry.verb).parameters.items()
        if each.default is each.empty and each.kind == each.KEYWORD_ONLY
    }
    assert needed - {"actor"} <= set(entry.form.base_fields)


@BY_NEEDING
def test_what_is_sent_empty_is_refused_with_a_list_of_what_is_missing(browse, manager, entry):
    page = browse(manager).send(address(entry.slug), {})

    assert page.status == 200
    assert "to mend" in page.text


@BY_SIGNED
def test_a_password_is_asked_for_and_never_shown_back_or_kept(browse, manager, entry):
    browser = browse(manager)
    opened = browser.client.get(address(entry.slug), {"password": "typed into the address"})
    sent = browser.client.post(
        address(entry.slug), {"password": PASSWORD, "reason": "kept as it was typed"}
    )

    for answer in (opened, sent):
        body = answer.content.decode()
        (control,) = re.findall('<input[^>]*name="password"[^>]*>', body)
        assert 'type="password"' in control
        assert 'autocomplete="current-password"' in control
        assert "value=" not in control
        assert PASSWORD not in body
        assert "typed into the address" not in body
    assert not SubmittedForm.objects.exists()


# Held lots ---------------------------------------------------------------------------------


@pytest.fixture
def mouldy(operator, reviewer):
    """A mouldy starter, a batch and bottles of it, of which some were shipped."""
    starter = factories.culture(operator, "10 L")
    batch = factories.batch(operator, starter=starter)
    bottles = factories.bottles(operator, count=100, batch=batch, drawn="34 L", when=at(12))
    factories.shipment(operator, bottles, "40", when=at(15))
    return starter, batch, bottles, factories.hold(reviewer, starter, "mould")


def hold_page(hold) -> str:
    return reverse("hold-detail", args=[hold.pk])


def test_a_hold_shows_its_reach_what_waits_and_what_was_shipped(browse, inspector, mouldy):
    starter, batch, bottles, hold = mouldy

    page = browse(inspector).open(hold_page(hold))

    assert "everything made from" in page.text
    assert "3 lots held, 3 of them with something left to decide about." in page.text
    assert {starter.code, batch.code, bottles.code} <= set(page.links)
    assert "40 shipped before anyone decided" in page.text
    assert reverse("lot-recall", args=[starter.code]) in page.links.values()
    assert "What may be done with them: destroy." in page.text
    assert "Decide" not in page.links


def test_the_queries_of_a_hold_do_not_grow_with_its_reach(browse, operator, reviewer):
    browser = browse(reviewer)
    counts = []
    for more in (1, 3):
        starter = factories.culture(operator, "40 L")
        for _ in range(more):
            factories.batch(operator, starter=starter)
        hold = factories.hold(reviewer, starter, "foreign")
        with CaptureQueriesContext(connection) as queries:
            assert browser.open(hold_page(hold)).status == 200
        counts.append(len(queries))

    assert counts == [HOLD_QUERIES, HOLD_QUERIES]


HOLD_QUERIES = 22


def test_mould_suggests_lots_beside_it_that_are_not_held(browse, operator, reviewer):
    mother = factories.culture(operator)
    batch = factories.batch(operator, starter=mother)
    sibling = factories.batch(operator, starter=mother)
    hold = factories.hold(reviewer, batch, "mould")

    page = browse(reviewer).open(hold_page(hold))

    assert "Look at these besides" in page.text
    assert {mother.code, sibling.code} <= set(page.links)


def test_alcohol_over_the_line_stops_and_sends_to_the_authority(browse, operator, reviewer):
    bottles = factories.bottles(operator)
    hold = factories.hold(reviewer, bottles, "alcohol")
    browser = browse(reviewer)

    assert "Stop: ask the authority first" in browser.open(hold_page(hold)).text
    opened = f"{address('dispose')}?hold={hold.pk}&lot={bottles.code}"
    form = browser.fill(opened, kind="release", why="one sample", password=PASSWORD)
    refused = browser.send(address("dispose"), form)

    assert "Stop: ask the authority first" in refused.text
    assert "Authority asked, and what it said" in refused.text
    assert refused.fields["why"] == "one sample"
    assert refused.fields["password"] == ""
    assert not Disposition.objects.exists()

    browser.send(address("dispose"), form | {"authority_asked": "state office: may go on"})
    assert Disposition.objects.get().authority_asked == "state office: may go on"


def test_only_what_the_cause_allows_is_offered(browse, reviewer, mouldy):
    starter, *_, hold = mouldy

    body = (
        browse(reviewer)
        .client.get(address("dispose"), {"hold": hold.pk, "lot": starter.code})
        .content.decode()
    )

    assert 'value="destroy"' in body
    for kind in ("release", "rework", "strong_starter"):
        assert f'value="{kind}"' not in body
    assert 'name="target"' not in body


def test_destroying_needs_a_witness_and_writes_the_amount_off(browse, reviewer, mouldy):
    starter, *_, hold = mouldy
    browser = browse(reviewer)
    opened = f"{address('dispose')}?hold={hold.pk}&lot={starter.code}"
    form = browser.fill(opened, kind="destroy", why="mould", quantity="4 L", password=PASSWORD)

    refused = browser.send(address("dispose"), form)
    assert "Name someone who sees it destroyed." in refused.text
    browser.send(address("dispose"), form | {"witness": "Ana Reis"})

    assert StockAdjustment.objects.get().witness == "Ana Reis"
    assert on_hand([starter.pk])[starter.pk] == 0


def test_a_wrong_password_keeps_what_was_written_and_signs_nothing(browse, reviewer, mouldy):
    starter, *_, hold = mouldy
    browser = browse(reviewer)
    opened = f"{address('dispose')}?hold={hold.pk}&lot={starter.code}"
    form = browser.fill(
        opened, kind="destroy", why="mould", quantity="4 L", witness="Ana Reis", password="a guess"
    )

    page = browser.send(address("dispose"), form)

    assert "That is not your password. Nothing was signed." in page.text
    kept = ("why", "quantity", "witness")
    assert {name: page.fields[name] for name in kept} == {name: form[name] for name in kept}
    assert "a guess" not in page.response.content.decode()
    assert not Signature.objects.exists()


def test_too_acid_a_batch_is_kept_as_strong_starter(browse, operator, reviewer):
    sour = factories.batch(operator)
    hold = factories.hold(reviewer, sour, "over_acid")
    browser = browse(reviewer)
    opened = f"{address('dispose')}?hold={hold.pk}&lot={sour.code}"

    browser.send(
        address("dispose"),
        browser.fill(
            opened, kind="strong_starter", why="pH 2.4", quantity="5 L", password=PASSWORD
        ),
    )

    assert CultureLot.objects.get(origin="kept_back").made == quantity("5 L").canonical


def test_a_hold_is_ended_at_one_lot(browse, operator, reviewer):
    starter = factories.culture(operator)
    batch = factories.batch(operator, starter=starter)
    hold = factories.hold(reviewer, starter, "foreign")
    browser = browse(reviewer)

    opened = f"{address('end-hold')}?hold={hold.pk}&lot={batch.code}"
    browser.send(address("end-hold"), browser.fill(opened, reason="drawn before the glass broke"))

    assert HoldEnd.objects.get().lot_id == batch.pk


def test_what_left_is_withdrawn_recovered_or_recalled_by_a_signed_decision(
    browse, reviewer, mouldy
):
    *_, hold = mouldy
    browser = browse(reviewer)
    start = browser.open("/")
    assert hold_page(hold) in start.links.values()

    page = browser.open(address("decide-market"), hold=hold.pk)
    for words in ("Stock recovery", "Withdrawal", "Recall", "40 shipped"):
        assert words in page.text
    opened = f"{address('decide-market')}?hold={hold.pk}"
    page = browser.send(
        address("decide-market"),
        browser.fill(
            opened, kind="recall", why="mould", hazard="toxins, unlikely", password=PASSWORD
        ),
    )

    assert MarketDecision.objects.get().signature.meaning == "withdrawal"
    assert "shipped before anyone decided" not in page.text
    assert "Shipped of what is now held" not in browser.open("/").text


# Deviations --------------------------------------------------------------------------------


def test_an_operator_opens_a_deviation_over_several_lots(browse, operator):
    one, other = factories.batch(operator), factories.batch(operator)
    browser = browse(operator)

    page = browser.send(
        address("deviation"),
        browser.fill(
            address("deviation"),
            kind="procedure",
            title="lids left open",
            what_happened="found open in the morning",
            lots=f"{one.code}, {other.code}",
        ),
    )

    deviation = Deviation.objects.get()
    assert page.response.redirect_chain[-1][0] == reverse("deviation-detail", args=[deviation.pk])
    assert {one.code, other.code} <= set(page.links)
    assert "Write the corrective action" not in page.links


def test_a_deviation_tells_its_day_alike_wherever_it_stands(browse, reviewer):
    batch = factories.batch(reviewer)
    deviation = rules.deviation(reviewer, batch, title="too warm on 2026-03-04")
    browser = browse(reviewer)

    for page in (
        f"/lots/{batch.code}/",
        reverse("deviation-detail", args=[deviation.pk]),
        f"{address('correct-deviation')}?deviation={deviation.pk}",
    ):
        assert "too warm on 4 Mar 2026" in browser.open(page).text


def test_an_unknown_lot_is_refused_and_what_was_written_is_kept(browse, operator):
    browser = browse(operator)
    form = browser.fill(
        address("deviation"), kind="procedure", title="x", what_happened="y", lots="NO-SUCH"
    )

    page = browser.send(address("deviation"), form)

    assert "No lot has the code 'NO-SUCH'." in page.text
    assert page.fields["lots"] == "NO-SUCH"
    assert not Deviation.objects.exists()


def test_each_of_the_four_parts_is_asked_for(browse, reviewer):
    deviation = rules.deviation(reviewer)
    browser = browse(reviewer)
    opened = f"{address('correct-deviation')}?deviation={deviation.pk}"

    page = browser.send(
        address("correct-deviation"),
        browser.fill(opened, problem_corrected="emptied", password=PASSWORD),
    )

    assert "3 things to mend" in page.text
    assert page.fields["problem_corrected"] == "emptied"
    assert deviation.is_open


def test_a_look_back_lists_the_readings_of_an_instrument_found_out(browse, operator):
    meter = factories.instrument(operator)
    factories.calibration(operator, meter, "in", when=at(2))
    batch = factories.batch(operator)
    factories.reading(operator, batch, when=at(4), instrument=meter)
    calibration = factories.calibration(operator, meter, "out", when=at(9))
    browser = browse(operator)

    page = browser.send(address("look-back"), {"calibration": calibration.pk})

    assert "1 readings since" in Deviation.objects.get().title
    assert batch.code in page.links


def test_the_queries_of_the_list_do_not_grow(browse, reviewer):
    browser = browse(reviewer)
    counts = []
    for more in (1, 2):
        for _ in range(more):
            rules.deviation(reviewer, factories.batch(reviewer))
        with CaptureQueriesContext(connection) as queries:
            page = browser.open(reverse("deviation-list"))
        counts.append(len(queries))

    assert len(page.rows) == 4
    assert counts == [LIST_QUERIES, LIST_QUERIES]


LIST_QUERIES = 9


# Reviews -----------------------------------------------------------------------------------


def reviews_form(browser, **typed):
    return browser.fill(reverse("reviews"), password=PASSWORD) | typed


def test_plain_lots_are_signed_together_each_with_its_own_signature(browse, operator, reviewer):
    lots = [factories.batch(operator) for _ in range(3)]
    for lot in lots:
        factories.reading(operator, lot)
    browser = browse(reviewer)
    opened = browser.client.get(reverse("reviews"))
    marks = [f"{lot.pk}:1" for lot in lots]
    assert all(f'value="{mark}"' in opened.content.decode() for mark in marks)

    form = reviews_form(browser, together=marks, **{"sign-together": "on"})
    page = browser.send(reverse("reviews"), form)

    assert {each.lot_id for each in Review.objects.all()} == {lot.pk for lot in lots}
    assert Signature.objects.count() == 3
    assert "Every reading was reviewed." in page.text


class Counting(MD5PasswordHasher):
    """Counts how often a password is checked. The one used in earnest takes long, by intent."""

    checks = 0

    def verify(self, password: str, encoded: str) -> bool:
        Counting.checks += 1
        return super().verify(password, encoded)


def test_the_password_is_checked_as_often_for_three_lots_as_for_one(
    browse, operator, reviewer, settings
):
    settings.PASSWORD_HASHERS = [f"{__name__}.Counting"]
    browser, checks = browse(reviewer), []
    for count in (1, 3):
        lots = [factories.batch(operator) for _ in range(count)]
        for lot in lots:
            factories.reading(operator, lot)
        marks = [f"{lot.pk}:1" for lot in lots]
        form = reviews_form(browser, together=marks, **{"sign-together": "on"})
        before = Counting.checks
        browser.send(reverse("reviews"), form)
        checks.append(Counting.checks - before)

    assert Review.objects.count() == 4
    assert checks == [2, 2]


def test_a_reading_written_since_the_page_was_opened_is_not_signed_unseen(
    browse, operator, reviewer
):
    lot = factories.batch(operator)
    factories.reading(operator, lot)
    browser = browse(reviewer)
    form = reviews_form(browser, together=[f"{lot.pk}:1"], **{"sign-together": "on"})
    factories.reading(operator, lot, "3.20", when=at(11))

    page = browser.send(reverse("reviews"), form)

    assert "as they stand here now" in page.text
    assert not Review.objects.exists()


def test_what_is_out_of_the_ordinary_needs_words_of_its_own(browse, operator, reviewer, guidance):
    lot = factories.bottles(operator, when=at(12))
    factories.reading(operator, lot, "4.60", when=at(14), stage="finished")
    browser = browse(reviewer)
    page = browser.open(reverse("reviews"))
    assert "one by one" in page.text
    assert "pH of the finished drink: 4.6" in page.text

    form = reviews_form(browser, **{f"sign-{lot.pk}": "on"})
    refused = browser.send(reverse("reviews"), form)
    assert "Say what you make of what is out of the ordinary." in refused.text
    assert not Review.objects.exists()

    browser.send(reverse("reviews"), form | {f"remark-{lot.pk}": "held, measured again"})
    assert Review.objects.get().remark == "held, measured again"


def test_all_or_none_are_signed(browse, operator, reviewer):
    lots = [factories.batch(operator) for _ in range(2)]
    for lot in lots:
        factories.reading(operator, lot)
    browser = browse(reviewer)

    page = browser.send(
        reverse("reviews"),
        reviews_form(browser, together=[f"{lot.pk}:1" for lot in lots], password="a guess")
        | {"sign-together": "on"},
    )

    assert "That is not your password." in page.text
    assert "a guess" not in page.response.content.decode()
    assert 'id="sign-together" name="sign-together" checked' in page.response.content.decode()
    assert not Review.objects.exists()


def test_reviews_due_are_downloaded_with_what_is_out_of_the_ordinary(browse, operator, inspector):
    plain, own = factories.batch(operator), factories.batch(operator)
    factories.reading(operator, plain, "3.40", done_by=operator)
    factories.reading(operator, own, "3.50", done_by=inspector)

    got = browse(inspector).client.get(reverse("reviews-download", args=["csv"]))

    rows = list(csv.DictReader(io.StringIO(got.content.decode("utf-8-sig"))))
    assert [(row["Lot"], row["What was read"], row["Out of the ordinary"]) for row in rows] == [
        (plain.code, "pH 3.40", "—"),
        (own.code, "pH 3.50", "You took some of these readings"),
    ]


def test_reviews_are_read_by_all_and_signed_by_reviewers(browse, operator, inspector):
    lot = factories.batch(operator)
    factories.reading(operator, lot)

    assert lot.code in browse(inspector).open(reverse("reviews")).links
    for person in (operator, inspector):
        answer = browse(person).client.post(reverse("reviews"), {"sign-together": "on"})
        assert answer.status_code == 403


def test_ones_own_readings_are_out_of_the_ordinary(browse, reviewer):
    factories.reading(reviewer, factories.batch(reviewer))

    assert "You took some of these readings" in browse(reviewer).open(reverse("reviews")).text


def test_the_queries_of_the_page_do_not_grow(browse, operator, reviewer, manager):
    rules.bound(manager, "us-food-code")
    browser = browse(reviewer)
    counts = []
    for more in (1, 2):
        for _ in range(more):
            factories.reading(operator, factories.batch(operator))
        with CaptureQueriesContext(connection) as queries:
            browser.open(reverse("reviews"))
        counts.append(len(queries))

    assert counts == [REVIEW_QUERIES, REVIEW_QUERIES]


REVIEW_QUERIES = 30
