"""Sheets of where stock stands and where it goes."""

from __future__ import annotations

from brewlog.domain import kegs, shipping, stock
from brewlog.forms import shipping as forms
from brewlog.importing.references import Naming
from brewlog.importing.sheet import Sheet

_DONE = {"already_done": True}

SHEETS = (
    Sheet(
        name="Moves",
        help="Part of a lot, or all of it, went from one place to another.",
        form=forms.MoveForm,
        verb=shipping.move,
        key=("lot", "to_location", "when"),
        when="when",
        numbered=True,
    ),
    Sheet(
        name="Shipments",
        help="What left together for one customer. The lots stand on the sheet Shipment lines.",
        form=forms.ShipmentForm,
        verb=shipping.ship,
        key=("number",),
        required=("number",),
        gives=(Naming("shipment", "{number}"),),
        when="when",
        fixed=_DONE,
    ),
    Sheet(
        name="Shipment lines",
        help="So much of one lot in a shipment.",
        form=forms.ShipmentLineForm,
        verb=shipping.add_shipment_line,
        key=("shipment", "lot"),
        fixed=_DONE,
        numbered=True,
    ),
    Sheet(
        name="Keg log",
        help="A keg was cleaned, filled, sent out, came back or was retired.",
        form=forms.KegEventForm,
        verb=kegs.record_keg,
        key=("keg", "kind", "when"),
        sequence=Naming("keg", "{keg}"),
        when="when",
        fixed=_DONE,
    ),
    Sheet(
        name="Returns",
        help="A customer brought bottles back.",
        form=forms.TakeBackForm,
        verb=shipping.take_back,
        key=("lot", "customer", "when"),
        when="when",
        closes=True,
        numbered=True,
    ),
    Sheet(
        name="Adjustments",
        help="Stock that is gone without being used or shipped: samples, breakage, sediment.",
        form=forms.AdjustForm,
        verb=stock.adjust,
        key=("lot", "why", "when"),
        when="when",
        closes=True,
        fixed=_DONE,
        numbered=True,
    ),
    Sheet(
        name="Stock counts",
        help="What was counted, where it may differ from the books.",
        form=forms.CountForm,
        verb=stock.count_stock,
        key=("lot", "when"),
        when="when",
        closes=True,
    ),
)
