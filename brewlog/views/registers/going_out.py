"""The pages of customers, their shipments, places and kegs."""

from __future__ import annotations

from brewlog.models import Customer, Keg, Location, Shipment
from brewlog.models.lots import described
from brewlog.views import events
from brewlog.views.details import Detail, Next, Section
from brewlog.views.facts import Fact
from brewlog.views.lists import Column, Linked, choice, get, link
from brewlog.views.registers.parts import NEWEST

CUSTOMER = Detail(
    noun="customer",
    model=Customer,
    title="Customer",
    list_title="Customers",
    sections=(
        Section(
            "Shipments",
            (
                Column("number", "Shipment", lambda each: Linked(each.number, each)),
                Column("when", "When", get("when")),
                Column("kind", "Kind", choice("kind")),
                Column("lines", "What", lambda each: "; ".join(map(str, each.lines.all()))),
            ),
            lambda found: found.shipments.prefetch_related("lines__lot").order_by(
                "-happened_at", "-id"
            )[:NEWEST],
            empty="Nothing has been shipped to them yet.",
        ),
        Section(
            "Brought back",
            (events.WHEN, events.LOT, *events.ADJUSTMENT_COLUMNS[2:4], events.BY),
            lambda found: found.returns.select_related("lot", "done_by").order_by("-id")[:NEWEST],
        ),
        Section(
            "Kegs",
            (
                events.WHEN,
                Column("keg", "Keg", link("keg")),
                Column("kind", "What", choice("kind")),
                events.BY,
            ),
            lambda found: found.keg_events.select_related("keg", "done_by").order_by("-id")[
                :NEWEST
            ],
        ),
    ),
    next=(Next("ship", "customer"), Next("take-back", "customer")),
)
SHIPMENT = Detail(
    noun="shipment",
    model=Shipment,
    title="Shipment",
    list_title="Shipments",
    links=("customer", "ship_from", "done_by"),
    extra=lambda found: [
        Fact(label, value, wide=label == "Address")
        for label, value in (
            ("Contact", found.customer.contact),
            ("Phone", found.customer.phone),
            ("Address", found.customer.address),
        )
        if value
    ],
    sections=(
        Section(
            "What was in it",
            (
                events.LOT,
                Column("what", "What", lambda line: line.lot.detail.describe()),
                Column("quantity", "Amount", get("quantity_text"), number=True),
                events.NOTE,
                Column("entry", "Entry", lambda line: events.RecordLink("open", line)),
            ),
            lambda found: found.lines.select_related("lot", *described("lot")),
            empty="No lot is written in it.",
        ),
    ),
    next=(Next("shipment-line", "shipment"),),
)
LOCATION = Detail(
    noun="location",
    model=Location,
    title="Place",
    list_title="Places",
    sections=(
        Section(
            "Moved here",
            (
                events.WHEN,
                events.LOT,
                *events.MOVE_COLUMNS[1:3],
                events.BY,
            ),
            lambda found: found.moves_in.select_related("lot", "from_location", "done_by").order_by(
                "-id"
            )[:NEWEST],
            empty="Nothing has been moved here yet.",
        ),
        Section(
            "Moved away",
            (events.WHEN, events.LOT, events.MOVE_COLUMNS[1], events.MOVE_COLUMNS[3], events.BY),
            lambda found: found.moves_out.select_related("lot", "to_location", "done_by").order_by(
                "-id"
            )[:NEWEST],
        ),
        Section(
            "Readings",
            events.READING_COLUMNS,
            lambda found: found.readings.select_related("instrument", "done_by").order_by("-id")[
                :NEWEST
            ],
        ),
    ),
    next=(Next("reading", "location"), Next("move", "to_location")),
)
KEG = Detail(
    noun="keg",
    model=Keg,
    title="Keg",
    list_title="Kegs",
    sections=(
        Section(
            "What happened with it",
            (
                events.WHEN,
                Column("kind", "What", choice("kind")),
                Column("lot", "Lot", link("lot")),
                Column("customer", "Customer", link("customer")),
                events.BY,
                events.NOTE,
            ),
            lambda found: found.events.select_related("lot", "customer", "done_by").order_by("-id")[
                :NEWEST
            ],
            empty="Never used yet.",
        ),
    ),
    next=(Next("keg-event", "keg"),),
)
