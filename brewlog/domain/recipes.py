"""Recipes in versions: written, approved by a person, scaled to a batch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils import timezone

from brewlog.domain.lots import refuse_future, save_changed, save_new
from brewlog.models import Ingredient, Recipe, RecipeLine, RecipeVersion, User
from brewlog.recording import Refused, recording
from brewlog.units import Dimension, Quantity, show_quantity
from brewlog.when import When

_LITRE = 1_000_000


@dataclass(frozen=True)
class PerLitre:
    """One line of a recipe version: an ingredient, or starter, per litre of batch."""

    role: str
    quantity: Quantity
    ingredient: Ingredient | None = None


@dataclass(frozen=True)
class ScaledLine:
    """What a batch of a given volume takes of one line, in the ingredient's canonical unit."""

    line: RecipeLine
    amount: int

    @property
    def name(self) -> str:
        return str(self.line.ingredient or self.line.get_role_display())

    def __str__(self) -> str:
        return f"{show_quantity(self.amount, self.line.dimension)} {self.name}"


def add_version(
    *,
    actor: User,
    recipe: Recipe,
    lines: Sequence[PerLitre] = (),
    number: int | None = None,
    steep_temperature: Decimal | None = None,
    steep_minutes: int | None = None,
    pitch_temperature: Decimal | None = None,
    ferment_temperature: Decimal | None = None,
    ferment_days: int | None = None,
    target_ph: Decimal | None = None,
    instructions: str = "",
    reason: str = "",
) -> RecipeVersion:
    """Write the next version of a recipe. It is used once a person has approved it."""
    with recording(actor, reason):
        version = RecipeVersion(
            recipe=recipe,
            number=number or _next_number(recipe),
            steep_temperature=steep_temperature,
            steep_minutes=steep_minutes,
            pitch_temperature=pitch_temperature,
            ferment_temperature=ferment_temperature,
            ferment_days=ferment_days,
            target_ph=target_ph,
            instructions=instructions,
        )
        save_new(version)
        for line in lines:
            add_line(
                actor=actor,
                version=version,
                role=line.role,
                quantity=line.quantity,
                ingredient=line.ingredient,
            )
        return version


def _next_number(recipe: Recipe) -> int:
    last = recipe.versions.live().order_by("-number").first()
    return last.number + 1 if last else 1


def add_line(
    *,
    actor: User,
    version: RecipeVersion,
    role: str,
    quantity: Quantity,
    ingredient: Ingredient | None = None,
    reason: str = "",
) -> RecipeLine:
    """Add a line to a version that is not approved yet. Raises `Refused`."""
    if ingredient is not None and quantity.dimension != ingredient.dimension:
        raise Refused(
            {"quantity": f"{ingredient} is counted by {ingredient.dimension}; write it so."}
        )
    if ingredient is None and role == RecipeLine.Role.STARTER:
        if quantity.dimension != Dimension.VOLUME:
            raise Refused({"quantity": "Write the starter by volume, like 120 mL."})
    elif ingredient is None:
        raise Refused({"ingredient": "Name the ingredient. Only starter goes without."})
    with recording(actor, reason):
        version.reread()
        if version.is_approved:
            raise Refused(f"{version} is approved and stays as it is. Write the next version.")
        line = RecipeLine(
            version=version,
            role=role,
            ingredient=ingredient,
            dimension=quantity.dimension,
            per_litre=quantity.canonical,
            per_litre_text=quantity.text,
        )
        save_new(line)
        return line


def approve(
    *,
    actor: User,
    version: RecipeVersion,
    when: When | None = None,
    done_by: User | None = None,
    reason: str = "",
) -> RecipeVersion:
    """Approve a version for use. From then on it is not changed any more."""
    if when is not None:
        refuse_future(when)
    with recording(actor, reason):
        version.reread()
        if version.is_approved:
            raise Refused(f"{version} is approved already, by {version.approved_by}.")
        if not version.lines.live().exists():
            raise Refused(f"{version} has no lines yet. Write what goes in per litre first.")
        version.approved_at = when.at if when else timezone.now()
        version.approved_by = done_by or actor
        save_changed(version)
        return version


def scale(version: RecipeVersion, volume: Quantity) -> list[ScaledLine]:
    """What a batch of that volume takes, line by line, rounded half-even to whole units."""
    litres = Decimal(volume.canonical) / _LITRE
    return [
        ScaledLine(line, round(line.per_litre * litres))
        for line in version.lines.live().select_related("ingredient")
    ]
