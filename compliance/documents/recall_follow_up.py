"""What follows in a recall: stock to keep apart, how far it is, checks, and the public.

Status report: 21 CFR 7.53(b); effectiveness checks: 7.42(b)(3); public warning: 7.42(b)(2).
All of it guidance, not a binding rule.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, PageBreak, Spacer

from compliance.documents.as_read import read
from compliance.documents.page import (
    BODY,
    BOLD_BODY,
    SMALL,
    TITLE,
    Column,
    Head,
    Pair,
    Row,
    heading,
    pairs,
    paragraph,
    section,
    table,
)
from compliance.documents.recall_facts import RecallPacket
from compliance.documents.recall_ranges import ConcernedProduct, from_to
from compliance.documents.recall_sending import PIECES, Recipient, times_of
from compliance.documents.to_write_on import ruled_lines, to_sign
from compliance.documents.workbook import Cell
from compliance.models import MarketDecision

TO_WRITE = "(to be written by the person in charge)"
_WITHDRAWAL = MarketDecision.Kind.WITHDRAWAL
# Shares of the customers asked, by level; B is set case by case between the two.
LEVELS = (("A", 100), ("B", None), ("C", 10), ("D", 2), ("E", 0))
SHARES_SAID = (
    "Level A asks every customer, B a share of 10 to 100 % set case by case, C 10 %, D 2 %, "
    "E none (21 CFR 7.42(b)(3)). The class of the recall and the person in charge set the level."
)


def marking(packet: RecallPacket) -> str:
    """What stands in bold red over a notice (21 CFR 7.49(b)). A withdrawal is not urgent."""
    if packet.is_drill:
        return "DRILL: NO RECALL"
    return "FOOD WITHDRAWAL" if packet.decision == _WITHDRAWAL else "URGENT: FOOD RECALL"


PUBLIC_TO_DO = (
    "Do not drink it. Bottles may be under pressure: keep them cold and upright, unopened.",
    "Bring them back to where you bought them.",
    "If you feel unwell, ask a doctor.",
)


# Stock to keep apart ---------------------------------------------------------------------

HOLD_HEADS = ("lot", "what", "place", "amount", "kept back already")


def hold_rows(packet: RecallPacket) -> list[Sequence[Cell]]:
    """One row for each lot in each place."""
    return [(each.code, each.what, each.place, each.amount, each.held) for each in packet.hold_list]


def hold_list(packet: RecallPacket) -> list[Flowable]:
    """What is still here, to be found, counted and kept apart, with a box to tick."""
    columns = [
        Column("", 4),
        Column("Lot", 17),
        Column("What it is", 33),
        Column("Where", 20),
        Column("Amount", 13, right=True),
        Column("Counted", 12),
    ]
    rows = []
    for each in packet.hold_list:
        below = [each.held] if each.held else ["NOT KEPT BACK YET: write a hold"]
        rows.append(Row(("☐", each.code, each.what, each.place, each.amount, ""), below))
    none = "Nothing of it is left here."
    return section("Hold list: find it, count it, keep it apart", table(columns, rows, none))


# The status report -----------------------------------------------------------------------

STATUS_HEADS = (
    "customer", "kind", "sent", "notified", "how", "answered", "on hand when told", "sent back",
    "destroyed there", "brought back by the record", "effectiveness check", "found", "note",
)  # fmt: skip


def status_rows(packet: RecallPacket) -> list[Sequence[Cell]]:
    """One row for each customer; what is not known is empty."""
    rows: list[Sequence[Cell]] = []
    for each in packet.recipients:
        said = packet.response_of(each)
        rows.append(
            (
                each.name, each.kind, each.sent, said.notified, said.method, said.answered,
                said.on_hand, said.sent_back, said.destroyed, each.returned, said.check,
                said.check_result, said.note,
            )
        )  # fmt: skip
    return rows


def counts_of(packet: RecallPacket) -> tuple[Pair, ...]:
    """The six points of a status report, as far as they are counted."""
    told = [each for each in packet.recipients if packet.response_of(each).notified]
    answered = [each for each in packet.recipients if packet.response_of(each).answered]
    checked = [each for each in packet.recipients if packet.response_of(each).check]
    silent = [each for each in told if each not in answered]
    said = [packet.response_of(each) for each in packet.recipients]
    count = len(packet.recipients)
    return (
        Pair("Customers notified", f"{len(told)} of {count}"),
        Pair("Customers who answered", f"{len(answered)} of {count}"),
        Pair("Told, and silent", _names(silent) or "none"),
        Pair("On hand when told", f"{sum(each.on_hand or 0 for each in said)} {PIECES}"),
        Pair("Sent back, they say", f"{sum(each.sent_back or 0 for each in said)} {PIECES}"),
        Pair("Effectiveness checks made", str(len(checked))),
        Pair("Expected to be complete", TO_WRITE),
    )


def _names(recipients: Sequence[Recipient]) -> str:
    return ", ".join(each.name for each in recipients)


def status_report(packet: RecallPacket) -> list[Flowable]:
    """How far the recall is, customer by customer: a report, and a form while it is empty."""
    columns = [
        Column("Customer", 24),
        Column("Sent", 8, right=True),
        Column("Notified, how", 20),
        Column("Answered", 15),
        Column("On hand", 9, right=True),
        Column("Back", 8, right=True),
        Column("Destroyed", 11, right=True),
    ]
    rows = []
    for each in packet.recipients:
        said = packet.response_of(each)
        notified, answered = (read(each, packet.head) for each in (said.notified, said.answered))
        told = ", ".join(part for part in (notified, said.method) if part)
        back = said.sent_back if said.sent_back is not None else each.returned or ""
        cells = (
            each.name, each.sent, told, answered, _figure(said.on_hand), back,
            _figure(said.destroyed),
        )  # fmt: skip
        rows.append(Row(cells, [said.note] if said.note else []))
    none = "Nothing was sent to anybody."
    return [
        PageBreak(),
        paragraph("Status report", TITLE),
        paragraph("Sent every two to four weeks, by urgency (21 CFR 7.53).", SMALL),
        Spacer(1, 4),
        *[paragraph(read(words, packet.head), BOLD_BODY) for words in packet.closings],
        *pairs(counts_of(packet)),
        *section("Customer by customer, in pieces", table(columns, rows, none)),
        *to_sign("Reported by", ("Status reported by",)),
    ]


def _figure(number: int | None) -> str:
    return "" if number is None else str(number)


# Effectiveness checks --------------------------------------------------------------------


def to_check(count: int) -> list[tuple[str, str]]:
    """How many of so many customers each level asks."""
    found = []
    for level, share in LEVELS:
        asked = "10 to 100 %" if share is None else f"{share} %"
        number = "as set" if share is None else str(math.ceil(count * share / 100))
        found.append((f"Level {level}, {asked}", number))
    return found


def effectiveness_checks(packet: RecallPacket) -> list[Flowable]:
    """Whether the notice arrived and was acted on: how many to ask, and whom."""
    trade = [each for each in packet.recipients if not each.is_public]
    columns = [
        Column("Customer", 30),
        Column("Asked on, by", 22),
        Column("Notice came", 12),
        Column("Acted on it", 12),
        Column("Found", 24),
    ]
    rows = []
    for each in trade:
        said = packet.response_of(each)
        rows.append(Row((each.name, said.check, "", "", said.check_result), (each.reach,)))
    levels = [Pair(name, number) for name, number in to_check(len(trade))]
    chosen = f"Level {packet.level} was chosen." if packet.level else ""
    return [
        *heading("Effectiveness checks", needs=60 * mm),
        *([paragraph(chosen, BOLD_BODY)] if chosen else []),
        paragraph(SHARES_SAID, SMALL),
        Spacer(1, 3),
        *pairs(levels),
        Spacer(1, 4),
        table(columns, rows, "There is no customer to ask."),
    ]


# The public ------------------------------------------------------------------------------


def concerned(products: Sequence[ConcernedProduct], head: Head) -> Flowable:
    """The products with all their codes: a range holds every code between its ends."""
    columns = [
        Column("Product", 28),
        Column("Size", 13),
        Column("Best before", 20),
        Column("Lot code on the label", 40),
    ]
    rows = [
        Row((each.product, each.net_contents, read(each.best_before, head), each.codes))
        for each in products
    ]
    return table(columns, rows, "Nothing was sent to anybody.")


def public_warning(packet: RecallPacket) -> list[Flowable]:
    """A draft for the press and for where it was sold: only where a person decides so."""
    times = set().union(*(times_of(each.lots) for each in packet.recipients))
    head = [
        Pair("Sold", read(from_to(time[:10] for time in times), packet.head)),
        Pair("Where", TO_WRITE),
        Pair("Why", read(packet.reason, packet.head) or TO_WRITE),
        Pair("What could happen", packet.hazard or TO_WRITE),
        Pair("Reach us", packet.reply_to or TO_WRITE),
    ]
    return [
        PageBreak(),
        paragraph("Warning to the public", TITLE),
        paragraph(
            "DRAFT, not to be published before the person in charge has decided, with the "
            "authority, whether the public is warned, and how.",
            BOLD_BODY,
        ),
        Spacer(1, 6),
        *section("Which bottles", concerned(packet.concerned, packet.head)),
        paragraph("A code to a code: these two and every one between them.", SMALL),
        Spacer(1, 6),
        *pairs(head),
        *section("What to do", *(paragraph(words, BODY) for words in PUBLIC_TO_DO)),
        *section("Decided", ruled_lines(("Public warned: yes or no, and by which media", "Date"))),
        *to_sign("Decided by", ("Public warning decided by",)),
    ]
