from __future__ import annotations

import csv
import dataclasses
import io
import json
import zipfile

import openpyxl
import pytest

from brewlog.models import Hold, Lot
from brewlog.recording import recording
from compliance.documents.recall_facts import CustomerAnswer, collect_recall
from compliance.documents.recall_files import packet_files, recall_folder
from compliance.documents.recall_follow_up import to_check
from compliance.documents.recall_packet import (
    recall_csv,
    recall_packet,
    recall_workbook,
)
from compliance.domain import deviations, recall_closing, recalls
from compliance.models import RecallRun
from tests import factories
from tests.compliance.documents import story as told
from tests.compliance.documents.papers import ink_in_margins, pages_of, words_of
from tests.compliance.documents.story import PRINTED_AT, hold


@pytest.fixture
def recalled(story, brewery):
    """The story with a reason, a second shop, a stall, and a way to reach the brewery."""
    with recording(story.actor):
        brewery.reread()
        brewery.phone, brewery.email = "555-0100", "hello@example.com"
        brewery.address = "4 Causeway\nSaltmarsh 00007"
        brewery.save()
    stall = factories.customer(story.actor, "Saturday stall", "public")
    factories.shipment(story.actor, story.bottles, "20", to=stall, when=factories.at(17))
    hold(story.actor, story.culture, why="grey-green spots on the pellicle")
    return story


def packet_of(story, **fields):
    return collect_recall(story.culture, printed_by=story.actor, printed_at=PRINTED_AT, **fields)


def notices(pdf: bytes) -> list[str]:
    return [words for words in pages_of(pdf) if "URGENT: FOOD RECALL" in words]


def test_packet_is_a_draft_and_the_authority_comes_first(recalled):
    words = words_of(recall_packet(packet_of(recalled)))
    for part in (
        "State: DRAFT for a person to review; nothing has been sent",
        "The authority's rules and deadlines come first",
        "A withdrawal, a stock recovery and a recall are three different things",
        "Reason: mould or foreign growth: grey-green spots on the pellicle",
        "The risk to health, judged by a qualified person",
    ):
        assert part in words


def test_quantities_are_those_of_the_record(recalled):
    packet = packet_of(recalled)
    totals = {pair.label: pair.value for pair in packet.totals}
    # 150 filled, 96 + 20 shipped, 2 broken: 32 left.
    assert totals == {
        "Bottling lots": "1",
        "Pieces made": "150",
        "Pieces shipped": "116",
        "Brought back": "0",
        "Gone: breakage": "2",
        "Should be on hand": "32",
        "Unexplained": "0",
        "Customers": "2",
    }
    words = words_of(recall_packet(packet))
    assert "L26071A Ginger, 330 mL swing-top 10 Jun 2026 150 116 0 2 32 0" in words
    assert "S26060A culture: Ría Norte, bought as a culture 6 L" in words


@pytest.mark.parametrize(
    ("reason", "said"),
    [("mould in the jar.", "Mould in the jar. Hazard:"), ("pH 4.6", "pH 4.6. Hazard:")],
)
def test_the_reason_stands_in_a_notice_as_a_sentence(recalled, reason, said):
    packet = dataclasses.replace(packet_of(recalled), reason=reason)
    assert all(said in notice for notice in notices(recall_packet(packet)))


def test_each_customer_has_a_notice_with_what_it_must_hold(recalled):
    [shop, stall] = notices(recall_packet(packet_of(recalled)))
    for part in (
        "DRAFT: to be reviewed, completed and signed by a person before it is sent.",
        "Café Ñandú",
        "Inés Q.",
        "Kombucha with ginger 330 mL L26071A 10 Jun 2026 96 bottles 16 Mar 2026",
        "grey-green spots on the pellicle. Hazard: (to be written by the person in charge).",
        "Stop selling and serving these lots at once.",
        "Answer today, also if you have none left.",
        "Reach us: 555-0100 or hello@example.com.",
        "Bottles of these lots we still have",
    ):
        assert part in shop
    assert "To be shown where it was sold" in stall
    assert "Do not drink it." in stall
    assert "20 bottles" in stall


def test_without_a_hold_the_reason_is_left_to_a_person(story):
    packet = packet_of(story)
    assert packet.reason == ""
    [notice] = notices(recall_packet(packet))
    assert "Why (to be written by the person in charge)." in notice
    assert "Reach us: (to be written by the person in charge)." in notice


