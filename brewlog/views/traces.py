"""Where a lot came from and went, and the recall question, as pages."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, TypeVar

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.html import format_html_join
from django.utils.safestring import SafeString
from django.views.decorators.http import require_safe

from brewlog.charts.picture import LETTERS, Picture
from brewlog.charts.traces import trace_web
from brewlog.charts.web import Web, draw_web
from brewlog.forms.base import EntryForm
from brewlog.forms.fields import WhenField
from brewlog.ledger import ids_in
from brewlog.middleware import BreweryRequest
from brewlog.models import Lot, LotKind, StockAdjustment
from brewlog.models.lots import DESCRIBED
from brewlog.recording import reading
from brewlog.trace import (
    AncestorLot,
    Composition,
    RecallCustomer,
    ScopeLot,
    WhereItWent,
    backward,
    composition,
    recall,
    scope,
    where_it_went,
)
from brewlog.units import Dimension
from brewlog.views.access import READ, needs
from brewlog.views.entry_page import form_problems
from brewlog.views.links import lot_url
from brewlog.views.lists import without
from brewlog.views.lots import PLURALS, find_lot, paper_links, unknown_lot
from brewlog.views.panels import recall_links
from brewlog.views.reader import NOTHING, Reader, reader_of

_KINDS = dict(LotKind.choices)
_REASONS = dict(StockAdjustment.Reason.choices)
# What a trace shows of each kind at first; the rest is one link away, and named.
MOST_OF_A_KIND = 100
# What the recall question shows of one customer at first.
MOST_OF_A_CUSTOMER = 25
LESS_THAN_A_UNIT = "less than a unit"
_KIND_ORDER = (
    LotKind.BOTTLING,
    LotKind.BATCH,
    LotKind.BREW,
    LotKind.CULTURE,
    LotKind.PREPARATION,
    LotKind.INGREDIENT,
)


@dataclass(frozen=True)
class TraceRow:
    """A lot of a trace, in words."""

    code: str
    url: str
    what: str
    when: str
    steps: int
    amount: str
    per_bottle: str
    shipped: str
    on_hand: str
    drawn_before: SafeString | str


@dataclass(frozen=True)
class TraceGroup:
    """The lots of one kind in a trace: how many, and the rows shown of them."""

    kind: str
    title: str
    count: int
    rows: list[TraceRow]

    @property
    def left_out(self) -> int:
        return self.count - len(self.rows)


class SinceForm(EntryForm):
    """From when on the lot itself is suspect: its last good check."""

    since = WhenField(label="Suspect only since", required=False)


def _descriptions(lot_ids: Iterable[int]) -> dict[int, str]:
    """What each lot is, in words. One query."""
    rows = Lot.objects.filter(pk__in=ids_in(lot_ids)).order_by().select_related(*DESCRIBED)
    return {lot.pk: lot.detail.describe() for lot in rows}  # type: ignore[attr-defined]


L = TypeVar("L", ScopeLot, AncestorLot)


def _by_kind(found: Iterable[L], most: int | None) -> list[tuple[LotKind, int, list[L]]]:
    """The lots of each kind, how many, and those shown: the first `most`; all for None."""
    groups = []
    others = [each for each in found if each.distance > 0]
    for kind in _KIND_ORDER:
        of_kind = [each for each in others if each.facts.kind == kind]
        if of_kind:
            groups.append((kind, len(of_kind), of_kind[:most]))
    return groups


def _forward(
    found: list[tuple[LotKind, int, list[ScopeLot]]],
    went: WhereItWent,
    words: dict[int, str],
    reader: Reader,
) -> list[TraceGroup]:
    unit = went.lot.dimension

    def row(each: ScopeLot) -> TraceRow:
        share = went.share(each.facts.lot_id)
        return TraceRow(
            code=each.facts.code,
            url=lot_url(each.facts.code),
            what=words[each.facts.lot_id],
            when=reader.when(each.facts.when),
            steps=each.distance,
            amount=reader.amount(share.entered, unit) if share else LESS_THAN_A_UNIT,
            per_bottle=_per_piece(share.per_piece if share else None, unit, reader),
            shipped=reader.amount(share.shipped, unit) if share else NOTHING,
            on_hand=reader.amount(share.on_hand, unit) if share else NOTHING,
            drawn_before=earlier_words(each, reader),
        )

    return [
        TraceGroup(kind, PLURALS[kind], count, [row(each) for each in shown])
        for kind, count, shown in found
    ]


def _backward(
    found: list[tuple[LotKind, int, list[AncestorLot]]],
    made_of: Composition,
    words: dict[int, str],
    reader: Reader,
) -> list[TraceGroup]:
    def row(each: AncestorLot) -> TraceRow:
        part, unit = made_of.part(each.facts.lot_id), each.facts.dimension
        return TraceRow(
            code=each.facts.code,
            url=lot_url(each.facts.code),
            what=words[each.facts.lot_id],
            when=reader.when(each.facts.when),
            steps=each.distance,
            amount=reader.amount(part.entered, unit) if part else LESS_THAN_A_UNIT,
            per_bottle=_per_piece(part.per_piece if part else None, unit, reader),
            shipped=NOTHING,
            on_hand=reader.amount(part.held, unit) if part else NOTHING,
            drawn_before="",
        )

    return [
        TraceGroup(kind, PLURALS[kind], count, [row(each) for each in shown])
        for kind, count, shown in found
    ]


def _per_piece(amount: float | None, dimension: str, reader: Reader) -> str:
    if amount is None:
        return NOTHING
    if dimension == "count":
        return f"{amount:.3g}"
    return reader.amount(round(amount), dimension)


def earlier_words(each: ScopeLot, reader: Reader) -> SafeString | str:
    """Why a lot counts as drawn before, with both times of every draw; '' where it does not."""
    if not each.drawn_before:
        return ""
    return format_html_join(
        "; ",
        "drawn from {} on {}, {}",
        [
            (
                draw.source.code,
                reader.when(draw.drawn),
                f"which the suspect lot reached on {reader.when(draw.arrived)}"
                if draw.arrived
                else "which was itself drawn before",
            )
            for draw in each.earlier
        ],
    )


@require_safe
@needs(READ)
def lot_trace(request: BreweryRequest, code: str) -> HttpResponse:
    """Everything a lot was made from, and everything made from it, with amounts and times."""
    lot = find_lot(request, code)
    if lot is None:
        return unknown_lot(request, code)
    reader = reader_of(request)
    most = None if request.GET.get("all") else MOST_OF_A_KIND
    with reading():
        went, made_of = where_it_went(lot), composition(lot)
        onward, behind = scope(lot), backward(lot)
        ahead, back = _by_kind(onward.lots, most), _by_kind(behind.lots, most)
        shown = [each.facts.lot_id for _, _, rows in ahead for each in rows]
        shown += [each.facts.lot_id for _, _, rows in back for each in rows]
        words = _descriptions([lot.pk, *shown])
        web = trace_web(went.lot, behind.lots, onward.lots, words, reader.amount)
    forward = _forward(ahead, went, words, reader)
    backward_groups = _backward(back, made_of, words, reader)
    context = {
        "here": "records",
        "lot": lot,
        "what": words[lot.pk],
        "forward": forward,
        "backward": backward_groups,
        "is_counted": lot.dimension == "count",
        "sinks": _sinks(went, reader),
        "picture": _picture(web, len(onward.lots) + len(behind.lots) - 1),
        "papers": paper_links(lot),
    }
    return render(request, "brewlog/lot_trace.html", context)


def _picture(web: Web | None, lots: int) -> Picture | None:
    """The way as a picture, with its lines as a table; a sentence for what is not drawn."""
    if lots < 2:
        return None
    if web is None:
        words = f"{lots} lots are too many to be read as a picture: the tables have all of them."
        return Picture("way", "The way it went", words)
    drawn = len(web.boxes)
    words = "" if drawn == lots else f"The nearest {drawn} of {lots} lots; the tables have all."
    title = {box.key: box.title for box in web.boxes}
    return Picture(
        key="way",
        title="The way it went",
        sentence=words,
        columns=("From", "Into", "Amount"),
        rows=tuple((title[each.source], title[each.into], each.words) for each in web.joins),
        described=f"{drawn} lots and what each gave to the next.",
        drawing=lambda width: draw_web(web, LETTERS),
        fits=False,
    )


def _sinks(went: WhereItWent, reader: Reader) -> list[tuple[str, str]]:
    """Where all of the lot is now; the lines sum to the whole."""
    unit = went.lot.dimension
    rows = [
        ("Shipped, as it is or in what was made from it", went.shipped),
        ("On hand, as it is or in what was made from it", went.on_hand),
        *((_REASONS[reason].capitalize(), amount) for reason, amount in went.gone.items()),
    ]
    if went.unexplained:
        rows.append(("Unexplained: more left than the books had", -went.unexplained))
    listed = [(title, reader.amount(amount, unit)) for title, amount in rows if amount]
    return [*listed, ("All of it", reader.amount(went.amount, unit))]


@require_safe
@needs(READ)
def lot_recall(request: BreweryRequest, code: str) -> HttpResponse:
    """Which bottles hold something of a lot, how many, and who has them."""
    lot = find_lot(request, code)
    if lot is None:
        return unknown_lot(request, code)
    reader = reader_of(request)
    form = SinceForm(request.GET or None, actor=request.user, brewery=request.brewery)
    since = form.cleaned_data.get("since") if form.is_bound and form.is_valid() else None
    with reading():
        found = recall(lot, since=since)
        most = None if request.GET.get("all") else MOST_OF_A_KIND
        bottles, stock = found.bottling_lots, found.other_stock
        named = [lot.pk, *(each.scope.facts.lot_id for each in stock[:most])]
        words = _descriptions(named)
    only = request.GET.get("customer", "")
    context = {
        "here": "records",
        "lot": lot,
        "what": words[lot.pk],
        "form": form,
        "problems": form_problems(form) if form.is_bound else [],
        "since": reader.when(since) if since else "",
        "totals": found.totals,
        "gone": [(_REASONS[reason], amount) for reason, amount in found.totals.gone.items()],
        "bottles": [_recall_row(each, reader) for each in bottles[:most]],
        "bottles_left_out": len(bottles[most:]) if most else 0,
        "stock": [
            {
                "code": each.code,
                "url": lot_url(each.code),
                "kind": _KINDS[each.scope.facts.kind],
                "what": words[each.scope.facts.lot_id],
                "on_hand": reader.amount(each.on_hand, each.scope.facts.dimension),
                "drawn_before": earlier_words(each.scope, reader),
            }
            for each in stock[:most]
        ],
        "stock_left_out": len(stock[most:]) if most else 0,
        "customers": [
            _customer_row(each, reader, None if only else MOST_OF_A_CUSTOMER)
            | {"query": without(request, customer=str(each.customer_id))}
            for each in found.customers
            if only in ("", str(each.customer_id))
        ],
        "customers_in_all": len(found.customers),
        "only": only,
        "all_query": without(request, "customer", all="1"),
        "every_customer": without(request, "customer"),
        "papers": [*recall_links(request, lot), *paper_links(lot)],
    }
    return render(request, "brewlog/lot_recall.html", context)


def _recall_row(each: Any, reader: Reader) -> dict[str, Any]:
    gone = ", ".join(f"{amount} {_REASONS[reason]}" for reason, amount in each.gone.items())
    return {
        "code": each.code,
        "url": lot_url(each.code),
        "flavour": each.flavour,
        "format": each.format,
        "best_before": reader.day(dt.date.fromisoformat(each.best_before))
        if each.best_before
        else NOTHING,
        "made": reader.show(each.made),
        "shipped": reader.show(each.shipped),
        "returned": reader.show(each.returned),
        "gone": gone or NOTHING,
        "on_hand": reader.show(each.on_hand),
        "unexplained": reader.show(each.unexplained) if each.unexplained else NOTHING,
        "drawn_before": earlier_words(each.scope, reader),
    }


def _customer_row(each: RecallCustomer, reader: Reader, most: int | None) -> dict[str, Any]:
    """A customer with the lots they had: the first `most`, all for None; and all bottles in sum."""
    lots = each.lots
    bottles = [sent for sent in lots if sent.dimension == Dimension.COUNT]
    return {
        "customer": each,
        "count": len(lots),
        "left_out": len(lots[most:]) if most else 0,
        "had": reader.show(sum(sent.quantity for sent in bottles)),
        "returned": reader.show(sum(sent.returned for sent in bottles)),
        "lots": [
            {
                "code": sent.code,
                "url": lot_url(sent.code),
                "quantity": reader.amount(sent.quantity, sent.dimension),
                "returned": reader.amount(sent.returned, sent.dimension) if sent.returned else "",
                "shipments": ", ".join(sent.shipments),
                "first": reader.when(sent.first),
                "last": reader.when(sent.last) if sent.last != sent.first else "",
                "drawn_before": sent.drawn_before,
            }
            for sent in lots[:most]
        ],
    }
