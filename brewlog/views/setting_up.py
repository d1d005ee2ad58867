"""Setting a new brewery up: what is done and what is next, on the start page until the first
lot is there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpRequest
from django.urls import reverse
from django.utils.html import format_html
from django.utils.http import urlencode

from brewlog.entries.base import MANAGE, RECORD
from brewlog.models import (
    Brewery,
    Ingredient,
    Instrument,
    Lot,
    Recipe,
    RecipeVersion,
    Supplier,
    User,
    Vessel,
)


@dataclass(frozen=True)
class Step:
    """Something to be set up: where it is done, and how many of it there are.

    `sheet` is the sheet that does it besides; `plenty` how many make it done; `has_many`
    whether there may be more.
    """

    slug: str
    title: str
    why: str
    count: Callable[[], int]
    url: Callable[[], str]
    permission: str = RECORD
    sheet: str = ""
    plenty: int = 1
    has_many: bool = True


def _entry(slug: str) -> Callable[[], str]:
    return lambda: reverse("entry", args=[slug])


def _recipe_to_write() -> str:
    """The form of the next version, or the approval of the one that is written."""
    waiting = RecipeVersion.objects.live().filter(approved_at=None).order_by("-id").first()
    if waiting is not None:
        return f"{reverse('entry', args=['approve'])}?{urlencode({'version': str(waiting)})}"
    named = Recipe.objects.live().order_by("-id").first()
    query = f"?{urlencode({'recipe': named.name})}" if named else ""
    return reverse("entry", args=["recipe-version"]) + query


# In the order in which one leans on the other. Other apps put theirs in when they are loaded.
STEPS: list[Step] = [
    Step(
        "brewery",
        "Write down the brewery",
        "Its name and address on papers, its time zone, how dates are written.",
        Brewery.objects.count,
        _entry("brewery"),
        MANAGE,
        "Brewery",
        has_many=False,
    ),
    Step(
        "person",
        "Add a person",
        "Everyone records under their own name. Nobody to add? Go on.",
        lambda: User.objects.filter(groups__isnull=False).count(),
        _entry("person"),
        MANAGE,
        "People",
        plenty=2,
    ),
    Step(
        "vessel",
        "Add a vessel",
        "The kettles, jars and tanks.",
        lambda: Vessel.objects.live().count(),
        _entry("vessel"),
        sheet="Vessels",
    ),
    Step(
        "instrument",
        "Add an instrument",
        "The pH meter and the thermometers, so that a reading says what it was taken with.",
        lambda: Instrument.objects.live().count(),
        _entry("instrument"),
        sheet="Instruments",
    ),
    Step(
        "ingredient",
        "Add an ingredient",
        "Tea, sugar, bottles, caps: what is bought in lots.",
        lambda: Ingredient.objects.live().count(),
        _entry("ingredient"),
        sheet="Ingredients",
    ),
    Step(
        "supplier",
        "Add a supplier",
        "Whom it is bought from: a delivery names them. What is grown at home names its place.",
        lambda: Supplier.objects.live().count(),
        _entry("supplier"),
        sheet="Suppliers",
    ),
    Step(
        "recipe",
        "Name a recipe",
        "What you brew, by the name you call it.",
        lambda: Recipe.objects.live().count(),
        _entry("recipe"),
        MANAGE,
        "Recipes",
    ),
    Step(
        "recipe-version",
        "Write what goes into each litre, and approve it",
        "Tea, sugar, starter and water; how hot and how long.",
        lambda: RecipeVersion.objects.live().filter(approved_at__isnull=False).count(),
        _recipe_to_write,
        MANAGE,
        "Recipe lines",
    ),
    Step(
        "receive",
        "Receive a delivery",
        "The first delivery gets the first lot code, and this list goes away.",
        lambda: Lot.objects.live().count(),
        _entry("receive"),
        sheet="Receiving",
    ),
]


@dataclass(frozen=True)
class Standing:
    """How a step stands."""

    step: Step
    count: int
    is_next: bool

    @property
    def url(self) -> str:
        return self.step.url()

    @property
    def told(self) -> int | None:
        """How many there are, where one may want more of them."""
        return self.count if self.count and self.step.has_many else None

    @property
    def is_done(self) -> bool:
        return self.count >= self.step.plenty


def checklist(request: HttpRequest) -> list[Standing]:
    """What this person may set up and how it stands; empty once the first lot is there.

    What comes next is the first that is not done after the last that is: one that was passed
    over, as by a brewery of one person, does not ask again.
    """
    if not request.user.has_perm(RECORD) or Lot.objects.exists():
        return []
    counted = [(step, step.count()) for step in STEPS if request.user.has_perm(step.permission)]
    done = [place for place, (step, count) in enumerate(counted) if count >= step.plenty]
    after = done[-1] + 1 if done else 0
    return [Standing(step, count, place == after) for place, (step, count) in enumerate(counted)]


def say_what_is_next(request: HttpRequest, slug: str) -> None:
    """After a step of the set-up: the way back to the list."""
    if slug not in {"approve", *(step.slug for step in STEPS)}:
        return
    for each in checklist(request):
        if each.is_next:
            words = 'Next in setting up: <a href="{}">{}</a>, or <a href="{}">see the list</a>.'
            title = each.step.title[0].lower() + each.step.title[1:]
            messages.info(request, format_html(words, each.url, title, reverse("home")))
