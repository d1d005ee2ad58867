"""What a bottling day is worked out from, and what its steps are made of."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode

from brewlog.calculations.base import Table, Units
from brewlog.entries import BY_SLUG
from brewlog.models import (
    Batch,
    BottlingLot,
    Lot,
    LotUse,
)
from brewlog.views.details import Link
from brewlog.views.drafts import Draft
from brewlog.views.entries import THEN
from brewlog.views.lists import Word
from brewlog.views.reader import Reader
from brewlog.views.today.lines import Line

# A bottling may take more than a day; what was filled before that is another one.
LASTS = dt.timedelta(days=7)
_DONE, _TO_DO = Word("done", "good"), Word("to do")


@dataclass
class Step:
    """One thing to do: whether it is done, what is known of it, and the way to do it."""

    title: str
    is_done: bool = False
    told: list[str] = field(default_factory=list)
    links: list[Link] = field(default_factory=list)
    # Stands outside the order: a mishap, a paper, what came too late.
    word: Word | None = None
    caution: str = ""
    table: Table | None = None

    @property
    def shown(self) -> Word:
        return self.word or (_DONE if self.is_done else _TO_DO)


@dataclass(frozen=True)
class Part:
    """The steps of the whole day, or those of one lot filled."""

    title: str
    steps: list[Step]
    lot: Lot | None = None


@dataclass
class Day:
    """What the steps are worked out from."""

    batches: list[Batch]
    lots: list[BottlingLot]
    here: str
    may_record: bool
    reader: Reader
    units: Units
    draft: Draft | None

    def form(self, slug: str, title: str = "", /, **given: Any) -> list[Link]:
        """The way to an entry, filled in, which leads back here; nothing for who only reads."""
        if not self.may_record:
            return []
        query = {**{name: value for name, value in given.items() if value}, THEN: self.here}
        address = f"{reverse('entry', args=[slug])}?{urlencode(query)}"
        return [Link(title or BY_SLUG[slug].title, address)]


# A step of another app for each of the lots filled, by its key: after the clearing of the line.
FURTHER_STEPS: list[Callable[[Day], dict[int, Step]]] = []
# What other apps still wait for of the lots: they add themselves when they are loaded.
FURTHER_CHECKS: list[Callable[[list[Lot]], list[Line]]] = []


def filled_from(batches: list[Batch]) -> list[BottlingLot]:
    """The lots filled from the batches in these days, in the order they were filled."""
    drawn = LotUse.objects.live().filter(
        source__in=[batch.pk for batch in batches], purpose=LotUse.Purpose.DRINK
    )
    lots = BottlingLot.objects.live().filter(
        pk__in=drawn.values("into"), happened_at__gte=timezone.now() - LASTS
    )
    return list(lots.select_related("flavour", "format").order_by("happened_at", "pk"))
