"""What a lot is, by kind, as names and values: the top of its sheet."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from brewlog.models import (
    Batch,
    BottlingLot,
    Brew,
    CultureLot,
    IngredientLot,
    Lot,
    LotKind,
    PreparationLot,
    RecipeVersion,
    Supplier,
)
from brewlog.trace import generation
from brewlog.units import show_temperature
from brewlog.when import Precision, When
from compliance.documents.as_read import Told
from compliance.documents.page import Pair
from compliance.documents.printing import Desk, late_mark, moment, written


def identity_of(lot: Lot, at_desk: Desk) -> tuple[Pair, ...]:
    """What every lot has, then what its kind has. An empty value was asked for and not given."""
    kind = LotKind(lot.kind)
    detail = lot.detail
    late = late_mark(detail)  # type: ignore[arg-type]
    began = Told(f"{lot.when}; {late}" if late else lot.when)
    common = [
        Pair("Lot code", lot.code),
        Pair("Kind", lot.get_kind_display()),
        Pair(_BEGAN[kind], began),
        Pair("By", str(lot.done_by)),
        Pair(_AMOUNT[kind], lot.made_text),
    ]
    own = _OWN[kind](detail, at_desk)
    noted = [Pair("Note", lot.note)] if lot.note else []
    return (*common, *own, *noted)


_BEGAN = {
    LotKind.INGREDIENT: "Received",
    LotKind.PREPARATION: "Made",
    LotKind.CULTURE: "Began",
    LotKind.BREW: "Brewed",
    LotKind.BATCH: "Begun",
    LotKind.BOTTLING: "Bottled",
}
_AMOUNT = {
    LotKind.INGREDIENT: "Amount received",
    LotKind.PREPARATION: "Amount made",
    LotKind.CULTURE: "Starter liquid",
    LotKind.BREW: "Volume",
    LotKind.BATCH: "Volume with starter",
    LotKind.BOTTLING: "Filled",
}


def _celsius(value: Decimal | None) -> str:
    return Told(show_temperature(value) if value is not None else "")


def _firm(supplier: Supplier | None) -> str:
    """Name, place and ways to reach them: the immediate previous source (21 CFR 1.337)."""
    if supplier is None:
        return ""
    parts = (supplier.name, supplier.address, supplier.country, supplier.phone, supplier.email)
    return "\n".join(part for part in parts if part)


def _ingredient(lot: IngredientLot, at_desk: Desk) -> list[Pair]:
    decided = ""
    if lot.decided_at:
        decided = f", {moment(lot.decided_at)} by {lot.decided_by}"
    picked = ", ".join(
        part for part in (lot.picked_at_place, lot.picked_by, str(lot.picked_on or "")) if part
    )
    listed = "yes" if lot.ingredient.on_traceability_list else "no"
    own = [
        Pair("Ingredient", str(lot.ingredient)),
        Pair("Brand and variety", lot.brand),
        Pair("Packed as", lot.packaging),
        Pair("Supplier", _firm(lot.supplier)),
        Pair("Supplier's lot code", lot.supplier_code),
        Pair("Trace code given by", lot.code_source),
        Pair("Reference document", f"{lot.document_type} {lot.document_number}".strip()),
        Pair("Carried by", lot.transporter),
        Pair("Country of origin", lot.origin),
        Pair("Best before", written(lot.best_before)),
        Pair("Temperature on arrival", _celsius(lot.arrival_temperature)),
        Pair("Condition on arrival", lot.condition),
        Pair("Decision", Told(f"{lot.get_acceptance_display()}{decided}")),
        Pair("Reason", lot.acceptance_reason),
        Pair("Allergens", lot.ingredient.allergens),
        Pair("Organic", lot.get_organic_display()),
        Pair("Certificate", _certificate(lot)),
        Pair("Listed for extra trace records", listed),
    ]
    if picked or lot.spraying:
        own += [Pair("Picked", Told(picked)), Pair("Known of spraying", lot.spraying)]
    return own


def _certificate(lot: IngredientLot) -> str:
    parts = (
        lot.certificate_number,
        f"from {lot.certificate_from}" if lot.certificate_from else "",
        f"until {lot.certificate_until}" if lot.certificate_until else "",
    )
    return Told(" ".join(part for part in parts if part))


def _preparation(lot: PreparationLot, at_desk: Desk) -> list[Pair]:
    return [
        Pair("Preparation", f"{lot.name} ({lot.get_preparation_kind_display()})"),
        Pair("Treatment", lot.treatment),
        Pair("Storage", lot.storage),
        Pair("Use by", str(lot.use_by or "")),
    ]


def _culture(lot: CultureLot, at_desk: Desk) -> list[Pair]:
    retired = ""
    if lot.retired_at:
        retired = Told(f"{moment(lot.retired_at)} by {lot.retired_by}: {lot.retire_reason}")
    own = [
        Pair("Culture line", str(lot.line)),
        Pair("Origin", lot.get_origin_display()),
        Pair("Transfers since bought", str(generation(lot))),
        Pair("Vessel", str(lot.vessel or "")),
        Pair("Pellicles", str(lot.pellicles)),
        Pair("Kept apart as a backup", "yes" if lot.is_backup else "no"),
        Pair("Retired", retired or "no"),
    ]
    if lot.supplier or lot.supplier_code:
        own += [
            Pair("Supplier", _firm(lot.supplier)),
            Pair("Supplier's lot code", lot.supplier_code),
            Pair("Reference document", lot.document_number),
        ]
    return own


def _recipe(version: RecipeVersion | None) -> str:
    if version is None:
        return ""
    if version.approved_at is None:
        return f"{version}, NOT APPROVED"
    return Told(f"{version}, approved {moment(version.approved_at)} by {version.approved_by}")


def _brew(lot: Brew, at_desk: Desk) -> list[Pair]:
    return [
        Pair("Recipe", _recipe(lot.recipe)),
        Pair("Kettle", str(lot.kettle or "")),
        Pair("Planned volume", lot.planned_text),
        Pair("Water", lot.water_source),
    ]


def _batch(lot: Batch, at_desk: Desk) -> list[Pair]:
    pitched = ""
    if lot.pitched_at:
        pitched = written(When(lot.pitched_at, Precision(lot.pitched_precision)))
    vessel = f"{lot.vessel} ({lot.vessel.get_material_display()})" if lot.vessel else ""
    return [
        Pair("Recipe", _recipe(lot.recipe)),
        Pair("Vessel", vessel),
        Pair("Planned volume", lot.planned_text),
        Pair("Starter added", pitched),
        Pair("Water", lot.water_source),
    ]


def _bottling(lot: BottlingLot, at_desk: Desk) -> list[Pair]:
    form = lot.format
    rating = form.get_rating_display()
    if form.rated_bar is not None:
        rating += f", {form.rated_bar.normalize():f} bar gauge"
    warm = _celsius(lot.conditioning_temperature)
    conditioning = f"from {moment(lot.conditioning_from)}" if lot.conditioning_from else ""
    planned = str(lot.planned_count) if lot.planned_count is not None else ""
    inside = ""
    if lot.made is not None:
        fill = lot.fill_text or form.holds_text
        drink = at_desk.amount(lot.made * (lot.fill or form.holds), "volume", [fill])
        inside = f"{drink} ({lot.made} × {fill})"
    return [
        Pair("Flavour", str(lot.flavour)),
        Pair("Name on the label", lot.flavour.label_name),
        Pair("Format", f"{form} ({form.get_container_display()}, {form.holds_text})"),
        Pair("Pressure rating", rating),
        Pair("Planned", planned),
        Pair("Rejected on the line", str(lot.rejects)),
        Pair("Fill per bottle", lot.fill_text),
        Pair("In the bottles", inside),
        Pair("Carbonation", lot.get_carbonation_display()),
        Pair("Second ferment, warm", Told(" at ".join(p for p in (conditioning, warm) if p))),
        Pair("Best before", written(lot.best_before)),
        Pair("Label version", lot.label_version),
    ]


_OWN: dict[LotKind, Callable[[Any, Desk], list[Pair]]] = {
    LotKind.INGREDIENT: _ingredient,
    LotKind.PREPARATION: _preparation,
    LotKind.CULTURE: _culture,
    LotKind.BREW: _brew,
    LotKind.BATCH: _batch,
    LotKind.BOTTLING: _bottling,
}