def test_nothing_sent_makes_no_notice(story):
    lone = factories.ingredient_lot(story.actor, "1 kg")
    packet = collect_recall(lone, printed_by="the command line", printed_at=PRINTED_AT)
    pdf = recall_packet(packet)
    assert notices(pdf) == []
    assert "Nothing made from it has been shipped." in words_of(pdf)


def test_what_was_drawn_before_stays_and_is_marked(story):
    since = factories.at(13)
    packet = collect_recall(story.batch, printed_by=story.actor, printed_at=PRINTED_AT, since=since)
    words = words_of(recall_packet(packet))
    assert "Suspect since 13 Mar 2026 09:00, its last good check." in words
    assert "DRAWN BEFORE" in words
    assert "Of these drawn before 1 lot, 150 pieces made" in words
    assert len(notices(recall_packet(packet))) == 1


def test_workbook_holds_customers_and_lots(recalled):
    book = openpyxl.load_workbook(io.BytesIO(recall_workbook(packet_of(recalled), PRINTED_AT)))
    customers = list(book["Customers"].iter_rows(values_only=True))
    assert customers[0][0] == "customer"
    assert [(row[0], row[3], row[6], row[10]) for row in customers[1:]] == [
        ("Café Ñandú", "555-0117", "L26071A", 96),
        ("Saturday stall", None, "L26071A", 20),
    ]
    lots = list(book["Lots"].iter_rows(values_only=True))
    assert lots[1][:6] == ("L26071A", "Ginger", "330 mL swing-top", "2026-06-10", 150, 116)


def test_csv_holds_the_same_customers(recalled):
    read = list(csv.DictReader(io.StringIO(recall_csv(packet_of(recalled)).decode("utf-8-sig"))))
    assert [(row["customer"], row["lot"], row["sent"], row["unit"]) for row in read] == [
        ("Café Ñandú", "L26071A", "96", "pieces"),
        ("Saturday stall", "L26071A", "20", "pieces"),
    ]


def test_same_record_gives_the_same_bytes(recalled):
    first, second = packet_of(recalled), packet_of(recalled)
    assert recall_packet(first) == recall_packet(second)
    assert recall_packet(first, "letter") != recall_packet(first)
    assert recall_csv(first) == recall_csv(second)
    assert json.loads(first.to_json())["code"] == "S26060A"


def test_forty_customers_have_forty_notices(recalled, django_assert_num_queries):
    for number in range(38):
        shop = factories.customer(recalled.actor, f"Shop with a rather long name {number}")
        factories.shipment(
            recalled.actor, recalled.bottles, "1", to=shop, when=factories.at(18), already_done=True
        )
    with django_assert_num_queries(32):
        packet = packet_of(recalled)
    pdf = recall_packet(packet)
    assert len(notices(pdf)) == 40
    assert ink_in_margins(pdf, 4) == 0


# What follows -----------------------------------------------------------------------------


def answered(packet, **fields) -> tuple[CustomerAnswer, ...]:
    """An answer of the first customer of the packet."""
    return (CustomerAnswer(packet.recipients[0].customer_id, **fields),)


def test_hold_list_names_the_place_and_what_is_not_kept_back_yet(recalled):
    found = {(each.code, each.place): each for each in packet_of(recalled).hold_list}
    bottles = found["L26071A", "Cooler"]
    assert (bottles.amount, bottles.held) == ("30", "held: mould or foreign growth")
    assert found["S26060A", "place not recorded"].amount == "6 L"
    other = collect_recall(recalled.tea, printed_by=recalled.actor, printed_at=PRINTED_AT)
    assert "R26058A" in {each.code for each in other.hold_list if not each.held}
    assert "NOT KEPT BACK YET: write a hold" in words_of(recall_packet(other))


def test_status_is_a_form_until_customers_answer_and_a_report_afterwards(recalled):
    blank = packet_of(recalled)
    words = words_of(recall_packet(blank))
    assert "Customers notified 0 of 2" in words
    said = answered(
        blank, notified="2026-05-01 10:00", method="telephone", answered="2026-05-01",
        on_hand=40, sent_back=36, destroyed=4, check="2026-05-03, Iria", check_result="all apart",
        note="sold ten on to a bar",
    )  # fmt: skip
    packet = packet_of(recalled, responses=said)
    words = words_of(recall_packet(packet))
    for part in (
        "Customers notified 1 of 2",
        "Customers who answered 1 of 2",
        "Told, and silent none",
        "On hand when told 40 pieces",
        "Sent back, they say 36 pieces",
        "Effectiveness checks made 1",
        "Café Ñandú 96 1 May 2026 10:00, telephone 1 May 2026 40 36 4",
        "sold ten on to a bar",
    ):
        assert part in words
    book = openpyxl.load_workbook(io.BytesIO(recall_workbook(packet, PRINTED_AT)))
    heads, first, second = book["Status"].iter_rows(values_only=True)
    assert dict(zip(heads, first, strict=True))["on hand when told"] == 40
    assert dict(zip(heads, second, strict=True))["on hand when told"] is None


