"""The facts of a recall packet, and their collector."""

from __future__ import annotations

import datetime as dt
import io
import json
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields
from functools import cache
from operator import attrgetter
from typing import Any

from brewlog.domain.blocks import hold_reach
from brewlog.domain.holds import open_holds
from brewlog.domain.places import in_stock, stays_of
from brewlog.ledger import ids_in
from brewlog.models import (
    Customer,
    Hold,
    Location,
    Lot,
    LotKind,
    Move,
    StockAdjustment,
    User,
)
from brewlog.trace import Recall, RecallCustomer, RecallLot, recall
from brewlog.when import When
from compliance.documents.page import Head, Pair
from compliance.documents.printing import DETAIL_PATHS, Desk, desk, moment, what
from compliance.documents.recall_ranges import ConcernedProduct, concerned_products
from compliance.documents.recall_sending import Recipient, Sending
from compliance.documents.trace_packet import before_in_words, contact_of
from compliance.domain.recalls import Answer, answers_of
from compliance.models import MarketDecision, RecallClosing, RecallRun

NO_PLACE = "place not recorded"
DRILL = "DRILL: an exercise, nothing is wrong and nothing is sent"
STATE = "DRAFT for a person to review; nothing has been sent"


@dataclass(frozen=True)
class RecalledLot:
    """A bottling lot of the scope, in pieces. `gone` names the reasons."""

    code: str
    flavour: str
    format: str
    best_before: str
    made: int
    shipped: int
    returned: int
    gone: str
    gone_count: int
    used: int
    on_hand: int
    unexplained: int
    before: tuple[str, ...]


@dataclass(frozen=True)
class OtherStock:
    """What is not bottled and still there: to be kept apart too."""

    code: str
    what: str
    on_hand: str


@dataclass(frozen=True)
class HeldStock:
    """What the scope left in one place of ours, to be found and kept apart. `held` says why it
    cannot go out already; '' where nothing keeps it back yet."""

    code: str
    what: str
    place: str
    amount: str
    held: str


@dataclass(frozen=True)
class CustomerAnswer:
    """How one customer was told and what they answered, as far as it is known.

    Counts are pieces; None where nothing was said. `check` and `check_result` are those of the
    effectiveness check.
    """

    customer_id: int
    notified: str = ""
    method: str = ""
    answered: str = ""
    on_hand: int | None = None
    sent_back: int | None = None
    destroyed: int | None = None
    check: str = ""
    check_result: str = ""
    note: str = ""


@dataclass(frozen=True)
class RecallPacket:
    """Everything a recall packet says. `reason` is empty until somebody wrote a hold, `since`
    where the lot was suspect from the first, `level` (of the checks) until a recall question is
    asked against the clock; `decision`, `hazard` and `decided` until somebody
    signed what is done about what was shipped."""

    head: Head
    code: str
    description: str
    is_drill: bool
    level: str
    reason: str
    decision: str
    hazard: str
    decided: str
    since: str
    reply_to: str
    address: str
    totals: tuple[Pair, ...]
    reconciliation: tuple[Pair, ...]
    lots: tuple[RecalledLot, ...]
    other_stock: tuple[OtherStock, ...]
    hold_list: tuple[HeldStock, ...]
    recipients: tuple[Recipient, ...]
    concerned: tuple[ConcernedProduct, ...]
    responses: tuple[CustomerAnswer, ...]
    # The closings and openings again of the question, the oldest first.
    closings: tuple[str, ...] = ()

    def response_of(self, recipient: Recipient) -> CustomerAnswer:
        """What the customer answered so far; an empty answer where nothing is known."""
        known = {each.customer_id: each for each in self.responses}
        return known.get(recipient.customer_id, CustomerAnswer(recipient.customer_id))

    def to_json(self) -> str:
        """The same facts as JSON, in the order they are printed, a line for each of many."""
        return self.json_bytes().decode()

    def json_bytes(self) -> bytes:
        """The JSON as a file, put together line by line: it may be as large as all else."""
        file = io.BytesIO()
        file.writelines(part.encode() for part in self._json_parts())
        return file.getvalue()

    def _json_parts(self) -> Iterator[str]:
        before = "{\n"
        for name, value in vars(self).items():
            yield f"{before}  {_json(name)}: "
            yield from _json_lines(value)
            before = ",\n"
        yield "\n}\n"


def _json(value: object) -> str:
    # Without indents, which the encoder only knows in Python: it takes a tenth of the time.
    return json.dumps(value, default=_fields, ensure_ascii=False)


def _json_lines(value: object) -> Iterator[str]:
    if not isinstance(value, tuple) or not value:
        yield _json(value)
        return
    before = "[\n    "
    for each in value:
        yield before
        yield _json(each)
        before = ",\n    "
    yield "\n  ]"


def _fields(record: Any) -> dict[str, Any]:
    names, values = _reader(record.__class__)
    return dict(zip(names, values(record), strict=True))


@cache
def _reader(of: type) -> tuple[tuple[str, ...], Callable[[Any], tuple[Any, ...]]]:
    names = tuple(each.name for each in fields(of))
    return names, attrgetter(*names)


