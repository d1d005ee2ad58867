"""One box for everything that has a code, a name or a number: straight to it, or what is near."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from django.db import models
from django.db.models import Case, IntegerField, Q, Value
from django.db.models import When as Where
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_safe

from brewlog.domain.vessels import lots_in
from brewlog.gs1 import Gs1Error, gtin14
from brewlog.middleware import BreweryRequest
from brewlog.models import BottlingLot, Lot, Vessel
from brewlog.models.base import Register
from brewlog.recording import reading
from brewlog.scanned import Scan, read_scan
from brewlog.views.access import READ, needs
from brewlog.views.details import Link
from brewlog.views.facts import label_of
from brewlog.views.links import lot_url, url_of
from brewlog.views.lists import Cell, Listing, show_cells, without_choice
from brewlog.views.nouns import FURTHER_LISTINGS, LISTINGS
from brewlog.views.reader import Reader, reader_of

# Of each kind, the best so many; the list has the rest.
MOST_OF_A_KIND = 6
# Cells of the list shown beside the name.
_CELLS_BESIDE = 3
_NEWEST_CODES = 5000
_NEAREST = 8
# How well a row matches, the best first: it is called that, something of it is, and so on.
_CALLED, _IS, _BEGINS, _HOLDS, _SCATTERED = range(5)


# Straight to it --------------------------------------------------------------------------


def _to_lot(code: str) -> str | None:
    """A code that only voided lots had leads to the newest of them."""
    rows = Lot.objects.with_code(code)
    lot = rows.live().first() or rows.order_by("-id").first()
    return url_of(lot) if lot else None


def _to_vessel(code: str) -> str | None:
    """To what is in the vessel; to the vessel itself where that is nothing, or several lots."""
    vessel = Vessel.objects.live().filter(name__iexact=code.strip()).first()
    if vessel is None:
        return None
    there = lots_in(vessel)
    return lot_url(there[0].code) if len(there) == 1 else url_of(vessel)


# What a code leads straight to, asked in this order: its address, or None.
STRAIGHT: list[Callable[[str], str | None]] = [_to_lot, _to_vessel]


def straight_to(code: str) -> str | None:
    """The page that a code by itself leads to."""
    return next((address for ask in STRAIGHT if (address := ask(code))), None)


def _scanned_lot(scan: Scan) -> Lot | None:
    """The lot that a scan names, unless it is known to be another product of ours."""
    for code in scan.lots:
        lot = Lot.objects.coded(code)
        if lot is not None and _is_product(lot, scan.gtin):
            return lot
    return None


def _is_product(lot: Lot, gtin: str) -> bool:
    bottles = BottlingLot.objects.filter(pk=lot.pk).select_related("flavour").first()
    if not gtin or bottles is None or not bottles.flavour.gtin:
        return True
    try:
        return gtin14(bottles.flavour.gtin) == gtin14(gtin)
    except Gs1Error:
        return True  # What the label says was never a GTIN: the lot code decides.


@require_safe
@needs(READ)
def find(request: BreweryRequest) -> HttpResponse:
    """What was typed or scanned: straight to its page, or everything that matches."""
    typed = request.GET.get("q", "")
    # A scanner's separator counts as a space in Python: a scan is read before it is tidied.
    words = " ".join(typed.split())
    address = straight_to(words) if words else None
    if address:
        return redirect(address)
    try:
        scan = read_scan(typed) if words else None
    except Gs1Error as problem:
        return _show(request, words, note=str(problem))
    if scan is None:
        return _show(request, words)
    lot = _scanned_lot(scan)
    if lot is not None:
        return redirect(lot_url(lot.code))
    address = straight_to(scan.text) if scan.text else None
    return redirect(address) if address else _show_scan(request, scan)


def _show_scan(request: BreweryRequest, scan: Scan) -> HttpResponse:
    if scan.text:
        return _show(request, scan.text)
    if not scan.lots:
        return _show(request, scan.gtin.lstrip("0"), note=f"Scanned: GTIN {scan.gtin}, no lot.")
    product = f" of GTIN {scan.gtin}" if scan.gtin else ""
    note = f"Scanned: lot {scan.lots[0]}{product}. No lot of ours is that."
    return _show(request, scan.lots[0], note=note)


def _show(request: BreweryRequest, words: str, note: str = "") -> HttpResponse:
    with reading():
        groups = matches(words, reader_of(request)) if words else []
        near = near_to(words) if words and not groups else []
    context = {"here": "records", "sought": words, "note": note, "groups": groups, "near": near}
    return render(request, "brewlog/find.html", context)


# What matches ----------------------------------------------------------------------------


@dataclass(frozen=True)
class Match:
    """A record that matches: its name, what the list says beside it, and why it matched where
    neither shows that."""

    name: Cell
    beside: list[Cell]
    why: list[str]


@dataclass(frozen=True)
class Group:
    """The matches of one list, the best first, and the way to all of them."""

    title: str
    rank: int
    rows: list[Match]
    more_url: str


def matches(words: str, reader: Reader) -> list[Group]:
    """Everything that matches, by kind: the kind with the best match first."""
    listings = [each for each in (*LISTINGS, *FURTHER_LISTINGS) if each.sought]
    found = [group for each in listings if (group := _group(each, words, reader))]
    return sorted(found, key=lambda group: group.rank)


def _group(listing: Listing, words: str, reader: Reader) -> Group | None:
    terms = words.split()
    rows = without_choice(listing)
    for term in terms:
        rows = rows.filter(_any_of(listing.sought, "icontains", term))
    # Of most kinds nothing matches: how well is asked of the others only.
    if not rows.exists():
        return None
    rows = rows.annotate(rank=_rank(listing.sought, words)).order_by("rank", "-pk")
    # First by what is compared, so that nothing is worked out for rows not shown.
    found = list(rows.values_list("pk", "rank", *listing.sought)[: MOST_OF_A_KIND + 1])
    best = found[:MOST_OF_A_KIND]
    by_key = {each.pk: each for each in listing.queryset().filter(pk__in=[row[0] for row in best])}
    records = [by_key[pk] for pk, *_ in best]
    listing.prepare(records)
    labels = [lookup_label(records[0].__class__, lookup) for lookup in listing.sought]
    shown = [
        _match(listing, record, why(terms, labels, row[2:]), reader)
        for record, row in zip(records, best, strict=True)
    ]
    has_more = len(found) > MOST_OF_A_KIND
    more_url = f"{reverse(f'{listing.noun}-list')}?{urlencode({'q': words})}" if has_more else ""
    return Group(listing.title, best[0][1], shown, more_url)


def _any_of(lookups: Sequence[str], how: str, text: str) -> Q:
    found = Q()
    for lookup in lookups:
        found |= Q(**{f"{lookup}__{how}": text})
    return found


def _rank(lookups: Sequence[str], words: str) -> Case:
    return Case(
        Where(_any_of(lookups[:1], "iexact", words), then=Value(_CALLED)),
        Where(_any_of(lookups, "iexact", words), then=Value(_IS)),
        Where(_any_of(lookups, "istartswith", words), then=Value(_BEGINS)),
        Where(_any_of(lookups, "icontains", words), then=Value(_HOLDS)),
        default=Value(_SCATTERED),
        output_field=IntegerField(),
    )


def _match(listing: Listing, record: Any, reasons: list[str], reader: Reader) -> Match:
    name, *others = show_cells(listing.columns, record, reader).cells
    said = [cell for cell in others if _says_what_it_is(cell)]
    beside = said[:_CELLS_BESIDE]
    shown = {cell.text for cell in (name, *beside)}
    return Match(name, beside, [each for each in reasons if each.partition(": ")[2] not in shown])


def _says_what_it_is(cell: Cell) -> bool:
    """A word or a name: figures, times and ticks mean little without their heads."""
    return not (cell.is_none or cell.is_time or cell.column.number or cell.column.name == "in_use")


def why(terms: Iterable[str], labels: Sequence[str], values: Sequence[Any]) -> list[str]:
    """Which fields hold the terms, each with what it says: `Supplier's lot code: AB-17`."""
    reasons = []
    for term in terms:
        for label, value in zip(labels, values, strict=True):
            if value and term.casefold() in str(value).casefold():
                reasons.append(f"{label}: {value}")
                break
    return list(dict.fromkeys(reasons))


def lookup_label(model: type[models.Model], lookup: str) -> str:
    """A lookup in words: its last field, or of a name whose name it is."""
    fields: list[Any] = []
    for name in lookup.split("__"):
        fields.append(model._meta.get_field(name))
        model = fields[-1].related_model or model
    named_by = fields[-2] if fields[-1].name == "name" and len(fields) > 1 else fields[-1]
    return label_of(named_by)


# What is near ----------------------------------------------------------------------------


def near_to(words: str) -> list[Link]:
    """Codes and names that are nearly what was typed, the nearest first."""
    known: dict[str, tuple[str, str, Any]] = {}
    for listing in LISTINGS:
        model = listing.queryset().model
        if issubclass(model, Register) and listing.sought:
            for pk, name in model.objects.live().values_list("pk", "name"):
                title = f"{name} ({listing.title.lower()})"
                known.setdefault(name.upper(), (title, f"{listing.noun}-detail", pk))
    newest = Lot.objects.live().order_by("-id").values_list("code", flat=True)[:_NEWEST_CODES]
    known |= {code.upper(): (code, "lot-detail", code) for code in newest}
    nearest = [known[each] for each in get_close_matches(words.upper(), known, n=_NEAREST)]
    return [Link(title, reverse(page, args=[key])) for title, page, key in nearest]
