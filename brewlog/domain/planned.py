"""What batches that are planned and still empty will take of each ingredient."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

from django.db.models import Exists, OuterRef

from brewlog.models import Batch, Ingredient, LotUse, RecipeLine

_LITRE = 1_000_000  # microlitres


@dataclass
class Need:
    """What planned batches take of one ingredient, in its canonical unit, and their codes."""

    ingredient: Ingredient
    amount: int = 0
    batches: list[str] = field(default_factory=list)


def planned_needs(ingredient: Ingredient | None = None) -> dict[int, Need]:
    """By ingredient, or of that one only. Water is not counted. Two queries."""
    uses = LotUse.objects.live().filter(into=OuterRef("pk"))
    planned = Batch.objects.live().filter(
        ~Exists(uses), pitched_at__isnull=True, planned__isnull=False, recipe__isnull=False
    )
    by_version: dict[int, list[Batch]] = defaultdict(list)
    for batch in planned.order_by("happened_at", "pk"):
        by_version[batch.recipe_id].append(batch)  # type: ignore[index]
    lines = RecipeLine.objects.live().filter(version__in=by_version, ingredient__isnull=False)
    if ingredient is not None:
        lines = lines.filter(ingredient=ingredient)
    found: dict[int, Need] = {}
    for line in lines.exclude(role=RecipeLine.Role.WATER).select_related("ingredient"):
        assert line.ingredient is not None
        need = found.setdefault(line.ingredient.pk, Need(line.ingredient))
        for batch in by_version[line.version_id]:
            need.amount += line.per_litre * (batch.planned or 0) // _LITRE
            need.batches.append(batch.code)
    return found
