"""Lists of what goes out, to whom and from where."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery

from brewlog.models import (
    Customer,
    Keg,
    KegEvent,
    Location,
    Lot,
    Shipment,
    ShipmentLine,
)
from brewlog.views.lists import Column, Linked, Listing, choice, get, link, moment
from brewlog.views.nouns.parts import (
    IN_USE,
    IN_USE_COLUMN,
    OUT,
    SINCE,
    VOIDED,
    WHEN,
    choice_filter,
    link_filter,
    name_column,
)


def _count_lines(shipments: Sequence[Any]) -> None:
    """How many lots are in each: for the page only, as there are very many lines."""
    lines = ShipmentLine.objects.live().filter(shipment__in=[each.pk for each in shipments])
    counted = lines.order_by().values("shipment").annotate(lots=Count("id"))
    by_shipment = dict(counted.values_list("shipment", "lots"))
    for each in shipments:
        each.lots_in_it = by_shipment.get(each.pk, 0)


def _holds_lot(code: str) -> Q:
    """Shipments with a line of the lot of exactly that code."""
    lines = ShipmentLine.objects.live().filter(lot__in=Lot.objects.with_code(code))
    return Q(pk__in=lines.values("shipment"))


def _last_shipment(field: str) -> QuerySet:
    shipments = Shipment.objects.live().filter(customer=OuterRef("pk"))
    return shipments.order_by("-happened_at", "-id").values(field)[:1]


SHIPMENTS = Listing(
    noun="shipment",
    path="shipments",
    title="Shipments",
    group=OUT,
    queryset=lambda: Shipment.objects.select_related("customer", "ship_from"),
    columns=(
        Column("number", "Number", lambda each: Linked(each.number, each), "number"),
        WHEN,
        Column(
            "customer",
            "Customer",
            link("customer"),
            "customer__name",
        ),
        Column("kind", "Kind", choice("kind"), "kind"),
        Column("lines", "Lots in it", get("lots_in_it"), number=True),
        Column("document", "Document", get("document_number"), "document_number"),
        Column("from", "From", get("ship_from"), "ship_from__name"),
    ),
    search=("number", "customer__name", "document_number"),
    sought=("number", "document_number", "customer__name"),
    search_also=_holds_lot,
    filters=(
        choice_filter("kind", "Kind", Shipment.Kind.choices),
        link_filter("customer", "Customer", Customer),
        SINCE,
        VOIDED,
    ),
    prepare=_count_lines,
    start="ship",
    empty="What left together for one customer.",
)
CUSTOMERS = Listing(
    noun="customer",
    path="customers",
    title="Customers",
    group=OUT,
    queryset=lambda: Customer.objects.annotate(
        last_shipped=Subquery(_last_shipment("happened_at")),
        last_precision=Subquery(_last_shipment("happened_precision")),
    ),
    columns=(
        name_column(),
        Column("kind", "Kind", choice("kind"), "kind"),
        Column("contact", "Contact", get("contact"), "contact"),
        Column("phone", "Phone", get("phone")),
        Column("email", "E-mail", get("email")),
        Column("last", "Last shipped", moment("last_shipped", "last_precision"), "last_shipped"),
    ),
    search=("name", "contact", "address", "email", "phone"),
    sought=("name", "contact", "email", "phone", "address"),
    filters=(choice_filter("kind", "Kind", Customer.Kind.choices), IN_USE, VOIDED),
    order="name",
    start="customer",
    empty="Who receives shipments, and how to reach them if something must come back.",
)
_KEG_WORDS = dict(KegEvent.Kind.choices)
KEGS = Listing(
    noun="keg",
    path="kegs",
    title="Kegs",
    group=OUT,
    queryset=lambda: Keg.objects.annotate(
        last_event=Subquery(_last_keg_event("kind")),
        last_at=Subquery(_last_keg_event("happened_at")),
        last_precision=Subquery(_last_keg_event("happened_precision")),
        last_customer=Subquery(_last_keg_event("customer__name")),
    ),
    columns=(
        name_column("Keg"),
        Column("holds", "Holds", get("holds_text"), "holds", number=True),
        Column(
            "state", "Last", lambda keg: _KEG_WORDS.get(keg.last_event, "never used"), "last_event"
        ),
        Column(
            "customer",
            "With",
            lambda keg: keg.last_customer if keg.last_event == "out" else "",
            "last_customer",
        ),
        Column("since", "Since", moment("last_at", "last_precision"), "last_at"),
    ),
    search=("name", "note"),
    sought=("name",),
    filters=(IN_USE, VOIDED),
    order="name",
    start="keg",
    empty="Each keg by its serial number: cleaned, filled, out and back.",
)


def _last_keg_event(field: str) -> QuerySet:
    events_of_keg = KegEvent.objects.live().filter(keg=OuterRef("pk"))
    return events_of_keg.order_by("-happened_at", "-id").values(field)[:1]


LOCATIONS = Listing(
    noun="location",
    path="locations",
    title="Places",
    group=OUT,
    queryset=lambda: Location.objects.all(),
    columns=(
        name_column(),
        Column("kind", "Kind", choice("kind"), "kind"),
        Column("cold", "Kept cold", get("is_cold"), "is_cold"),
        Column("address", "Address", get("address")),
        IN_USE_COLUMN,
    ),
    search=("name", "address", "note"),
    sought=("name",),
    filters=(choice_filter("kind", "Kind", Location.Kind.choices), IN_USE, VOIDED),
    order="name",
    start="location",
    empty="Coolers, the warm room, stalls, the van: wherever stock stands.",
)