def collect_recall(
    lot: Lot,
    *,
    printed_by: User | str,
    printed_at: dt.datetime,
    since: When | None = None,
    run: RecallRun | None = None,
    responses: Sequence[CustomerAnswer] = (),
) -> RecallPacket:
    """The full scope of a lot: nothing is left out of it for having been drawn before.

    With `since` the lot is suspect only from then on, its last good check. `responses` are
    what customers answered so far; with `run`, they are those written down for that question.
    """
    with desk(printed_by, printed_at) as at_desk:
        lot = Lot.objects.select_related(*DETAIL_PATHS).get(pk=lot.pk)
        since = since or (run.since if run else None)
        found = recall(lot, since=since)
        responses = answers_to(run, found) if run else tuple(responses)
        sending = Sending(found, at_desk)
        not_bottled = _not_bottled(found)
        recipients = tuple(_recipient(each, sending) for each in found.customers)
        brewery = at_desk.brewery
        reach = (brewery.phone, brewery.email)
        decided = _decision(lot)
        is_drill = run is not None and run.is_drill
        return RecallPacket(
            head=at_desk.head("Recall packet", f"Lot {lot.code}", DRILL if is_drill else STATE),
            code=lot.code,
            description=f"{lot.get_kind_display()}: {what(lot)}",
            is_drill=is_drill,
            level=run.level if run else "",
            reason=_reason(lot) or (run.question if run else ""),
            decision=decided.kind if decided else "",
            hazard=decided.hazard if decided else "",
            decided=_signed(decided) if decided else "",
            since=str(since or ""),
            reply_to=" or ".join(part for part in reach if part),
            address=brewery.address,
            totals=_totals(found),
            reconciliation=_reconciliation(found, responses),
            lots=tuple(_recalled(each) for each in found.bottling_lots),
            other_stock=_other_stock(found, not_bottled, at_desk),
            hold_list=_hold_list(found, not_bottled, at_desk),
            recipients=recipients,
            concerned=concerned_products(recipients, {each.code for each in found.lots}),
            responses=responses,
            closings=_closings(run) if run else (),
        )


def _closings(run: RecallRun) -> tuple[str, ...]:
    acts = run.closings.live().select_related("signature")  # type: ignore[attr-defined]
    return tuple(_closing(each) for each in acts.order_by("id"))


def _closing(act: RecallClosing) -> str:
    said = f"{act.get_act_display().capitalize()} {act.when}: {act.why.rstrip('.')}."
    if act.result is not None:
        kept = act.result
        said += (
            f" What became of the bottles: {act.bottles.rstrip('.')}. As signed: reached "
            f"{kept['reached']} of {kept['customers']} customers, {kept['answered']} answered; of "
            f"{kept['sent']} bottles {kept['destroyed']} destroyed, {kept['returned']} sent back, "
            f"{kept['sold_on']} sold on, {kept['open']} open."
        )
    signature = act.signature
    return f"{said} Signed {moment(signature.signed_at)} by {signature.printed_name}."


def answers_to(run: RecallRun, found: Recall) -> tuple[CustomerAnswer, ...]:
    """What was written down for a question, customer by customer; the last word counts."""
    return tuple(_answer(each) for each in answers_of(run, found.customers))


def _answer(answer: Answer) -> CustomerAnswer:
    reached, said = answer.reached, answer.said
    words = [*(each.note for each in answer.tries), said.told_on if said else ""]
    return CustomerAnswer(
        customer_id=answer.customer_id,
        notified=str(reached.when) if reached else "",
        method=reached.get_how_display() if reached else "",
        answered=str(said.when) if said else "",
        on_hand=said.found if said else None,
        sent_back=said.returned if said else None,
        destroyed=said.destroyed if said else None,
        note="; ".join(part for part in words if part),
    )


def _reason(lot: Lot) -> str:
    """What the open holds on the lot say is wrong with it."""
    holds = Hold.objects.live().filter(lot=lot.pk, lifted_at__isnull=True).order_by("id")
    return "; ".join(f"{hold.get_cause_display()}: {hold.reason}" for hold in holds)


def _decision(lot: Lot) -> MarketDecision | None:
    """The newest signed decision about what was shipped of the lot, under an open hold."""
    decisions = MarketDecision.objects.live().filter(
        hold__lot=lot.pk, hold__voided_at__isnull=True, hold__lifted_at__isnull=True
    )
    return decisions.select_related("signature").order_by("-id").first()


def _signed(decision: MarketDecision) -> str:
    signature = decision.signature
    return (
        f"{decision.get_kind_display()}: {decision.reason} "
        f"Signed {moment(signature.signed_at)} by {signature.printed_name}."
    )


