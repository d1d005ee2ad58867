"""Records for tests, made by the same verbs a person uses. No surprises: what is not
named gets a plain default, and nothing else is made beside it but what it needs."""

from __future__ import annotations

import datetime as dt
import io
import itertools
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django.contrib.auth.models import Group
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone
from PIL import Image

from brewlog.domain import (
    batches,
    bottling,
    buffers,
    checkpoints,
    cultures,
    devices,
    holds,
    ingredients,
    instruments,
    kegs,
    recipes,
    registers,
    shipping,
    usual,
    vessels,
)
from brewlog.domain.lots import Draw, use_lot
from brewlog.models import (
    Batch,
    BottlingLot,
    Brew,
    Brewery,
    Calibration,
    Checkpoint,
    CultureLine,
    CultureLot,
    Customer,
    Flavour,
    Format,
    Hold,
    Ingredient,
    IngredientLot,
    Instrument,
    Keg,
    KegEvent,
    LabResult,
    Location,
    Lot,
    LotUse,
    Move,
    Recipe,
    RecipeVersion,
    SharedDevice,
    Shipment,
    Supplier,
    User,
    UsualRun,
    Vessel,
)
from brewlog.recording import recording
from brewlog.units import Dimension, Quantity, parse_quantity
from brewlog.when import When

_numbers = itertools.count(1)


def person(role: str, username: str = "") -> User:
    """Someone of that role, with the password `living culture 7`."""
    user = User.objects.create_user(
        username or f"{role}{next(_numbers)}", password="living culture 7", first_name=role.title()
    )
    user.groups.add(Group.objects.get(name=role))
    return user


def brewery(actor: User, time_zone: str = "Europe/Lisbon") -> Brewery:
    with recording(actor):
        found = Brewery(pk=1, name="Saltmarsh Ferments", time_zone=time_zone)
        found.save()
        return found


def quantity(text: str) -> Quantity:
    return parse_quantity(text, *Dimension)


def at(day: int, hour: int = 9, minute: int = 0, month: int = 3) -> When:
    """A minute in March 2026 (or another month), UTC."""
    return When(dt.datetime(2026, month, day, hour, minute, tzinfo=dt.UTC))


def supplier(actor: User, name: str = "") -> Supplier:
    return registers.add(actor=actor, model=Supplier, name=name or f"Supplier {next(_numbers)}")


def ingredient(
    actor: User, name: str = "", kind: str = "tea", dimension: str = "mass", **fields: Any
) -> Ingredient:
    return registers.add(
        actor=actor,
        model=Ingredient,
        name=name or f"Ingredient {next(_numbers)}",
        kind=kind,
        dimension=dimension,
        **fields,
    )


def ingredient_lot(
    actor: User,
    amount: str = "10 kg",
    of: Ingredient | None = None,
    when: When | None = None,
    **fields: Any,
) -> IngredientLot:
    """An accepted delivery, of a new ingredient unless one is named."""
    amount_received = quantity(amount)
    fields.setdefault("accepted", True)
    return ingredients.receive(
        actor=actor,
        ingredient=of or ingredient(actor, dimension=amount_received.dimension.value),
        quantity=amount_received,
        when=when or at(1),
        supplier=fields.pop("supplier", None) or supplier(actor),
        **fields,
    )


def vessel(actor: User, name: str = "", material: str = "glass", **fields: Any) -> Vessel:
    return vessels.add_vessel(
        actor=actor, name=name or f"Vessel {next(_numbers)}", material=material, **fields
    )


def culture_line(actor: User, name: str = "") -> CultureLine:
    return registers.add(actor=actor, model=CultureLine, name=name or f"Line {next(_numbers)}")


def culture(
    actor: User,
    amount: str = "10 L",
    when: When | None = None,
    line: CultureLine | None = None,
    **fields: Any,
) -> CultureLot:
    """A bought culture."""
    return cultures.buy_culture(
        actor=actor,
        line=line or culture_line(actor),
        quantity=quantity(amount),
        when=when or at(1),
        supplier=fields.pop("supplier", None) or supplier(actor),
        **fields,
    )


