"""Entries of places, customers, shipments, stock and kegs."""

from __future__ import annotations

from functools import partial

from brewlog.domain import kegs, registers, shipping, stock
from brewlog.entries.base import Entry, Lines
from brewlog.forms import shipping as forms
from brewlog.models import Customer, Location

ENTRIES = (
    Entry(
        slug="location",
        title="Add a place",
        form=forms.LocationForm,
        verb=partial(registers.add, model=Location),
    ),
    Entry(
        slug="move",
        title="Move stock, or put it in the cold",
        form=forms.MoveForm,
        verb=shipping.move,
        about="lot",
        caution="Warm bottles can burst when they are knocked. Chill before you stack.",
    ),
    Entry(
        slug="customer",
        title="Add a customer",
        form=forms.CustomerForm,
        verb=partial(registers.add, model=Customer),
    ),
    Entry(
        slug="ship",
        title="Send out or sell",
        form=forms.ShipmentForm,
        verb=shipping.ship,
        lines=(
            Lines(
                name="lines",
                title="What goes, by lot",
                form=forms.ShipLineForm,
                build=shipping.ShipLine,
                least=1,
            ),
        ),
        about="customer",
    ),
    Entry(
        slug="stall-sale",
        title="Sell at a stall or the door",
        form=forms.StallSaleForm,
        verb=shipping.sell_to_public,
        lines=(
            Lines(
                name="lines",
                title="What was sold, by lot",
                form=forms.ShipLineForm,
                build=shipping.ShipLine,
                least=1,
            ),
        ),
        about="place",
    ),
    Entry(
        slug="shipment-line",
        title="Add to a shipment",
        form=forms.ShipmentLineForm,
        verb=shipping.add_shipment_line,
        about="shipment",
    ),
    Entry(
        slug="take-back",
        title="Bottles brought back",
        form=forms.TakeBackForm,
        verb=shipping.take_back,
        about="lot",
        caution="Nobody knows how warm they stood: chill them before you handle them.",
    ),
    Entry(
        slug="adjust",
        title="Write off stock",
        form=forms.AdjustForm,
        verb=stock.adjust,
        about="lot",
        caution="What is destroyed must not be drunk by anyone: open it, pour it away, and have "
        "it seen.",
    ),
    Entry(
        slug="count",
        title="Count stock",
        form=forms.CountForm,
        verb=stock.count_stock,
        about="lot",
    ),
    Entry(
        slug="keg",
        title="Add a keg",
        form=forms.KegForm,
        verb=kegs.add_keg,
    ),
    Entry(
        slug="keg-event",
        title="Clean, fill or send a keg",
        form=forms.KegEventForm,
        verb=kegs.record_keg,
        about="keg",
        caution="Let the pressure off before you open a keg. Gas in a cold room suffocates: air "
        "it before you go in.",
    ),
)
