"""What earlier bottlings tell a plan: flavours and their shares, what each bottle took, stocks."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass

from brewlog.ledger import on_hand
from brewlog.models import (
    Batch,
    BottlingLot,
    Flavour,
    Format,
    Ingredient,
    IngredientLot,
    LotUse,
)
from brewlog.units import Dimension

# Bottling lots looked back over, the newest first.
MOST_LOTS = 20

_LABEL = {"label", "labels", "sticker", "stickers"}
_CAP = {"cap", "caps", "crown", "crowns", "cork", "corks", "lid", "lids", "closure", "stopper"}


@dataclass(frozen=True)
class Stock:
    """Something in stock, by its name, in pieces or µL; None where that cannot be told."""

    name: str
    on_hand: int | None


def is_label(ingredient: Ingredient) -> bool:
    return bool(words(ingredient.name) & _LABEL)


def is_cap(ingredient: Ingredient) -> bool:
    return bool(words(ingredient.name) & _CAP)


def words(name: str) -> set[str]:
    """The words of a name, in small letters."""
    return set(re.findall(r"\w+", name.lower()))


def stock_of(ingredients: set[int]) -> dict[int, int]:
    """Pieces or canonical amounts on hand of each ingredient, over its accepted deliveries."""
    deliveries = (
        IngredientLot.objects.live()
        .filter(ingredient__in=ingredients)
        .exclude(acceptance=IngredientLot.Acceptance.REJECTED)
        .values_list("pk", "ingredient")
    )
    ingredient_of = dict(deliveries)
    total: dict[int, int] = dict.fromkeys(ingredients, 0)
    for lot, amount in on_hand(ingredient_of).items():
        total[ingredient_of[lot]] += max(amount, 0)
    return total


class PastBottlings:
    """The newest bottling lots of a recipe's batches, with what went into them: four
    queries.

    Of the whole brewery where the batch has no recipe or none of its batches was bottled.
    """

    def __init__(self, batch: Batch | None = None) -> None:
        self.lots = self._lots(batch)
        self._uses: dict[int, list[LotUse]] = defaultdict(list)
        for use in (
            LotUse.objects.live()
            .filter(into__in=[lot.pk for lot in self.lots])
            .select_related("source__as_ingredient__ingredient")
        ):
            self._uses[use.into_id].append(use)
        self._stock = stock_of({each.pk for lot in self.lots for each in self._packaging(lot)})

    def _lots(self, batch: Batch | None) -> list[BottlingLot]:
        newest = (
            BottlingLot.objects.live()
            .select_related("flavour", "format")
            .order_by("-happened_at", "-pk")
        )
        if batch is not None and batch.recipe is not None:
            of_recipe = LotUse.objects.live().filter(
                source__as_batch__recipe__recipe=batch.recipe.recipe_id,
                purpose=LotUse.Purpose.DRINK,
            )
            found = list(newest.filter(pk__in=of_recipe.values("into"))[:MOST_LOTS])
            if found:
                return found
        return list(newest[:MOST_LOTS])

    def _packaging(self, lot: BottlingLot) -> list[Ingredient]:
        return [
            use.source.detail.ingredient  # type: ignore[attr-defined]
            for use in self._uses[lot.pk]
            if use.purpose == LotUse.Purpose.PACKAGING
        ]

    def _volume(self, lot: BottlingLot, *purposes: str) -> int:
        """Microlitres that went into the lot for these purposes, where counted by volume."""
        return sum(
            use.quantity
            for use in self._uses[lot.pk]
            if use.purpose in purposes and use.source.dimension == Dimension.VOLUME
        )

    def flavours(self) -> dict[Flavour, int]:
        """Flavours filled, with the microlitres of each."""
        found: dict[Flavour, int] = defaultdict(int)
        for lot in self.lots:
            found[lot.flavour] += filled(lot)
        return dict(found)

    def formats(self) -> list[Format]:
        return list(dict.fromkeys(lot.format for lot in self.lots))

    def flavouring_per_litre(self, flavour: Flavour) -> float | None:
        """mL of liquid flavouring in a litre of the finished drink, when it was last filled."""
        for lot in self.lots:
            if lot.flavour_id == flavour.pk and filled(lot):
                added = self._volume(lot, LotUse.Purpose.FLAVOURING)
                return 1000 * added / filled(lot) if added else None
        return None

    def loss(self) -> float | None:
        """Share of what was poured in that did not come into bottles; None without such lots."""
        poured = in_bottles = 0
        for lot in self.lots:
            drink = self._volume(lot, LotUse.Purpose.DRINK)
            if drink:
                poured += drink + self._volume(lot, LotUse.Purpose.FLAVOURING)
                in_bottles += filled(lot)
        return max(0.0, 1 - in_bottles / poured) if poured else None

    def bottle_stock(self, format: Format) -> Stock | None:
        """Empty bottles: what the format's last lot took that is neither cap nor label."""
        return self._taken(format, lambda each: not is_cap(each) and not is_label(each))

    def cap_stock(self, format: Format) -> Stock | None:
        return self._taken(format, is_cap)

    def _taken(self, format: Format, wanted) -> Stock | None:
        for lot in self.lots:
            if lot.format_id == format.pk:
                for each in self._packaging(lot):
                    if wanted(each):
                        return Stock(each.name, self._stock[each.pk])
                return None
        return None

    def label_stock(self, flavour: Flavour) -> Stock | None:
        for lot in self.lots:
            if lot.flavour_id == flavour.pk:
                for each in self._packaging(lot):
                    if is_label(each):
                        return Stock(each.name, self._stock[each.pk])
        return None


def filled(lot: BottlingLot) -> int:
    """Microlitres in the lot's bottles, rejects included."""
    return (lot.fill or lot.format.holds) * ((lot.made or 0) + lot.rejects)