def _totals(found: Recall) -> tuple[Pair, ...]:
    totals = found.totals
    gone = [Pair(f"Gone: {_REASONS[key]}", str(count)) for key, count in totals.gone.items()]
    own = (
        Pair("Bottling lots", str(totals.lots)),
        Pair("Pieces made", str(totals.made)),
        Pair("Pieces shipped", str(totals.shipped)),
        Pair("Brought back", str(totals.returned)),
        *gone,
        Pair("Should be on hand", str(totals.on_hand)),
        Pair("Unexplained", str(totals.unexplained)),
        Pair("Customers", str(len(found.customers))),
    )
    if not totals.lots_drawn_before:
        return own
    count = totals.lots_drawn_before
    lots = "1 lot" if count == 1 else f"{count} lots"
    before = f"{lots}, {totals.made_drawn_before} pieces made"
    return (*own, Pair("Of these drawn before", before))


def _reconciliation(found: Recall, responses: Sequence[CustomerAnswer]) -> tuple[Pair, ...]:
    """Whether all pieces are accounted for, and how many of those sent were recovered."""
    totals = found.totals
    left = totals.made + totals.unexplained
    back = totals.returned
    destroyed = sum(each.destroyed or 0 for each in responses)
    held = sum(each.on_hand or 0 for each in responses)
    return (
        Pair("Accounted for", f"{totals.made} of {left} pieces{_percent(totals.made, left)}"),
        Pair("Still with customers by the books", f"{totals.shipped - back} pieces"),
        Pair("Brought back so far", f"{back} of {totals.shipped}{_percent(back, totals.shipped)}"),
        Pair("Destroyed at customers, they say", str(destroyed)),
        Pair("On hand at customers when told, they say", str(held)),
    )


def _percent(part: int, whole: int) -> str:
    return f" ({100 * part / whole:.1f} %)" if whole else ""


_REASONS = dict(StockAdjustment.Reason.choices)


def _recalled(lot: RecallLot) -> RecalledLot:
    return RecalledLot(
        code=lot.code,
        flavour=lot.flavour,
        format=lot.format,
        best_before=lot.best_before,
        made=lot.made,
        shipped=lot.shipped,
        returned=lot.returned,
        gone=", ".join(f"{count} {_REASONS[key]}" for key, count in lot.gone.items()),
        gone_count=sum(lot.gone.values()),
        used=lot.used,
        on_hand=lot.on_hand,
        unexplained=lot.unexplained,
        before=tuple(before_in_words(draw) for draw in lot.scope.earlier),
    )


def _not_bottled(found: Recall) -> dict[int, Lot]:
    """What is not bottled and still there, lot by lot, with what it takes to name it."""
    ids = [each.scope.facts.lot_id for each in found.other_stock]
    rows = Lot.objects.filter(pk__in=ids_in(ids)).select_related(*DETAIL_PATHS)
    return {row.pk: row for row in rows}


def _other_stock(
    found: Recall, not_bottled: dict[int, Lot], at_desk: Desk
) -> tuple[OtherStock, ...]:
    return tuple(
        OtherStock(
            each.code,
            f"{LotKind(each.scope.facts.kind).label}: {what(not_bottled[each.scope.facts.lot_id])}",
            at_desk.amount(each.on_hand, each.scope.facts.dimension),
        )
        for each in found.other_stock
    )


def _hold_list(found: Recall, not_bottled: dict[int, Lot], at_desk: Desk) -> tuple[HeldStock, ...]:
    """Everything of the scope that is still here, place by place."""
    here = {each.scope.facts.lot_id: each for each in found.lots if each.on_hand > 0}
    reasons = _holds_on(set(here))
    # What was never moved stands where nobody wrote.
    moved = Move.objects.live().filter(lot__in=ids_in(here)).order_by()
    places = stays_of(set(moved.values_list("lot", flat=True)))
    found_here = []
    for pk, each in sorted(here.items()):
        named = what(not_bottled[pk]) if pk in not_bottled else f"{each.flavour}, {each.format}"
        standing = in_stock(places.get(pk, []))
        parts: list[tuple[Location | None, int]] = [(s.location, s.quantity) for s in standing]
        for location, quantity in parts or [(None, each.on_hand)]:
            found_here.append(
                HeldStock(
                    code=each.code,
                    what=named,
                    place=str(location or NO_PLACE),
                    amount=at_desk.amount(quantity, each.scope.facts.dimension),
                    held="; ".join(reasons.get(pk, ())),
                )
            )
    return tuple(found_here)


def _holds_on(lot_ids: set[int]) -> dict[int, list[str]]:
    """What keeps each of the lots back: the causes of the open holds that reach it."""
    found: dict[int, list[str]] = defaultdict(list)
    for hold in open_holds().prefetch_related("ends").order_by("id"):
        for pk in hold_reach(hold) & lot_ids:
            found[pk].append(f"held: {hold.get_cause_display()}")
    return found


def _recipient(customer: RecallCustomer, sending: Sending) -> Recipient:
    return Recipient(
        customer_id=customer.customer_id,
        name=customer.name,
        kind=str(Customer.Kind(customer.kind).label),
        is_public=customer.kind == Customer.Kind.PUBLIC,
        contact=customer.contact,
        address=customer.address,
        phone=customer.phone,
        email=customer.email,
        reach=contact_of(customer),
        lots=tuple(map(sending.of, customer.lots)),
    )