def recipe_version(actor: User, name: str = "", approved: bool = True) -> RecipeVersion:
    """Five grams of tea, sixty of sugar and a decilitre of starter a litre."""
    version = recipes.add_version(
        actor=actor,
        recipe=registers.add(actor=actor, model=Recipe, name=name or f"Base {next(_numbers)}"),
        lines=[
            recipes.PerLitre("tea", quantity("5 g"), ingredient(actor)),
            recipes.PerLitre("sugar", quantity("60 g"), ingredient(actor, kind="sugar")),
            recipes.PerLitre("starter", quantity("100 mL")),
        ],
    )
    return recipes.approve(actor=actor, version=version) if approved else version


def brew(actor: User, amount: str = "100 L", when: When | None = None, **fields: Any) -> Brew:
    return batches.start_brew(actor=actor, quantity=quantity(amount), when=when or at(2), **fields)


def batch(
    actor: User,
    amount: str = "60 L",
    when: When | None = None,
    starter: Lot | None = None,
    starter_amount: str = "6 L",
    **fields: Any,
) -> Batch:
    """A pitched batch holding `amount` after the starter went in."""
    begun = batches.plan_batch(actor=actor, when=when or at(3), **fields)
    return batches.pitch(
        actor=actor,
        batch=begun,
        when=when or at(3),
        quantity=quantity(amount),
        lines=[
            Draw(
                starter or culture(actor, when=at(1)),
                quantity(starter_amount),
                LotUse.Purpose.STARTER,
            )
        ],
    )


def use(
    actor: User,
    source: Lot,
    into: Lot,
    amount: str,
    when: When | None = None,
    purpose: str = "transfer",
    **fields: Any,
) -> LotUse:
    return use_lot(
        actor=actor,
        source=source,
        into=into,
        quantity=quantity(amount),
        purpose=purpose,
        when=when or at(10),
        **fields,
    )


# Readings, instruments and holds ---------------------------------------------------------


def instrument(actor: User, name: str = "", kind: str = "ph_meter", **fields: Any) -> Instrument:
    return registers.add(
        actor=actor,
        model=Instrument,
        name=name or f"Instrument {next(_numbers)}",
        kind=kind,
        **fields,
    )


def buffer_bottle(actor: User, ph: str = "4.01", until: str = "2026-12-31", **fields: Any) -> Any:
    """A bottle on the shelf, with a name of its own."""
    fields.setdefault("name", f"pH {ph} bottle {next(_numbers)}")
    return buffers.add_bottle(
        actor=actor,
        nominal_ph=Decimal(ph),
        expires_on=dt.date.fromisoformat(until),
        **fields,
    )


def reading(
    actor: User, lot: Lot, value: str = "3.45", when: When | None = None, **fields: Any
) -> Checkpoint:
    """A pH reading, unless another measurand is named."""
    fields.setdefault("measurand", "ph")
    return checkpoints.record_reading(
        actor=actor, lot=lot, value=value, when=when or at(10), **fields
    )


def lab_result(
    actor: User, lot: Lot, value: str = "0.31", when: When | None = None, **fields: Any
) -> LabResult:
    """An alcohol result, unless another measurand is named."""
    return checkpoints.record_lab_result(
        actor=actor,
        lot=lot,
        value=value,
        laboratory=fields.pop("laboratory", "North Quay Laboratory"),
        when=when or at(10),
        **fields,
    )


def calibration(
    actor: User,
    instrument: Instrument,
    outcome: str = "in",
    when: When | None = None,
    **fields: Any,
) -> Calibration:
    return instruments.calibrate(
        actor=actor, instrument=instrument, outcome=outcome, when=when or at(1), **fields
    )


def hold(
    actor: User, lot: Lot, cause: str = "mould", when: When | None = None, **fields: Any
) -> Hold:
    return holds.hold(
        actor=actor,
        lot=lot,
        cause=cause,
        why=fields.pop("why", "seen on the wall of the jar"),
        when=when or at(20),
        **fields,
    )


# Bottling and shipping -------------------------------------------------------------------


def shared_device(actor: User, name: str = "", **fields: Any) -> SharedDevice:
    return devices.share_device(actor=actor, name=name or f"Tablet {next(_numbers)}", **fields)


def now(days: int = 0) -> When:
    """This minute, or so many days from it."""
    return When(timezone.now().replace(second=0, microsecond=0) + dt.timedelta(days=days))


def flavour(actor: User, name: str = "", **fields: Any) -> Flavour:
    name = name or f"Flavour {next(_numbers)}"
    fields.setdefault("label_name", name)
    return registers.add(actor=actor, model=Flavour, name=name, **fields)


