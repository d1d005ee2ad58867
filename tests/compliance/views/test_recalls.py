"""The pages of a recall question: asked, answered, signed, and what customers said."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from brewlog.when import When
from compliance.domain import recall_closing, recalls
from compliance.models import RecallRun
from tests import factories as make
from tests.compliance.rules import PASSWORD, address, ask_recall

pytestmark = pytest.mark.django_db


@pytest.fixture
def story(manager):
    """A starter in bottles, 40 of them shipped to the Corner Larder."""
    starter = make.culture(manager, "10 L")
    batch = make.batch(manager, "60 L", starter=starter, starter_amount="6 L")
    bottles = make.bottles(manager, 100, batch, "33 L")
    make.shipment(manager, bottles, "40", make.customer(manager, "Corner Larder"))
    return starter, bottles


def _row(page, head: str) -> dict[str, str]:
    """The first row of the table whose first head is that, by its heads."""
    start = next(number for number, row in enumerate(page.rows) if row[0] == head)
    return dict(zip(page.rows[start], page.rows[start + 1], strict=True))


def test_a_drill_is_run_from_the_question_to_the_signature(browse, operator, reviewer, story):
    starter, bottles = story
    by_operator, by_reviewer = browse(operator), browse(reviewer)
    scope = by_operator.open(reverse("lot-recall", args=[starter.code]), since="2026-03-02 10:00")

    form = by_operator.fill(
        scope.links["Start a drill, or the real thing"], kind="drill", question="Who has it?"
    )
    page = by_operator.send(address("start-recall"), form)
    said = by_operator.fill(
        page.links["answer"], how="phone", found="22", returned="2", sold_on="18"
    )
    by_operator.send(address("recall-response"), said)
    run = RecallRun.objects.get()
    signed = by_reviewer.fill(
        f"{address('sign-recall')}?run={run.pk}", counted="59", learnt="One number was old."
    )
    page = by_reviewer.send(address("sign-recall"), signed | {"password": PASSWORD})

    assert "suspect only since 2 Mar 2026 10:00" in page.text
    assert "DRILL Nothing is being recalled." in page.text
    assert "Accounted for 99.0%" in page.text
    assert "Minutes taken 1" in page.text
    assert "Reached 1 of 1 (100%)" in page.text
    assert "Destroyed or sent back 5%" in page.text
    row = _row(page, "Customer")
    assert (row["Customer"], row["Had"], row["Standing"]) == ("Corner Larder", "40", "answered")
    assert (row["Still had"], row["Sent back"], row["Open"]) == ("22", "2", "0")
    assert _row(page, "Lot")["Lot"] == bottles.code
    signature = RecallRun.objects.get().signature
    assert page.links["Reviewer"] == reverse("signature", args=[signature.pk])


def test_the_real_thing_is_said_loudly(browse, operator, manager, story):
    run = ask_recall(manager, story[0], kind="withdrawal")

    page = browse(operator).open(reverse("recall-detail", args=[run.pk]))

    assert "NOT A DRILL: withdrawal: a fault that harms nobody" in page.text
    assert "hold the lot" in page.text


def test_a_recall_is_closed_and_opened_again_on_its_page(browse, reviewer, manager, story):
    by_reviewer = browse(reviewer)
    run = ask_recall(manager, story[0], kind="recall")
    recalls.sign_recall(actor=reviewer, run=run, learnt="nothing", password=PASSWORD)
    page = by_reviewer.open(reverse("recall-detail", args=[run.pk]))
    assert "signed, goes on" in page.text

    asked = by_reviewer.open(page.links["Close it"])
    assert "Answered 0 of 1" in asked.text
    assert "0 of 1 answers needed" in asked.text
    closing = by_reviewer.fill(
        page.links["Close it"], why="all answered", bottles="poured away", password=PASSWORD
    )
    page = by_reviewer.send(address("close-recall"), closing)
    assert "signed, goes on" not in page.text
    assert _row(page, "When")["What became of the bottles"] == "poured away"
    assert "reached 0 of 1, answered 0 (1 needed); of 40 sent" in page.text

    again = by_reviewer.fill(
        page.links["Open it again"], why="a case came to light", password=PASSWORD
    )
    page = by_reviewer.send(address("reopen-recall"), again)
    assert "signed, goes on" in page.text
    assert "a case came to light" in page.text
    assert "all answered" in page.text
    assert "Close it" in page.links


def test_a_drill_begun_by_mistake_is_struck_out_with_a_reason(browse, operator, manager, story):
    run = ask_recall(manager, story[0])
    by_operator = browse(operator)
    page = by_operator.open(reverse("recall-detail", args=[run.pk]))

    page = by_operator.send(
        page.links["Strike it out"],
        by_operator.fill(page.links["Strike it out"], reason="asked of the wrong starter"),
    )

    assert "asked of the wrong starter" in page.text
    assert "Strike it out" not in page.links


def test_the_list_tells_what_goes_on_from_what_is_closed(browse, reviewer, manager, story):
    on, over = (ask_recall(manager, story[0], kind="recall", question=q) for q in ("a", "b"))
    for run in (on, over):
        recalls.sign_recall(actor=reviewer, run=run, learnt="nothing", password=PASSWORD)
    recall_closing.close_recall(
        actor=reviewer, run=over, why="done", bottles="none", when=make.now(), password=PASSWORD
    )
    by_reviewer = browse(reviewer)

    rows = {
        asked: by_reviewer.open(reverse("recall-list"), open=asked).rows[1:]
        for asked in ("on", "closed")
    }

    assert [row[3] for row in rows["on"]] == ["signed, goes on"]
    assert [row[3] for row in rows["closed"]] == ["closed"]


def test_more_than_was_filled_is_told_before_anyone_signs(browse, reviewer, manager, story):
    run = ask_recall(manager, story[1])
    page = reverse("recall-detail", args=[run.pk])
    assert "more are accounted for" not in browse(reviewer).open(page).text

    recalls.sign_recall(
        actor=reviewer, run=run, learnt="Crates of two lots.", password=PASSWORD, counted=80
    )

    assert "20 more are accounted for than were filled." in browse(reviewer).open(page).text


def test_what_is_signed_stands_above_the_signature_with_the_count_typed(
    browse, reviewer, manager, story
):
    run = ask_recall(manager, story[1])
    browser = browse(reviewer)
    form = f"{address('sign-recall')}?run={run.pk}"

    asked = browser.open(form)
    typed = browser.fill(form, counted="80", learnt="Crates of two lots.", password="a guess")
    page = browser.send(address("sign-recall"), typed)

    assert "Accounted for, not counted 100%" in asked.text
    assert "20 more are accounted for than were filled." in page.text
    assert page.fields["learnt"] == "Crates of two lots."


def test_a_drill_stands_beside_the_earlier_ones(browse, operator, reviewer, manager, story):
    first = ask_recall(manager, story[0])
    recalls.sign_recall(
        actor=reviewer, run=first, learnt="Count faster.", password=PASSWORD, counted=60
    )
    second = ask_recall(manager, story[1])

    page = browse(operator).open(reverse("recall-detail", args=[second.pk]))

    row = _row(page, "Asked")
    assert (row["Lot"], row["Accounted for"], row["Minutes"]) == (story[0].code, "100%", "1")
    assert row["What was learnt"] == "Count faster."
    assert "the clock runs" in page.text


def test_what_changed_since_the_signature_is_said(browse, operator, reviewer, manager, story):
    run = ask_recall(manager, story[0])
    recalls.sign_recall(actor=reviewer, run=run, learnt="All went well.", password=PASSWORD)
    make.shipment(manager, story[1], "5")

    page = browse(operator).open(reverse("recall-detail", args=[run.pk]))

    assert "changed since By the books of now: 100 filled, 45 shipped" in page.text


def test_wrong_figures_are_refused_with_what_was_typed_kept(browse, operator, manager, story):
    run = ask_recall(manager, story[0])
    browser = browse(operator)
    form = browser.fill(
        f"{address('recall-response')}?run={run.pk}&customer=Corner Larder",
        how="phone",
        found="2",
        destroyed="3",
        spoke_with="Ana",
    )

    page = browser.send(address("recall-response"), form)

    assert "Destroyed and sent back are 3, more than they had." in page.text
    assert (page.fields["found"], page.fields["spoke_with"]) == ("2", "Ana")


def test_the_page_asks_as_much_for_one_customer_as_for_twenty(browse, operator, manager, story):
    run = ask_recall(manager, story[0])
    browser, counted = browse(operator), []
    for more in (1, 19):
        for _ in range(more):
            customer = make.customer(manager)
            make.shipment(manager, story[1], "1", customer)
            recalls.record_response(
                actor=operator,
                run=run,
                customer=customer,
                how="phone",
                when=When(timezone.now()),
                found=1,
            )
        with CaptureQueriesContext(connection) as queries:
            browser.open(reverse("recall-detail", args=[run.pk]))
        counted.append(len(queries))

    assert counted == [22, 22]


@pytest.mark.parametrize("sort", ["minutes", "-answered"])
def test_the_list_is_sorted_by_what_is_worked_out(browse, operator, reviewer, manager, story, sort):
    run = ask_recall(manager, story[0])
    recalls.sign_recall(actor=reviewer, run=run, learnt="All went well.", password=PASSWORD)

    page = browse(operator).open(reverse("recall-list"), sort=sort)

    assert page.rows[1][1:6] == ["DRILL", story[0].code, "signed", "1", "100%"]
