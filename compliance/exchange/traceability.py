"""The sortable spreadsheet of receiving, transformation and shipping.

Its columns are the key data elements of 21 CFR 1.1345 (receiving), 1.1350 (transformation)
and 1.1340 (shipping); transporters are those of 1.337 and 1.345. The last column of each sheet
names what the record lacks.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db.models import Q

from brewlog.ledger import ids_in
from brewlog.models import Brewery, Lot, LotKind, LotUse, ShipmentLine, User
from brewlog.trace import descendant_ids
from compliance.documents.printing import (
    DETAIL_PATHS,
    Desk,
    desk,
    detail_paths,
    suppliers_code,
    what,
)
from compliance.documents.workbook import Cell
from compliance.exchange.reports import (
    Report,
    ReportSheet,
    day_of,
    in_units,
    lacking,
    unit_of,
)
from compliance.exchange.scopes import Scope

RECEIVING = (
    "traceability lot code", "our lot code", "listed food", "product", "quantity", "unit",
    "previous source", "received at", "date received", "source of the code", "document type",
    "document number", "transporter", "lacking",
)  # fmt: skip
TRANSFORMATION = (
    "new traceability lot code", "product made", "quantity made", "unit made",
    "transformed at", "date completed", "document type", "document number",
    "input traceability lot code", "input product", "input listed food", "quantity used",
    "unit used", "lacking",
)  # fmt: skip
SHIPPING = (
    "traceability lot code", "product", "quantity", "unit", "recipient", "shipped from",
    "date shipped", "source of the code", "document type", "document number", "shipment",
    "transporter", "lacking",
)  # fmt: skip

_LISTED = (
    "A listed food is an ingredient marked in the register as listed for extra trace records in "
    "the form it came in. Whether a food is listed is for the brewery to settle with the rule."
)
_CODES = (
    "The traceability lot code of a delivery is its supplier's code, or ours where it came "
    "without one. What the brewery makes bears our code."
)


def collect_traceability(
    scope: Scope, *, listed_only: bool, printed_by: User | str, printed_at: dt.datetime
) -> Report:
    """The three sheets of a scope; with `listed_only`, of listed foods and what holds them."""
    with desk(printed_by, printed_at) as at_desk:
        ids = _lot_ids(scope, listed_only)
        asked = f"{scope}; listed foods only" if listed_only else str(scope)
        return Report(
            head=at_desk.head("Traceability records", asked, "as recorded"),
            asked=asked,
            notes=(_LISTED, _CODES),
            sheets=(
                _receiving(scope, ids, listed_only, at_desk),
                _transformation(scope, ids, listed_only, at_desk),
                _shipping(scope, ids, at_desk),
            ),
        )


def _lot_ids(scope: Scope, listed_only: bool) -> set[int] | None:
    ids = scope.lot_ids()
    if not listed_only:
        return ids
    listed = Lot.objects.live().filter(as_ingredient__ingredient__on_traceability_list=True)
    holding = descendant_ids(listed.values_list("pk", flat=True))
    return holding if ids is None else ids & holding


def place(record: Any) -> str:
    """A location description (21 CFR 1.1310): name, address, country and telephone."""
    parts = (
        record.name,
        ", ".join(line.strip() for line in record.address.splitlines() if line.strip()),
        getattr(record, "country", ""),
        getattr(record, "phone", ""),
    )
    return ", ".join(part for part in parts if part)


def _no_place(record: Any) -> bool:
    return record is None or not (record.address and getattr(record, "phone", ""))


def trace_code(lot: Lot) -> str:
    return suppliers_code(lot) or lot.code


def product(lot: Lot) -> str:
    """The food, its brand and variety, its form and how it is packed."""
    detail = lot.detail
    if lot.kind != LotKind.INGREDIENT:
        return what(lot)
    ingredient = detail.ingredient  # type: ignore[attr-defined]
    parts = (str(ingredient), detail.brand, ingredient.form, detail.packaging)  # type: ignore[attr-defined]
    return ", ".join(part for part in parts if part)


def _is_listed(lot: Lot) -> bool:
    return lot.kind == LotKind.INGREDIENT and lot.detail.ingredient.on_traceability_list  # type: ignore[attr-defined]


def _yes(value: bool) -> str:
    return "yes" if value else "no"


def _receiving(scope: Scope, ids: set[int] | None, listed_only: bool, at_desk: Desk) -> ReportSheet:
    came = Q(kind=LotKind.INGREDIENT) | Q(kind=LotKind.CULTURE, as_culture__supplier__isnull=False)
    rows = scope.narrowed(Lot.objects.live().filter(came), ids, "pk")
    if listed_only:
        rows = rows.filter(as_ingredient__ingredient__on_traceability_list=True)
    lots = rows.select_related(*DETAIL_PATHS, "as_culture__supplier").order_by("happened_at", "pk")
    return ReportSheet(
        "Receiving",
        RECEIVING,
        [_received(lot, at_desk.brewery) for lot in lots],
        about="One row for each delivery (21 CFR 1.1345).",
        none="Nothing was received.",
    )


def _received(lot: Lot, brewery: Brewery) -> tuple[Cell, ...]:
    detail: Any = lot.detail
    supplier = detail.supplier
    document_type = getattr(detail, "document_type", "")
    code_source = getattr(detail, "code_source", "") or (
        place(supplier) if supplier and suppliers_code(lot) else place(brewery)
    )
    lack = lacking(
        [
            ("quantity", lot.made),
            ("previous source's address or telephone", "" if _no_place(supplier) else "known"),
            ("our address or telephone", "" if _no_place(brewery) else "known"),
            ("document type", document_type),
            ("document number", detail.document_number),
        ]
    )
    return (
        trace_code(lot), lot.code, _yes(_is_listed(lot)), product(lot),
        in_units(lot.made, lot.dimension), unit_of(lot.dimension),
        place(supplier) if supplier else "", place(brewery), day_of(lot.when), code_source,
        document_type, detail.document_number, getattr(detail, "transporter", ""), lack,
    )  # fmt: skip


def _transformation(
    scope: Scope, ids: set[int] | None, listed_only: bool, at_desk: Desk
) -> ReportSheet:
    rows = scope.narrowed(LotUse.objects.live(), ids, "into")
    if listed_only:
        rows = rows.filter(source__in=ids_in(ids or ()))
    uses = rows.select_related(
        "source", "into", *detail_paths("source"), *detail_paths("into")
    ).order_by("happened_at", "pk")
    return ReportSheet(
        "Transformation",
        TRANSFORMATION,
        [_transformed(use, at_desk.brewery) for use in uses],
        about="One row for each lot that went into another (21 CFR 1.1350).",
        none="Nothing was made.",
    )


def _transformed(use: LotUse, brewery: Brewery) -> tuple[Cell, ...]:
    made, source = use.into, use.source
    lack = lacking(
        [
            ("quantity made", made.made),
            ("our address or telephone", "" if _no_place(brewery) else "known"),
        ]
    )
    return (
        made.code, product(made), in_units(made.made, made.dimension), unit_of(made.dimension),
        place(brewery), day_of(use.when), "lot sheet", made.code, trace_code(source),
        product(source), _yes(_is_listed(source)), in_units(use.quantity, source.dimension),
        unit_of(source.dimension), lack,
    )  # fmt: skip


def _shipping(scope: Scope, ids: set[int] | None, at_desk: Desk) -> ReportSheet:
    rows = scope.narrowed(ShipmentLine.objects.live(), ids, "lot", at="shipment__happened_at")
    lines = rows.select_related(
        "lot", "shipment__customer", "shipment__ship_from", *detail_paths("lot")
    ).order_by("shipment__happened_at", "pk")
    return ReportSheet(
        "Shipping",
        SHIPPING,
        [_shipped(line, at_desk.brewery) for line in lines],
        about="One row for each lot of each shipment (21 CFR 1.1340).",
        none="Nothing was shipped.",
    )


def _shipped(line: ShipmentLine, brewery: Brewery) -> tuple[Cell, ...]:
    shipment, lot = line.shipment, line.lot
    customer, ship_from = shipment.customer, shipment.ship_from
    is_public = customer.kind == "public"
    left_from = place(ship_from) if ship_from and ship_from.address else place(brewery)
    number = shipment.document_number or shipment.number
    lack = lacking(
        [
            # To the public no recipient need be recorded (21 CFR 1.327).
            ("recipient's address or telephone",
             "known" if is_public or not _no_place(customer) else ""),
            ("our address or telephone", "" if _no_place(brewery) else "known"),
        ]
    )  # fmt: skip
    return (
        trace_code(lot), product(lot), in_units(line.quantity, lot.dimension),
        unit_of(lot.dimension), place(customer), left_from, day_of(shipment.when),
        place(brewery), shipment.document_type or "shipment", number, shipment.number,
        shipment.transporter, lack,
    )  # fmt: skip
