"""The recall packet: scope, quantities, who has it, and a draft notice for each of them.

What a notice says and must not say: 21 CFR 7.49 (guidance, not a binding rule).
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from itertools import chain

from reportlab.lib.colors import HexColor
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, PageBreak, Spacer

from compliance.documents.as_read import read
from compliance.documents.page import (
    BODY,
    BOLD_BODY,
    SMALL,
    Column,
    Head,
    Pair,
    Row,
    heading,
    lacking_note,
    pairs,
    paragraph,
    render,
    section,
    styled,
    table,
    title_block,
)
from compliance.documents.recall_facts import RecallPacket
from compliance.documents.recall_follow_up import (
    HOLD_HEADS,
    PUBLIC_TO_DO,
    STATUS_HEADS,
    TO_WRITE,
    concerned,
    effectiveness_checks,
    hold_list,
    hold_rows,
    marking,
    public_warning,
    status_report,
    status_rows,
)
from compliance.documents.recall_ranges import from_to
from compliance.documents.recall_sending import Recipient, SentTo, times_of
from compliance.documents.to_write_on import ruled_lines, signatures, to_sign
from compliance.documents.trace_sheet import BEFORE, BEFORE_EXPLAINED
from compliance.documents.workbook import Cell, SheetOf, csv_bytes, workbook_bytes

# Bold red, "urgent" for classes I and II: 21 CFR 7.49(b).
URGENT = styled("urgent", size=20, colour=HexColor("#b3001b"), bold=True)
DRAFT_NOTICE = "DRAFT: to be reviewed, completed and signed by a person before it is sent."
FIRST_WORDS = (
    "This packet is a draft for a person to review. A withdrawal, a stock recovery and a recall "
    "are three different things: the person in charge decides which this is, and how wide. The "
    "authority's rules and deadlines come first: call them early. Read this with the licensed "
    "people who advise you."
)
RISK = "The risk to health, judged by a qualified person"
# Lots of customers, one by one: some four hundred pages, and as many again in the notices. Of
# more than these the PDF has the sum for each customer; their list is the workbook's.
ROWS_PRINTED = 20_000
# Some five pages of a letter. Of more lots it has the codes in ranges, and the list beside it.
LOTS_IN_LETTER = 200
STILL_TO_WRITE = (
    "When and how the fault was found",
    RISK,
    "The class given by the authority, and when they were told",
    "How far it goes: distributors, shops, the public",
    "A warning to the public: yes or no, and how",
    "How replies are followed up, and by whom",
    "What becomes of the bottles that come back",
)


def recall_packet(packet: RecallPacket, paper: str = "a4") -> bytes:
    """The PDF of the packet with its notices. `paper` is `a4` or `letter`."""
    parts = [
        _top(packet),
        section("How much, and where it is", *pairs(packet.totals)),
        section("Accounted for, and recovered", *pairs(packet.reconciliation)),
        section("Bottling lots in the scope, in pieces", _lots(packet)),
        _other_stock(packet),
        hold_list(packet),
        section("Who has it", *_who_has_it(packet)),
        _to_write(packet),
        to_sign("Decided by", ("Scope and notices reviewed by",)),
        status_report(packet),
        effectiveness_checks(packet),
        public_warning(packet),
        *(_notice(packet, each) for each in packet.recipients if is_printed_whole(packet)),
    ]
    return render(packet.head, list(chain.from_iterable(parts)), paper)


def is_printed_whole(packet: RecallPacket) -> bool:
    """Whether the PDF itself has each customer's lots and notice."""
    return _lots_sent(packet) <= ROWS_PRINTED


def _lots_sent(packet: RecallPacket) -> int:
    return sum(len(each.lots) for each in packet.recipients)


def notice(packet: RecallPacket, recipient: Recipient, paper: str = "a4") -> bytes:
    """The letter to one customer by itself."""
    _, *letter = _notice(packet, recipient)
    return render(packet.head, letter, paper)


