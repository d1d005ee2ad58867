"""What a recipe asks for beside what went in, lot by lot."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction

from brewlog.domain.recipes import ScaledLine, scale
from brewlog.models import Batch, Brew, Ingredient, IngredientLot, LotKind, LotUse, RecipeLine
from brewlog.units import Dimension, Quantity


@dataclass
class WentIn:
    """So much of one ingredient, in its canonical unit, and of which lots."""

    amount: Fraction = Fraction(0)
    codes: list[str] = field(default_factory=list)

    def add(self, code: str, amount: Fraction) -> None:
        self.amount += amount
        if code not in self.codes:
            self.codes.append(code)


@dataclass(frozen=True)
class RecipeAmount:
    """A line of the recipe for a volume, and what went in of it; None where nothing did."""

    planned: ScaledLine
    went_in: WentIn | None

    @property
    def amount(self) -> int | None:
        return round(self.went_in.amount) if self.went_in else None

    @property
    def lots(self) -> str:
        return ", ".join(self.went_in.codes) if self.went_in else ""


def recipe_amounts(lot: Batch | Brew) -> list[RecipeAmount]:
    """The recipe for the planned volume beside what went in; empty where it is not written.

    What is not planned by volume is taken for the volume made. Sweet tea is brewed without
    the starter. What went into a brew counts for the batch by the share it was given.
    """
    volume = lot.planned if lot.planned is not None else lot.made
    if lot.recipe is None or volume is None:
        return []
    lines = scale(lot.recipe, Quantity(volume, Dimension.VOLUME, ""))
    if isinstance(lot, Brew):
        lines = [each for each in lines if each.line.role != RecipeLine.Role.STARTER]
    used = went_in(lot)
    return [RecipeAmount(each, used.get(_key(each.line))) for each in lines]


_STARTER = 0


def _key(line: RecipeLine) -> int | None:
    return _STARTER if line.ingredient_id is None else line.ingredient_id


def went_in(lot: Batch | Brew) -> dict[int | None, WentIn]:
    """What went in by ingredient, and of starter under 0: two queries."""
    found: dict[int | None, WentIn] = defaultdict(WentIn)
    for use, share in uses_and_shares(lot):
        source = use.source.detail if use.source.kind == LotKind.INGREDIENT else None
        if use.purpose == LotUse.Purpose.STARTER:
            found[_STARTER].add(use.source.code, share * use.quantity)
        elif isinstance(source, IngredientLot):
            found[source.ingredient_id].add(use.source.code, share * use.quantity)
    return dict(found)


def uses_and_shares(lot: Batch | Brew) -> list[tuple[LotUse, Fraction]]:
    """What went into the lot, itself or with its share of a brew: two queries."""
    direct = _uses([lot.pk])
    brews = {
        use.source_id: Fraction(use.quantity, use.source.detail.made)
        for use in direct
        if use.source.kind == LotKind.BREW and use.source.detail.made
    }
    return [
        *((use, Fraction(1)) for use in direct),
        *((use, brews[use.into_id]) for use in _uses(list(brews))),
    ]


def _uses(into: list[int]) -> list[LotUse]:
    return list(
        LotUse.objects.live()
        .filter(into__in=into)
        .select_related("source__as_ingredient__ingredient", "source__as_brew")
        .order_by("happened_at", "id")
    )


def sugar_grams(uses: Iterable[tuple[LotUse, Fraction]]) -> float:
    """Grams of sugar weighed in; fruit and juice bring more."""
    milligrams = Fraction(0)
    for use, share in uses:
        source = use.source.detail if use.source.kind == LotKind.INGREDIENT else None
        if (
            isinstance(source, IngredientLot)
            and source.ingredient.kind == Ingredient.Kind.SUGAR
            and source.dimension == Dimension.MASS
        ):
            milligrams += share * use.quantity
    return float(milligrams / 1000)