def bottle_format(actor: User, name: str = "", holds: str = "330 mL", **fields: Any) -> Format:
    """A bottle, unless another container is named."""
    fields.setdefault("container", "bottle")
    return bottling.add_format(
        actor=actor, name=name or f"Format {next(_numbers)}", holds=quantity(holds), **fields
    )


def bottles(
    actor: User,
    count: int = 100,
    batch: Lot | None = None,
    drawn: str = "",
    when: When | None = None,
    **fields: Any,
) -> BottlingLot:
    """Bottles of a new flavour and format unless named; of no batch unless one is named."""
    return bottling.bottle_one(
        actor=actor,
        when=when or at(20),
        flavour=fields.pop("flavour", None) or flavour(actor),
        format=fields.pop("format", None) or bottle_format(actor),
        count=count,
        batch=batch,
        drawn=quantity(drawn) if drawn else None,
        **fields,
    )


def location(
    actor: User, name: str = "", kind: str = "cooler", is_cold: bool = False, **fields: Any
) -> Location:
    return registers.add(
        actor=actor,
        model=Location,
        name=name or f"Place {next(_numbers)}",
        kind=kind,
        is_cold=is_cold,
        **fields,
    )


def customer(actor: User, name: str = "", kind: str = "shop", **fields: Any) -> Customer:
    return registers.add(
        actor=actor, model=Customer, name=name or f"Customer {next(_numbers)}", kind=kind, **fields
    )


def shipment(
    actor: User,
    lot: Lot,
    amount: str = "10",
    to: Customer | None = None,
    when: When | None = None,
    **fields: Any,
) -> Shipment:
    """A shipment of one line, to a new shop unless a customer is named."""
    return shipping.ship(
        actor=actor,
        customer=to or customer(actor),
        when=when or at(25),
        lines=[shipping.ShipLine(lot, quantity(amount))],
        **fields,
    )


def move(
    actor: User, lot: Lot, amount: str, to: Location, when: When | None = None, **fields: Any
) -> Move:
    return shipping.move(
        actor=actor,
        lot=lot,
        quantity=quantity(amount),
        to_location=to,
        when=when or at(22),
        **fields,
    )


def keg(actor: User, name: str = "", holds: str = "20 L") -> Keg:
    return kegs.add_keg(actor=actor, name=name or f"Keg {next(_numbers)}", holds=quantity(holds))


def keg_event(
    actor: User, keg: Keg, kind: str, when: When | None = None, **fields: Any
) -> KegEvent:
    return kegs.record_keg(actor=actor, keg=keg, kind=kind, when=when or at(20), **fields)


def picture(width: int = 300, height: int = 100, image: Image.Image | None = None):
    """A picture as it is sent by a browser."""
    sent = io.BytesIO()
    (image or Image.new("RGB", (width, height), "brown")).save(sent, "PNG")
    return SimpleUploadedFile("logo.png", sent.getvalue(), "image/png")


# Values that differ as batches do, without a sign of a change: mean 4.25, mean step 0.1.
STEADY = ["4.20", "4.30"] * 10


def batches_side_by_side(actor: User, version: RecipeVersion, values: Sequence[str]) -> list[Batch]:
    """Batches of a recipe, one a day from March on, each with its pH after adding starter."""
    starter = culture(actor, "500 L", when=at(1))
    found = []
    for day, value in enumerate(values, start=2):
        made = batch(
            actor,
            "10 L",
            starter=starter,
            starter_amount="1 L",
            when=at(day % 28 + 1, month=3 + day // 28),
            recipe=version,
        )
        reading(actor, made, value, made.when, stage="pitch")
        found.append(made)
    return found


def usual_run(actor: User) -> UsualRun:
    """What is usual of twenty batches: of those there are, where it was fixed before."""
    earlier = UsualRun.objects.first()
    if earlier is not None:
        recipe, first, last = earlier.recipe, earlier.first, earlier.last
    else:
        version = recipe_version(actor)
        batches = batches_side_by_side(actor, version, STEADY)
        recipe, first, last = version.recipe, batches[0], batches[-1]
    return usual.fix_usual(
        actor=actor, recipe=recipe, figure="ph-pitch", first=first, last=last, when=now()
    )