def _top(packet: RecallPacket) -> list[Flowable]:
    lines = [packet.description[:1].upper() + packet.description[1:], "Recall packet"]
    found = title_block(packet.code, lines, packet.head.state)
    reason = packet.reason or f"no open hold on the lot says why {TO_WRITE}"
    found += [Spacer(1, 4), paragraph(FIRST_WORDS, BODY), Spacer(1, 4)]
    found.append(paragraph(f"Reason: {read(reason, packet.head)}", BOLD_BODY))
    found += lacking_note(_names(packet))
    if packet.decided:
        found.append(paragraph(f"Decided: {read(packet.decided, packet.head)}", BOLD_BODY))
        found.append(paragraph(f"Hazard: {packet.hazard}", BODY))
    if packet.since:
        since = read(packet.since, packet.head)
        found.append(paragraph(f"Suspect since {since}, its last good check.", BODY))
    if any(lot.before for lot in packet.lots):
        found += [Spacer(1, 4), paragraph(BEFORE_EXPLAINED, SMALL)]
    return found


def _names(packet: RecallPacket) -> str:
    """What people have named that stands on the paper."""
    customers = (f"{each.name} {each.address} {each.contact}" for each in packet.recipients)
    return " ".join((packet.head.brewery, packet.description, packet.reason, *customers))


def _lots(packet: RecallPacket) -> Flowable:
    columns = [
        Column("Lot", 17),
        Column("Product", 28),
        Column("Best before", 15),
        Column("Made", 10, right=True),
        Column("Shipped", 11, right=True),
        Column("Back", 9, right=True),
        Column("Gone", 10, right=True),
        Column("On hand", 12, right=True),
        Column("Unexplained", 14, right=True),
    ]
    rows = []
    for lot in packet.lots:
        below = [f"gone: {lot.gone}"] if lot.gone else []
        below += [f"{lot.used} used in other lots"] if lot.used else []
        below += [f"{BEFORE}: {read(words, packet.head)}" for words in lot.before]
        counts = (lot.made, lot.shipped, lot.returned, lot.gone_count, lot.on_hand)
        product = f"{lot.flavour}, {lot.format}"
        best_before = read(lot.best_before, packet.head)
        cells = (lot.code, product, best_before, *counts, lot.unexplained)
        rows.append(Row(cells, below))
    return table(columns, rows, "Nothing was bottled from it.")


def _other_stock(packet: RecallPacket) -> list[Flowable]:
    columns = [Column("Lot", 17), Column("What it is", 60), Column("On hand", 20, right=True)]
    rows = [Row((each.code, each.what, each.on_hand)) for each in packet.other_stock]
    none = "Nothing that is not bottled is left of it."
    return section("Not bottled and still there: keep it apart", table(columns, rows, none))


def _who_has_it(packet: RecallPacket) -> list[Flowable]:
    if is_printed_whole(packet):
        return [_customers(packet)]
    words = (
        f"Summed up by customer. Which of them had which lot is {_lots_sent(packet)} rows, all in "
        f"the workbook (sheet {CUSTOMERS_SHEET}). The {len(packet.recipients)} notices, each with "
        "its lots, are files of their own: the folder notices, in the ZIP of everything."
    )
    return [paragraph(words, BOLD_BODY), Spacer(1, 4), _customers_summed_up(packet)]


def _customers_summed_up(packet: RecallPacket) -> Flowable:
    columns = [
        Column("Customer", 40),
        Column("Lots", 12, right=True),
        Column("Pieces sent", 14, right=True),
        Column("Back", 12, right=True),
        Column("When", 34),
    ]
    rows = []
    for each in packet.recipients:
        cells = (
            each.name,
            len(each.lots),
            each.sent,
            each.returned or "",
            _days(each.lots, packet.head),
        )
        below = [f"{each.kind}; {each.reach}"]
        below += [f"{BEFORE}: some of it"] if any(lot.drawn_before for lot in each.lots) else []
        rows.append(Row(cells, below))
    return table(columns, rows, "Nothing made from it has been shipped.")


def _customers(packet: RecallPacket) -> Flowable:
    columns = [
        Column("Customer", 24),
        Column("Lot", 16),
        Column("Sent", 16, right=True),
        Column("Back", 9, right=True),
        Column("When", 24),
        Column("Shipments", 24),
    ]
    rows = []
    for each in packet.recipients:
        contact = f"{each.kind}; {each.reach}"
        if not each.lots:
            rows.append(Row((each.name, *[""] * 5), (contact,)))
        for number, lot in enumerate(each.lots):
            when = read(from_to((lot.first, lot.last)), packet.head)
            cells = (lot.code, lot.quantity_text, lot.returned or "", when, lot.shipments)
            below = [contact] if number == 0 else []
            below += [BEFORE] if lot.drawn_before else []
            # The name stands in every row: a group may go on over the page.
            rows.append(Row((each.name, *cells), below))
    return table(columns, rows, "Nothing made from it has been shipped.")


