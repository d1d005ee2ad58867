"""Sheets of the named things a brewery has or deals with."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from brewlog.domain import bottling as bottling_verbs
from brewlog.domain import buffers, kegs, registers, vessels
from brewlog.forms import batches, bottling, cultures, ingredients, instruments, shipping
from brewlog.forms.base import EntryForm
from brewlog.forms.sheets import register_row
from brewlog.importing.references import Naming
from brewlog.importing.sheet import Sheet
from brewlog.models import (
    BufferBottle,
    CultureLine,
    Customer,
    Flavour,
    Format,
    Ingredient,
    Instrument,
    Keg,
    Location,
    Supplier,
    Vessel,
)
from brewlog.models.base import Register


def _register(
    name: str,
    model: type[Register],
    form: type[EntryForm],
    help: str,
    verb: Callable[..., Any] | None = None,
) -> Sheet:
    return Sheet(
        name=name,
        help=help,
        form=register_row(form),
        verb=verb or partial(registers.add, model=model),
        key=("name",),
        gives=(Naming(model._meta.model_name or "", "{name}"),),
    )


SHEETS = (
    _register(
        "Suppliers",
        Supplier,
        ingredients.SupplierForm,
        "Who ingredients, cultures and packaging are bought from.",
    ),
    _register(
        "Ingredients",
        Ingredient,
        ingredients.IngredientForm,
        "What is bought in lots: tea, sugar, water, fruit, bottles, caps, labels.",
    ),
    _register(
        "Locations",
        Location,
        shipping.LocationForm,
        "Places stock stands in: coolers, the warm room, the stall, the van.",
    ),
    _register(
        "Vessels",
        Vessel,
        batches.VesselForm,
        "Kettles, jars, tanks and barrels.",
        vessels.add_vessel,
    ),
    _register(
        "Culture lines",
        CultureLine,
        cultures.CultureLineForm,
        "Living cultures carried on from batch to batch under one name.",
    ),
    _register(
        "Instruments",
        Instrument,
        instruments.InstrumentForm,
        "Meters, thermometers, hydrometers, refractometers and scales.",
    ),
    _register(
        "Buffer bottles",
        BufferBottle,
        instruments.BufferBottleForm,
        "Bottles of pH buffer that meters are calibrated in, with their dates.",
        buffers.add_bottle,
    ),
    _register(
        "Flavours",
        Flavour,
        bottling.FlavourForm,
        "What customers ask for, and what its label says.",
    ),
    _register(
        "Formats",
        Format,
        bottling.FormatForm,
        "Bottles, cans, kegs and growlers, with what they hold and withstand.",
        bottling_verbs.add_format,
    ),
    _register(
        "Customers",
        Customer,
        shipping.CustomerForm,
        "Who receives shipments. Stall sales go to one customer of the kind 'the public'.",
    ),
    _register(
        "Kegs",
        Keg,
        shipping.KegForm,
        "Kegs with a serial number of their own.",
        kegs.add_keg,
    ),
)