def test_who_was_told_and_is_silent_is_named(recalled):
    said = answered(packet_of(recalled), notified="2026-05-01 10:00", method="letter")
    words = words_of(recall_packet(packet_of(recalled, responses=said)))
    assert "Told, and silent Café Ñandú" in words


@pytest.mark.parametrize(
    ("customers", "numbers"),
    [(0, ["0", "as set", "0", "0", "0"]), (40, ["40", "as set", "4", "1", "0"])],
)
def test_effectiveness_levels_ask_their_share_rounded_up(customers, numbers):
    assert [number for _, number in to_check(customers)] == numbers


def test_the_decision_signed_is_said_and_marks_the_notices(recalled, reviewer):
    placed = Hold.objects.get(lot=recalled.culture.pk)
    deviations.decide_market(
        actor=reviewer, hold=placed, kind="withdrawal", why="off taste only",
        hazard="none to health", password="living culture 7",
    )  # fmt: skip
    packet = packet_of(recalled)
    pdf = recall_packet(packet)
    assert "Decided: withdrawal: a fault that harms nobody: off taste only Signed" in words_of(pdf)
    assert notices(pdf) == []
    [shop, _] = [words for words in pages_of(pdf) if "FOOD WITHDRAWAL" in words]
    assert "Hazard: none to health." in shop


def test_the_public_warning_is_a_draft_with_lots_and_days(recalled):
    [page] = [p for p in pages_of(recall_packet(packet_of(recalled))) if "Warning to the pub" in p]
    for part in (
        "DRAFT, not to be published before the person in charge has decided",
        "Kombucha with ginger 330 mL 10 Jun 2026 L26071A",
        "16 Mar 2026 to 17 Mar 2026",
        "Do not drink it.",
    ):
        assert part in page


def test_the_folder_holds_every_form_and_each_notice(recalled):
    packet = packet_of(recalled)
    content = recall_folder(packet, PRINTED_AT, "a4")
    assert content == recall_folder(packet_of(recalled), PRINTED_AT, "a4")
    with zipfile.ZipFile(io.BytesIO(content)) as folder:
        assert folder.namelist() == [
            "recall-S26060A.pdf", "recall-S26060A.xlsx", "recall-S26060A.csv",
            "recall-S26060A.json", "notices/001-Café-Ñandú.pdf", "notices/002-Saturday-stall.pdf",
        ]  # fmt: skip
        letter = folder.read("notices/001-Café-Ñandú.pdf")
    assert len(pages_of(letter)) == 1
    assert "URGENT: FOOD RECALL" in words_of(letter)


def test_a_scope_too_large_to_print_sums_up_and_says_where_every_row_is(recalled, monkeypatch):
    packet = packet_of(recalled)
    monkeypatch.setattr("compliance.documents.recall_packet.ROWS_PRINTED", 2)
    assert "URGENT: FOOD RECALL" in words_of(recall_packet(packet))
    monkeypatch.setattr("compliance.documents.recall_packet.ROWS_PRINTED", 1)
    files = packet_files(packet, PRINTED_AT, "a4")
    words = words_of(files["recall-S26060A.pdf"])
    assert "had which lot is 2 rows, all in the workbook (sheet Customers). The 2 notices" in words
    assert "Café Ñandú 1 96" in words
    assert "555-0117" in words
    assert "Saturday stall 1 20" in words
    assert "L26071A Ginger, 330 mL swing-top" in words
    assert "URGENT: FOOD RECALL" not in words
    book = openpyxl.load_workbook(io.BytesIO(files["recall-S26060A.xlsx"]))
    assert book["Customers"].max_row == 1 + 2
    assert "L26071A" in words_of(files["notices/001-Café-Ñandú.pdf"])
    assert "notices/002-Saturday-stall.pdf" in files


def bottled(story, *codes: str, of: Lot | None = None) -> None:
    """More of the same drink, of the story's batch or another, one bottle sent of each code."""
    batch = of or story.batch
    for code in codes:
        lot = factories.bottles(
            story.actor, 3, batch, "1 L", factories.at(12), code=code, already_done=True,
            flavour=story.bottles.flavour, format=story.bottles.format,
        )  # fmt: skip
        factories.shipment(
            story.actor, lot, "1", to=story.customer, when=factories.at(16), already_done=True
        )