def _to_write(packet: RecallPacket) -> list[Flowable]:
    words = "What the record cannot say, and a recall must (21 CFR 7.41, 7.42, 7.46):"
    open_points = [each for each in STILL_TO_WRITE if not (packet.hazard and each == RISK)]
    return section("Still to be written", paragraph(words, SMALL), ruled_lines(open_points))


# The notices -----------------------------------------------------------------------------


def _notice(packet: RecallPacket, recipient: Recipient) -> list[Flowable]:
    """One letter on a page of its own: what, why, what to do, how to answer. No promotion."""
    to = "the public" if recipient.is_public else recipient.name
    address = ", ".join(line for line in packet.address.splitlines() if line)
    sender = ", ".join(part for part in (packet.head.brewery, address, packet.reply_to) if part)
    where = "To be shown where it was sold" if recipient.is_public else "To"
    head = [
        Pair(where, f"{recipient.name}\n{recipient.address}" if recipient.address else to),
        Pair("From", sender),
        Pair("For the attention of", recipient.contact),
        Pair("Date", TO_WRITE),
    ]
    reason = (read(packet.reason, packet.head) or TO_WRITE).rstrip(".")
    begun = reason if reason[:2] == "pH" else reason[:1].upper() + reason[1:]
    why = f"{begun}. Hazard: {packet.hazard.rstrip('.') or TO_WRITE}."
    return [
        PageBreak(),
        paragraph(marking(packet), URGENT),
        paragraph(DRAFT_NOTICE, BOLD_BODY),
        Spacer(1, 6),
        *pairs(head),
        *section("The product", *_notice_products(packet, recipient)),
        *section("Why", paragraph(why, BODY)),
        *section("What to do", *(paragraph(words, BODY) for words in _to_do(packet, recipient))),
        *heading("Your answer", needs=75 * mm),
        *_reply(packet),
    ]


def lists_every_lot(recipient: Recipient) -> bool:
    """Whether the letter itself has each of their lots."""
    return len(recipient.lots) <= LOTS_IN_LETTER


def _notice_products(packet: RecallPacket, recipient: Recipient) -> list[Flowable]:
    if lists_every_lot(recipient):
        return [_notice_lots(recipient, packet.head)]
    words = (
        "Every bottle of these with a code from the first to the last of a range, whichever "
        f"delivery it came with. You had {len(recipient.lots)} lots of them from us: each is in "
        "the list that goes with this letter (CSV, for a spreadsheet), with how many and when."
    )
    had = {(lot.product, lot.net_contents) for lot in recipient.lots}
    theirs = [each for each in packet.concerned if (each.product, each.net_contents) in had]
    sums = section("What you had of them", _notice_sums(recipient, packet.head))
    return [concerned(theirs, packet.head), Spacer(1, 4), paragraph(words, BODY), *sums]


def _notice_sums(recipient: Recipient, head: Head) -> Flowable:
    """What one customer had, summed up by product."""
    columns = [
        Column("Product", 34),
        Column("Size", 16),
        Column("Lots", 10, right=True),
        Column("Sent to you", 16, right=True),
        Column("When", 30),
    ]
    by_product: dict[tuple[str, str, str], list[SentTo]] = defaultdict(list)
    for lot in recipient.lots:
        by_product[lot.product, lot.net_contents, lot.unit].append(lot)
    rows = []
    for (product, size, unit), lots in sorted(by_product.items()):
        sent = f"{sum(lot.quantity for lot in lots)} {unit}"
        rows.append(Row((product, size, len(lots), sent, _days(lots, head))))
    return table(columns, rows, "Only bottles that came back.")


def _days(lots: Sequence[SentTo], head: Head) -> str:
    return read(from_to(time[:10] for time in times_of(lots)), head)


def _notice_lots(recipient: Recipient, head: Head) -> Flowable:
    columns = [
        Column("Product", 32),
        Column("Size", 14),
        Column("Lot code", 17),
        Column("Best before", 16),
        Column("Sent to you", 13, right=True),
        Column("When", 24),
    ]
    rows = []
    for lot in recipient.lots:
        best_before = read(lot.best_before, head)
        cells = (lot.product, lot.net_contents, lot.code, best_before, lot.quantity_text)
        rows.append(Row((*cells, _days([lot], head))))
    return table(columns, rows, "Only bottles that came back.")


