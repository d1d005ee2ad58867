"""Which lots an amount would be taken from: of those that may be used, the oldest first.

An offer, to be looked at by whoever stands at the shelf: nothing says that they were taken.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import Q, QuerySet
from django.utils import timezone

from brewlog.domain.blocks import kept_from
from brewlog.ledger import with_on_hand
from brewlog.models import Brew, CultureLot, Ingredient, IngredientLot, Lot, RecipeVersion

# Further lots named beside those offered, and how many are looked through for them.
MOST_NAMED = 4
_MOST_LOOKED_AT = 40
# Less than one part in so many is what the books have left of a lot, not what a sack holds.
_A_REST = 20
# Sweet tea older than this is not what stands ready to be filled (common practice: within a day;
# the rest is for what is written down late).
_FRESH = dt.timedelta(days=7)


@dataclass(frozen=True)
class Take:
    """So much of one lot, in its canonical unit."""

    lot: Lot
    amount: int


@dataclass(frozen=True)
class Offer:
    """Of what, how much is wanted, from which lots, and which others there are."""

    name: str
    amount: int
    dimension: str
    takes: tuple[Take, ...]
    others: tuple[Lot, ...]

    @property
    def missing(self) -> int:
        """What the lots offered fall short of."""
        return self.amount - sum(take.amount for take in self.takes)


def offer_ingredient(ingredient: Ingredient, amount: int) -> Offer:
    """Accepted lots of it in date, by the day they came."""
    lots = IngredientLot.objects.live().filter(
        Q(best_before__isnull=True) | Q(best_before__gte=timezone.localdate()),
        ingredient=ingredient,
        acceptance=IngredientLot.Acceptance.ACCEPTED,
    )
    found = with_on_hand(lots).filter(on_hand__gt=0).order_by("happened_at", "pk")
    return _offer(str(ingredient), amount, ingredient.dimension, found)


def offer_sweet_tea(recipe: RecipeVersion, amount: int) -> Offer | None:
    """Brews of that recipe that stand ready; None where there is none."""
    brews = Brew.objects.live().filter(recipe=recipe, happened_at__gt=timezone.now() - _FRESH)
    there = with_on_hand(brews).filter(Q(on_hand__gt=0) | Q(made__isnull=True))
    found = _offer("sweet tea", amount, "volume", there.order_by("happened_at", "pk"))
    return found if found.takes else None


def offer_starter(amount: int) -> Offer:
    """A starter, where there is only one: which of several is for whoever looked at them."""
    living = CultureLot.objects.live().filter(retired_at__isnull=True)
    there = with_on_hand(living).filter(on_hand__gt=0).order_by("happened_at", "pk")
    found = _offer("starter", amount, "volume", there)
    if len(found.takes) + len(found.others) > 1:
        lots = tuple(take.lot for take in found.takes) + found.others
        return Offer(found.name, amount, found.dimension, (), lots)
    return found


def _offer(name: str, amount: int, dimension: str, there: QuerySet) -> Offer:
    """Take from the lots in their order until there is enough."""
    worth_it = there.filter(Q(on_hand__gt=amount // _A_REST) | Q(made__isnull=True))
    lots = list(worth_it[:_MOST_LOOKED_AT]) or list(there[:_MOST_LOOKED_AT])
    kept_back = kept_from(lots, "used")
    takes: list[Take] = []
    others: list[Lot] = []
    wanted = amount
    for lot in lots:
        if lot.pk in kept_back:
            continue
        if wanted:
            part = wanted if lot.made is None else min(wanted, lot.on_hand)
            takes.append(Take(lot, part))
            wanted -= part
        elif len(others) < MOST_NAMED:
            others.append(lot)
    return Offer(name, amount, dimension, tuple(takes), tuple(others))
