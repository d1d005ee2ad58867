"""Starters to feed, and lines that run low."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db.models import OuterRef, QuerySet, Subquery
from django.utils import timezone

from brewlog.domain.vessels import open_cultures
from brewlog.middleware import BreweryRequest
from brewlog.models import CultureLine, CultureLot, LotUse
from brewlog.units import Dimension
from brewlog.views.lists import Linked, Word
from brewlog.views.reader import reader_of
from brewlog.views.today.lines import Consequence, Kind, Line, days_left, days_since, entry_form


def _living() -> QuerySet[CultureLot]:
    rows = open_cultures().filter(line__in_use=True).select_related("line", "vessel")
    return rows.order_by("happened_at", "pk")


def feeding(request: BreweryRequest) -> list[Line]:
    """Starters whose line is fed every so many days, and were not for as long."""
    lines = []
    for lot in _living().filter(line__feed_every_days__isnull=False):
        fed = timezone.localtime(lot.happened_at).date()
        due = fed + dt.timedelta(days=lot.line.feed_every_days or 0)
        if due > timezone.localdate():
            continue
        there = reader_of(request).amount(lot.on_hand, Dimension.VOLUME)  # type: ignore[attr-defined]
        text = f"{_where(lot)}: {there}, as it is since {_ago(lot)}."
        lines.append((due, Line(days_left(due), Linked(lot.code, lot), text, _feed(lot))))
    return [line for _, line in sorted(lines, key=lambda each: each[0])]


def _where(lot: CultureLot) -> str:
    return f"{lot.line} in {lot.vessel}" if lot.vessel else str(lot.line)


def _ago(lot: CultureLot) -> str:
    days = days_since(lot.happened_at)
    return days if days == "today" else f"{days} ago"


def _feed(lot: CultureLot) -> Any:
    return entry_form("feed", "Feed it", culture=lot.code)


FEEDING = Kind("feeding", "Starters to feed", Consequence.UPKEEP, feeding)


def low(request: BreweryRequest) -> list[Line]:
    """Lines with less starter than was last added to a batch; backups are not counted."""
    starter = LotUse.objects.live().filter(
        purpose=LotUse.Purpose.STARTER, source__as_culture__line=OuterRef("pk")
    )
    last = starter.order_by("-happened_at", "-id").values("quantity")[:1]
    lots: dict[int, list[Any]] = {}
    for lot in _living().filter(is_backup=False):
        lots.setdefault(lot.line_id, []).append(lot)
    used = CultureLine.objects.live().filter(in_use=True).annotate(last=Subquery(last))
    lines = []
    for line in used.filter(last__isnull=False).order_by("name"):
        own = lots.get(line.pk, [])
        there = sum(lot.on_hand for lot in own)
        if there >= line.last:
            continue
        reader = reader_of(request)
        text = (
            f"{reader.amount(there, Dimension.VOLUME)} on hand; its last batch took "
            f"{reader.amount(line.last, Dimension.VOLUME)}."
        )
        form = _feed(own[-1]) if own else entry_form("keep-back", line=line)
        word = Word("running low", "look") if own else Word("nothing left", "stop")
        lines.append(Line(word, Linked(line.name, line), text, form))
    return lines


LOW = Kind("low-starter", "Starter running low", Consequence.UPKEEP, low)
KINDS = (FEEDING, LOW)
