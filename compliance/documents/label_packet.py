"""The facts of a bottle label, and their collector."""

from __future__ import annotations

import datetime as dt
import json
from collections import defaultdict
from dataclasses import asdict, dataclass
from decimal import ROUND_DOWN, Decimal

from brewlog.domain.lots import all_blocks
from brewlog.gs1 import Gs1Error, element_string, readable, trade_item
from brewlog.ledger import ids_in
from brewlog.models import BottlingLot, Ingredient, IngredientLot, Lot, LotKind, User
from brewlog.recording import Refused
from brewlog.trace import Composition, Part, composition
from brewlog.units import Dimension
from compliance.documents.printing import desk

# common practice; local rules come first.
CAUTIONS = (
    "Raw, unpasteurised. Keep refrigerated. Contents under pressure: chill before opening, "
    "do not shake."
)
CULTURE = "live culture (yeasts and bacteria)"
# US fluid ounce: 231 in³ / 128 exactly.
_ML_PER_FL_OZ = Decimal("29.5735295625")


@dataclass(frozen=True)
class LabelPacket:
    """Everything a label says. `symbol` is what the barcode carries, `symbol_words` the
    parts of the line under it. `notes` are for the person who checks the label, and are
    not printed on it.
    """

    lot_code: str
    name: str
    net_contents: str
    ingredients: tuple[str, ...]
    allergens: tuple[str, ...]
    storage: str
    cautions: str
    statement: str
    best_before: str
    business: str
    address: str
    symbol: str
    symbol_words: tuple[str, ...]
    is_gs1: bool
    notes: tuple[str, ...]

    def to_json(self) -> str:
        """The same facts as JSON, two spaces deep."""
        return json.dumps(asdict(self), ensure_ascii=False, indent=2) + "\n"


def collect_label(lot: Lot, *, printed_by: User | str, printed_at: dt.datetime) -> LabelPacket:
    """The label of a bottling lot, from what was used.

    Raises `Refused` for another kind of lot, and for one that is kept back: it must not be
    labelled for sale.
    """
    with desk(printed_by, printed_at) as at_desk:
        if lot.kind != LotKind.BOTTLING:
            raise Refused(f"{lot} is a {lot.get_kind_display()}. Labels are for bottling lots.")
        found = all_blocks(lot, "labelled for sale")
        if found:
            why = "; ".join(block.text for block in found)
            raise Refused(f"{lot} must not be labelled for sale: {why}. Ask the reviewer.")
        bottles = BottlingLot.objects.select_related("flavour", "format").get(pk=lot.pk)
        listed = _ingredients_of(bottles, composition(lot))
        symbol, words, is_gs1, symbol_notes = _symbol(bottles)
        return LabelPacket(
            lot_code=bottles.code,
            name=bottles.flavour.label_name,
            net_contents=net_contents(bottles.format.holds),
            ingredients=listed.names,
            allergens=listed.allergens,
            storage=bottles.flavour.storage,
            cautions=CAUTIONS,
            statement=bottles.flavour.statement,
            best_before=day_in_words(bottles.best_before),
            business=at_desk.brewery.name,
            address=at_desk.brewery.address,
            symbol=symbol,
            symbol_words=words,
            is_gs1=is_gs1,
            notes=(*listed.notes, *symbol_notes, *_missing(bottles, at_desk.brewery.address)),
        )


def net_contents(microlitres: int) -> str:
    """Metric and US: `330 mL (11.1 fl oz)`.

    The converted figure is rounded down, so that it never promises more than there is.
    """
    millilitres = Decimal(microlitres) / 1000
    ounces = (millilitres / _ML_PER_FL_OZ).quantize(Decimal("0.1"), ROUND_DOWN)
    litre = millilitres >= 1000
    metric = f"{_plain(millilitres / 1000)} L" if litre else f"{_plain(millilitres)} mL"
    return f"{metric} ({_plain(ounces)} fl oz)"