# 21 CFR 7.49(b): a call is confirmed in writing.
BY_TELEPHONE = "If you were told by telephone first, this letter confirms it."
_TRADE_TO_DO = (
    "Stop selling and serving these lots at once. Take them off shelves, coolers and taps.",
    "Keep them apart, cold, marked 'do not use'. Destroy nothing before we have agreed how.",
    "If you sold any on to another business, tell them at once and send us the list.",
    "Answer today, also if you have none left.",
)


def _to_do(packet: RecallPacket, recipient: Recipient) -> list[str]:
    todo = PUBLIC_TO_DO if recipient.is_public else _TRADE_TO_DO
    numbered = [f"{number}. {words}" for number, words in enumerate(todo, start=1)]
    numbered += [] if recipient.is_public else [BY_TELEPHONE]
    return [*numbered, f"Reach us: {packet.reply_to or TO_WRITE}."]


def _reply(packet: RecallPacket) -> list[Flowable]:
    answer = packet.reply_to or TO_WRITE
    return [
        paragraph(f"Fill in and send back to {answer}:", BODY),
        ruled_lines(
            (
                "Bottles of these lots we still have",
                "Bottles sold on or used up",
                "Other businesses we told",
            )
        ),
        Spacer(1, 4),
        signatures(("For the recipient",)),
    ]


# The spreadsheet -------------------------------------------------------------------------

CUSTOMERS_SHEET = "Customers"
CUSTOMER_HEADS = (
    "customer", "kind", "contact", "phone", "e-mail", "address", "lot", "product", "format",
    "best before", "sent", "unit", "brought back", "first sent", "last sent", "shipments",
    "drawn before",
)  # fmt: skip
LOT_HEADS = (
    "lot", "flavour", "format", "best before", "made", "shipped", "brought back", "gone",
    "gone as", "used in other lots", "on hand", "unexplained", "drawn before",
)  # fmt: skip


LETTER_HEADS = (
    "lot", "product", "format", "best before", "sent", "unit", "brought back", "first sent",
    "last sent", "shipments",
)  # fmt: skip


def notice_csv(recipient: Recipient) -> bytes:
    """The lots of one customer, a row each: the list that goes with a letter."""
    rows = [
        (
            lot.code, lot.product, lot.format, lot.best_before, lot.quantity, lot.unit,
            lot.returned, lot.first, lot.last, lot.shipments,
        )
        for lot in recipient.lots
    ]  # fmt: skip
    return csv_bytes(LETTER_HEADS, rows)


def customer_rows(packet: RecallPacket) -> list[Sequence[Cell]]:
    """One row for each lot of each customer."""
    return [
        (
            each.name, each.kind, each.contact, each.phone, each.email, each.address,
            lot.code, lot.product, lot.format, lot.best_before, lot.quantity, lot.unit,
            lot.returned, lot.first, lot.last, lot.shipments, "yes" if lot.drawn_before else "no",
        )
        for each in packet.recipients
        for lot in each.lots
    ]  # fmt: skip


def lot_rows(packet: RecallPacket) -> list[Sequence[Cell]]:
    """One row for each bottling lot, in pieces."""
    return [
        (
            lot.code, lot.flavour, lot.format, lot.best_before, lot.made, lot.shipped,
            lot.returned, lot.gone_count, lot.gone, lot.used, lot.on_hand, lot.unexplained,
            "; ".join(lot.before) or "no",
        )
        for lot in packet.lots
    ]  # fmt: skip


def recall_csv(packet: RecallPacket) -> bytes:
    """Customers and lots, one row each pair."""
    return csv_bytes(CUSTOMER_HEADS, customer_rows(packet))


def recall_workbook(packet: RecallPacket, at: dt.datetime) -> bytes:
    """The same as sheets: customers, lots, what is to be kept apart, how far the recall is."""
    sheets = [
        SheetOf(CUSTOMERS_SHEET, CUSTOMER_HEADS, customer_rows(packet)),
        SheetOf("Lots", LOT_HEADS, lot_rows(packet)),
        SheetOf("Hold list", HOLD_HEADS, hold_rows(packet)),
        SheetOf("Status", STATUS_HEADS, status_rows(packet)),
    ]
    return workbook_bytes(sheets, f"Recall of lot {packet.code}", at)
