"""The list of ingredients: in descending order by the weight that went in, and allergens.

Sugar that fed the culture is an ingredient (21 CFR 101.4; FDA's informal practice), and so
is all that went into a starter of one's own. A starter that was bought is an ingredient by
its weight; of its makers' own ingredients the records know nothing.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from brewlog.ledger import ids_in
from brewlog.models import (
    BottlingLot,
    CultureLot,
    Ingredient,
    IngredientLot,
    LotKind,
    PreparationLot,
)
from brewlog.trace import Composition, Part
from brewlog.units import Dimension

CULTURE = "live culture (yeasts and bacteria)"
WATER = "water"
# Before a word that is set apart from the others, as the EU asks for allergens (art. 21).
EMPHASIS = "\x02"
_BOUGHT = {CultureLot.Origin.BOUGHT_CULTURE, CultureLot.Origin.BOUGHT_RAW}
_NOT_EATEN = {Ingredient.Kind.PACKAGING, Ingredient.Kind.PROCESSING_AID}


@dataclass(frozen=True)
class Listed:
    """Ingredient names in descending order by weight, allergens, and what to check.

    `milligrams` are the weights by name; what stands last has none.
    """

    names: tuple[str, ...]
    allergens: tuple[str, ...]
    notes: tuple[str, ...]
    milligrams: dict[str, Decimal]


class _List:
    """The list while it is drawn up."""

    def __init__(self) -> None:
        self.weights: dict[str, Decimal] = defaultdict(Decimal)
        self.unweighed: dict[str, None] = {}
        self.allergens: dict[str, None] = {}
        self.notes: dict[str, None] = {}
        self.has_water = False

    def add(self, name: str, weight: Decimal | None) -> None:
        if weight is None:
            self.unweighed[name] = None
            self.notes[f"{name} has no weight (no density recorded), so it stands last."] = None
        else:
            self.weights[name] += weight

    def names(self) -> list[str]:
        found = sorted(self.weights, key=lambda name: (-self.weights[name], name))
        return [*found, *(name for name in self.unweighed if name not in self.weights)]


def ingredients_of(bottles: BottlingLot, made_of: Composition) -> Listed:
    """From what went in at any distance, by the account of amounts."""
    found = _List()
    by_kind: dict[str, dict[int, Part]] = defaultdict(dict)
    for part in made_of.parts:
        by_kind[part.facts.kind][part.facts.lot_id] = part
    _deliveries(found, by_kind[LotKind.INGREDIENT])
    _preparations(found, by_kind[LotKind.PREPARATION])
    _starters(found, by_kind[LotKind.CULTURE])
    _water(found, bottles)
    names = found.names()
    # Where its weight is not known, the culture stands last: there is little of it.
    if by_kind[LotKind.CULTURE] and CULTURE not in names:
        names.append(CULTURE)
    return Listed(tuple(names), tuple(found.allergens), tuple(found.notes), dict(found.weights))


def _deliveries(found: _List, parts: dict[int, Part]) -> None:
    rows = IngredientLot.objects.filter(pk__in=ids_in(parts)).select_related("ingredient")
    for row in rows.order_by("pk"):
        ingredient = row.ingredient
        if ingredient.kind in _NOT_EATEN:
            continue
        found.has_water |= ingredient.kind == Ingredient.Kind.WATER
        if not ingredient.label_name:
            found.notes[f"{ingredient} has no name for the label; its own name is used."] = None
        names = (each.strip() for each in ingredient.allergens.split(","))
        found.allergens |= dict.fromkeys(name for name in names if name)
        found.add(
            ingredient.label_name or ingredient.name, _milligrams(parts[row.pk], ingredient.density)
        )


def _preparations(found: _List, parts: dict[int, Part]) -> None:
    """What was made here of nothing that is on record: picked fruit, say."""
    rows = PreparationLot.objects.filter(pk__in=ids_in(parts), lot__uses_in__isnull=True)
    for row in rows.order_by("pk"):
        found.add(row.name, _milligrams(parts[row.pk], None))
        found.notes[f"{row.code} has no ingredients on record; its own name is used."] = None


def _starters(found: _List, parts: dict[int, Part]) -> None:
    """Starter liquid that was bought, at 1 kg/L (common practice)."""
    bought = CultureLot.objects.filter(pk__in=ids_in(parts), origin__in=_BOUGHT)
    for row in bought.order_by("pk"):
        weight = _milligrams(parts[row.pk], Decimal(1))
        if weight:
            found.add(CULTURE, weight)


def _milligrams(part: Part, density: Decimal | None) -> Decimal | None:
    """The weight that went in; a volume by its density (µL times kg/L is mg)."""
    if part.facts.dimension == Dimension.MASS:
        return Decimal(part.entered)
    if part.facts.dimension == Dimension.VOLUME and density:
        return part.entered * density
    return None


def _water(found: _List, bottles: BottlingLot) -> None:
    """Where no water is recorded: the drink bottled, at 1 kg/L, less all that was weighed."""
    if found.has_water or bottles.made is None:
        return
    drink = Decimal(bottles.made * (bottles.fill or bottles.format.holds))
    rest = drink - sum(found.weights.values())
    if rest > 0:
        found.weights[WATER] += rest
        found.notes["Water is not recorded as a lot: its place follows from the volume."] = None


def set_apart(names: Sequence[str], allergens: Sequence[str]) -> list[str]:
    """The names with each allergen's words marked to be set apart (EU 1169/2011 art. 21).

    An allergen that no name tells is added to the list by its own name.
    """
    marked = list(names)
    for allergen in allergens:
        stem = re.compile(rf"\b({re.escape(_singular(allergen))}(?:e?s)?)\b", re.IGNORECASE)
        told = [bool(stem.search(name)) for name in names]
        marked = [stem.sub(rf"{EMPHASIS}\1", name) for name in marked]
        if not any(told):
            words = " ".join(f"{EMPHASIS}{word}" for word in allergen.split())
            marked.append(f"contains {words}")
    return marked


def _singular(word: str) -> str:
    return word[:-1] if len(word) > 3 and word.endswith("s") else word