def _plain(number: Decimal) -> str:
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day_in_words(day: dt.date | None) -> str:
    """`10 Jun 2026`: the same everywhere, whatever the order of the figures."""
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}" if day else ""


@dataclass(frozen=True)
class Listed:
    """Ingredient names in descending order by weight, allergens, and what to check."""

    names: tuple[str, ...]
    allergens: tuple[str, ...]
    notes: tuple[str, ...]


def _ingredients_of(bottles: BottlingLot, made_of: Composition) -> Listed:
    """From what went in at any distance. What has no weight stands last, with a note."""
    parts = {p.facts.lot_id: p for p in made_of.parts if p.facts.kind == LotKind.INGREDIENT}
    rows = IngredientLot.objects.filter(pk__in=ids_in(parts)).select_related("ingredient")
    weights: dict[str, Decimal] = defaultdict(Decimal)
    unweighed: dict[str, None] = {}
    allergens: dict[str, None] = {}
    notes: list[str] = []
    for row in rows.order_by("pk"):
        ingredient = row.ingredient
        if ingredient.kind in {Ingredient.Kind.PACKAGING, Ingredient.Kind.PROCESSING_AID}:
            continue
        name = ingredient.label_name or ingredient.name
        if not ingredient.label_name:
            notes.append(f"{ingredient} has no name for the label; its own name is used.")
        allergens |= dict.fromkeys(a.strip() for a in ingredient.allergens.split(",") if a.strip())
        weight = _milligrams(parts[row.pk], ingredient)
        if weight is None:
            unweighed[name] = None
            notes.append(f"{name} has no weight (no density recorded), so it stands last.")
        else:
            weights[name] += weight
    water = _water(bottles, weights, rows)
    if water is not None:
        weights["water"] += water
        notes.append("Water is not recorded as a lot: its place follows from the volume bottled.")
    names = sorted(weights, key=lambda name: (-weights[name], name))
    names += [name for name in unweighed if name not in weights]
    if any(p.facts.kind == LotKind.CULTURE for p in made_of.parts):
        names.append(CULTURE)
    return Listed(tuple(names), tuple(allergens), tuple(dict.fromkeys(notes)))


def _milligrams(part: Part, ingredient: Ingredient) -> Decimal | None:
    """The weight that went in; a volume by its density (µL times kg/L is mg)."""
    if part.facts.dimension == Dimension.MASS:
        return Decimal(part.entered)
    if part.facts.dimension == Dimension.VOLUME and ingredient.density:
        return part.entered * ingredient.density
    return None


def _water(bottles: BottlingLot, weights: dict[str, Decimal], rows: object) -> Decimal | None:
    """Where no water is recorded: the drink bottled, at 1 kg/L, less all that was weighed."""
    kinds = {row.ingredient.kind for row in rows}  # type: ignore[attr-defined]
    if Ingredient.Kind.WATER in kinds or bottles.made is None:
        return None
    drink = Decimal(bottles.made * (bottles.fill or bottles.format.holds))
    rest = drink - sum(weights.values())
    return rest if rest > 0 else None


def _symbol(bottles: BottlingLot) -> tuple[str, tuple[str, ...], bool, tuple[str, ...]]:
    """What the barcode carries: GS1 elements where the flavour has a GTIN, else the lot code."""
    if not bottles.flavour.gtin:
        return bottles.code, (bottles.code,), False, ()
    try:
        elements = trade_item(bottles.flavour.gtin, bottles.best_before, bottles.code)
    except Gs1Error as error:
        return bottles.code, (bottles.code,), False, (f"No GS1 barcode: {error}",)
    return element_string(elements), tuple(readable([each]) for each in elements), True, ()


def _missing(bottles: BottlingLot, address: str) -> tuple[str, ...]:
    missing = []
    if bottles.best_before is None:
        missing.append("No best-before date is set, so the label has none.")
    if not address.strip():
        missing.append("The brewery has no address yet, so the label has none.")
    return tuple(missing)
