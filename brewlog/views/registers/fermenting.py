"""The pages of recipes, vessels and culture lines."""

from __future__ import annotations

from typing import Any

from django.urls import reverse

from brewlog.models import Batch, Brew, CultureLine, Recipe, Vessel
from brewlog.views import events
from brewlog.views.batch_to_batch import batch_to_batch_url
from brewlog.views.details import Detail, Next, Section
from brewlog.views.facts import Fact
from brewlog.views.lists import Column, Word, get, link
from brewlog.views.nouns.lots import mark_transfers
from brewlog.views.nouns.parts import CODE, ON_HAND, STANDING, WHEN
from brewlog.views.nouns.registers import vessel_word
from brewlog.views.registers.parts import BATCH_COLUMNS, CULTURE_COLUMNS, cultures, lots_of
from brewlog.views.standing import mark_kept_back


def version_word(version: Any) -> Word:
    return Word("approved", "good") if version.is_approved else Word("not approved yet", "look")


def _waiting_version(recipe: Any) -> Any:
    """The newest version that has still to be approved."""
    return recipe.versions.live().filter(approved_at=None).order_by("-number").first()


def _named_waiting_version(recipe: Any) -> str:
    return str(_waiting_version(recipe))


def _batch_to_batch(recipe: Any) -> list[Fact]:
    if not recipe.versions.filter(batches__isnull=False).exists():
        return []
    return [Fact("Batch to batch", "its values side by side", batch_to_batch_url(recipe.pk))]


RECIPE = Detail(
    noun="recipe",
    model=Recipe,
    title="Recipe",
    list_title="Recipes",
    sections=(
        Section(
            "Versions",
            (
                Column("number", "Version", lambda each: events.RecordLink(str(each), each)),
                Column("state", "Standing", version_word),
                Column("approved", "Approved", get("approved_at")),
                Column("by", "By", get("approved_by")),
                Column("lines", "Per litre", lambda each: "; ".join(map(str, each.lines.all()))),
                Column("ph", "Bottle at about pH", get("target_ph"), number=True),
                Column("days", "Days", get("ferment_days"), number=True),
            ),
            lambda found: (
                found.versions.select_related("recipe", "approved_by")
                .prefetch_related("lines__ingredient")
                .order_by("-number")
            ),
            empty="No version is written yet: it says what goes into each litre.",
        ),
        Section(
            "Batches",
            (
                CODE,
                Column("recipe", "Version", get("recipe")),
                Column("vessel", "Vessel", link("vessel")),
                STANDING,
                ON_HAND,
                WHEN,
            ),
            lambda found: lots_of(Batch, recipe__recipe=found).select_related(
                "recipe__recipe", "vessel"
            ),
            mark_kept_back,
        ),
    ),
    extra=_batch_to_batch,
    next=(
        Next("approve", "version", sensible=_waiting_version, value=_named_waiting_version),
        Next("recipe-version", "recipe"),
        Next("batch", "recipe"),
        Next("brew", "recipe"),
    ),
)
VESSEL = Detail(
    noun="vessel",
    model=Vessel,
    title="Vessel",
    list_title="Vessels",
    extra=lambda found: [Fact("For acid drink", vessel_word(found).text)],
    sections=(
        Section(
            "Batches in it",
            BATCH_COLUMNS,
            lambda found: lots_of(Batch, vessel=found).select_related("recipe__recipe"),
            mark_kept_back,
            empty="Nothing has been fermented in it yet.",
        ),
        Section(
            "Starters in it",
            CULTURE_COLUMNS,
            lambda found: cultures(vessel=found),
            mark_transfers,
        ),
        Section(
            "Brews in it",
            BATCH_COLUMNS,
            lambda found: lots_of(Brew, kettle=found).select_related("recipe__recipe"),
            mark_kept_back,
        ),
    ),
    next=(Next("batch", "vessel"),),
)
CULTURE_LINE = Detail(
    noun="culture-line",
    model=CultureLine,
    title="Culture line",
    extra=lambda found: [
        Fact("Family", "a picture by generation", reverse("family", args=[found.pk])),
    ],
    list_title="Culture lines",
    sections=(
        Section(
            "Starters",
            CULTURE_COLUMNS,
            lambda found: cultures(line=found),
            mark_transfers,
            empty="No starter of this line yet.",
        ),
    ),
    next=(Next("buy-culture", "line"), Next("pool", "line")),
)
