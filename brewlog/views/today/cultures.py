"""Starters to feed, and lines that run low."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from operator import itemgetter
from typing import Any

from django.db.models import OuterRef, QuerySet, Subquery
from django.utils import timezone

from brewlog.domain.vessels import open_cultures
from brewlog.ledger import on_hand
from brewlog.middleware import BreweryRequest
from brewlog.models import CultureLine, CultureLot, LotKind, LotUse
from brewlog.units import LEAST_MEASURED, Dimension
from brewlog.views.lists import Linked, Word
from brewlog.views.reader import reader_of
from brewlog.views.today.lines import (
    Consequence,
    Form,
    Kind,
    Line,
    Lines,
    days_left,
    days_since,
    entry_form,
)


def feeding(request: BreweryRequest) -> Lines:
    """Starters whose line is fed every so many days, and were not for as long."""
    fed = open_cultures().filter(line__in_use=True, line__feed_every_days__isnull=False)
    due = [(_due(lot), lot) for lot in fed.select_related("line", "vessel").order_by(*_OLDEST)]
    today, reader = timezone.localdate(), reader_of(request)

    def line(each: tuple[dt.date, Any]) -> Line:
        day, lot = each
        there = reader.amount(lot.on_hand, Dimension.VOLUME)
        text = f"{_where(lot)}: {there}, as it is since {_ago(lot)}."
        return Line(days_left(day), Linked(lot.code, lot), text, _feed(lot.code))

    return Lines(sorted((each for each in due if each[0] <= today), key=itemgetter(0)), line)


_OLDEST = ("happened_at", "pk")
_NEWEST = 200


def _due(lot: CultureLot) -> dt.date:
    fed = timezone.localtime(lot.happened_at).date()
    return fed + dt.timedelta(days=lot.line.feed_every_days or 0)


def _where(lot: CultureLot) -> str:
    return f"{lot.line} in {lot.vessel}" if lot.vessel else str(lot.line)


def _ago(lot: CultureLot) -> str:
    days = days_since(lot.happened_at)
    return days if days == "today" else f"{days} ago"


def _feed(code: str) -> Form:
    return entry_form("feed", "Feed it", culture=code)


FEEDING = Kind("feeding", "Starters to feed", Consequence.UPKEEP, feeding)


def low(request: BreweryRequest) -> Lines:
    """Lines with less starter than was last added to a batch; backups are not counted."""
    took = _last_taken()
    there = _there(took)
    reader = reader_of(request)

    def line(of: CultureLine) -> Line:
        amount, newest = there[of.pk]
        text = (
            f"{reader.amount(amount, Dimension.VOLUME)} on hand; its last batch took "
            f"{reader.amount(took[of.pk], Dimension.VOLUME)}."
        )
        word = Word("running low", "look") if newest else Word("nothing left", "stop")
        form = _feed(newest) if newest else entry_form("keep-back", line=of)
        return Line(word, Linked(of.name, of), text, form)

    short = [pk for pk in took if there[pk][0] < took[pk]]
    lines = CultureLine.objects.filter(pk__in=short).order_by("name")
    return Lines(list(lines) if short else [], line)


def _last_taken() -> dict[int, int]:
    """What the last batch took of the starter of each line in use, in µL.

    The newest few hundred batches tell it of most lines. Of the others all are looked through.
    """
    starter = LotUse.objects.live().filter(purpose=LotUse.Purpose.STARTER)
    newest = starter.order_by("-happened_at", "-id")
    rows = list(newest.values_list("source__as_culture__line", "quantity")[:_NEWEST])
    lately = dict(reversed(rows))
    lines = CultureLine.objects.live().filter(in_use=True)
    in_use = list(lines.order_by().values_list("pk", flat=True))
    took = {pk: lately[pk] for pk in in_use if pk in lately}
    if len(rows) < _NEWEST or len(took) == len(in_use):
        return took
    last = newest.filter(source__as_culture__line=OuterRef("pk")).values("quantity")[:1]
    others = lines.exclude(pk__in=took).annotate(last=Subquery(last)).order_by()
    found = {pk: quantity for pk, quantity in others.values_list("pk", "last") if quantity}
    return took | found


def _there(took: dict[int, int]) -> dict[int, tuple[int, str]]:
    """How much starter of each line there is, and the code of the newest.

    The newest lots of ten years of them come first: they tell of most lines that they do not
    run low. Of the others all lots are counted, so that a line found short is short.
    """
    living = CultureLot.objects.live().filter(
        kind=LotKind.CULTURE, retired_at__isnull=True, is_backup=False
    )
    found = _summed(living.filter(line__in=took).order_by("-happened_at", "-pk")[:_NEWEST])
    short = [pk for pk in took if found[pk][0] < took[pk]]
    return found | _summed(living.filter(line__in=short).order_by("-happened_at", "-pk"))


def _summed(lots: QuerySet[CultureLot]) -> dict[int, tuple[int, str]]:
    """By line, how much those lots hold together, and the code of the first that holds any."""
    rows = list(lots.values_list("pk", "line", "code"))
    amounts = on_hand([pk for pk, _, _ in rows]) if rows else {}
    found: dict[int, tuple[int, str]] = defaultdict(lambda: (0, ""))
    for pk, of, code in rows:
        if amounts[pk] >= LEAST_MEASURED[Dimension.VOLUME]:
            there, newest = found[of]
            found[of] = (there + amounts[pk], newest or code)
    return found


LOW = Kind("low-starter", "Starter running low", Consequence.UPKEEP, low)
KINDS = (FEEDING, LOW)