def test_codes_are_ranges_that_end_where_another_batch_was_bottled(recalled):
    bottled(recalled, "L9", "L10", "L11", "L13")
    bottled(recalled, "L12", of=factories.batch(recalled.actor))

    [concerned] = packet_of(recalled).concerned

    assert concerned.codes == "L9 to L11; L13, L26071A"
    assert [each.lots for each in concerned.ranges] == [3, 2]


def test_a_letter_of_very_many_lots_has_their_codes_and_the_list_beside_it(recalled, monkeypatch):
    bottled(recalled, "L26071B", "L26071C")
    monkeypatch.setattr("compliance.documents.recall_packet.LOTS_IN_LETTER", 2)
    packet = packet_of(recalled)

    [shop, stall] = notices(recall_packet(packet))
    with zipfile.ZipFile(io.BytesIO(recall_folder(packet, PRINTED_AT, "a4"))) as folder:
        listed = folder.read("notices/001-Café-Ñandú.csv").decode("utf-8-sig")

    assert "L26071A to L26071C" in shop
    assert "You had 3 lots of them from us" in shop
    assert "Kombucha with ginger 330 mL 3 98 pieces 16 Mar 2026" in shop
    assert "Kombucha with ginger 330 mL L26071A 10 Jun 2026 20 bottles" in stall
    rows = list(csv.DictReader(io.StringIO(listed)))
    assert [(row["lot"], row["sent"]) for row in rows] == [
        ("L26071A", "96"), ("L26071B", "1"), ("L26071C", "1"),
    ]  # fmt: skip


def test_where_nothing_was_sent_every_part_says_so(story):
    lone = factories.ingredient_lot(story.actor, "1 kg")
    packet = collect_recall(lone, printed_by="the command line", printed_at=PRINTED_AT)
    words = words_of(recall_packet(packet))
    for part in (
        "Nothing was sent to anybody.",
        "There is no customer to ask.",
        "Accounted for 0 of 0 pieces",
    ):
        assert part in words


def asked(story, kind: str = "recall") -> RecallRun:
    return recalls.start_recall(
        actor=story.actor, lot=told.base(story.culture), kind=kind, question="who has it?",
        when=factories.at(24), level="C",
    )  # fmt: skip


def test_what_customers_said_to_the_question_is_the_status(recalled):
    run = asked(recalled)
    said = {"actor": recalled.actor, "run": run, "customer": recalled.customer, "how": "phone"}
    recalls.record_response(**said, when=factories.at(24, 10), is_reached=False)
    recalls.record_response(
        **said, when=factories.at(24, 11), found=40, destroyed=4, returned=30,
        told_on="a bar in Vila Doce",
    )  # fmt: skip
    packet = packet_of(recalled, run=run)
    [answer] = [each for each in packet.responses if each.answered]
    assert (answer.notified, answer.method, answer.on_hand) == ("2026-03-24 11:00", "telephone", 40)
    words = words_of(recall_packet(packet))
    for part in (
        "Customers notified 1 of 2",
        "Café Ñandú 96 24 Mar 2026 11:00, telephone 24 Mar 2026 11:00 40 30 4",
        "a bar in Vila Doce",
        "Level C was chosen.",
    ):
        assert part in words


def test_the_status_report_says_how_it_was_closed(recalled, reviewer):
    run = asked(recalled)
    signed = {"actor": reviewer, "run": run, "password": "living culture 7"}
    recalls.sign_recall(**signed, learnt="nothing")
    recall_closing.close_recall(
        **signed, why="both shops answered", bottles="poured away at the stall",
        when=factories.at(25),
    )  # fmt: skip
    words = words_of(recall_packet(packet_of(recalled, run=run)))
    assert (
        "Closed 25 Mar 2026 09:00: both shops answered. What became of the bottles: poured" in words
    )
    assert "As signed: reached 0 of 2 customers, 0 answered; of 116 bottles 0 destroyed" in words


def test_the_papers_of_a_drill_say_on_every_page_that_it_is_one(recalled):
    pdf = recall_packet(packet_of(recalled, run=asked(recalled, "drill")))
    assert notices(pdf) == []
    for words in pages_of(pdf):
        assert "state: DRILL: an exercise, nothing is wrong and nothing is sent" in words
    assert "DRILL: NO RECALL" in words_of(pdf)
