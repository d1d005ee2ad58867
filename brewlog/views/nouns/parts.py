"""Columns and filters that many lists share, and the groups lists stand in."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from typing import Any

from django.utils import timezone

from brewlog.views.lists import Column, Filter, Linked, get
from brewlog.views.reader import OnHand
from brewlog.views.standing import standing

STOCK, WORK, CHECKS, OUT, HAVE = (
    "Lots",
    "What is waiting",
    "What was measured and done",
    "Going out",
    "What we have and whom we deal with",
)


def of_model(model: Any, **also: Any) -> Callable[[], list[tuple[str, str]]]:
    """Choices of a filter: the register's entries in use."""

    def choices() -> list[tuple[str, str]]:
        rows = model.objects.live().filter(**also).order_by("name")
        return [(str(pk), name) for pk, name in rows.values_list("pk", "name")]

    return choices


def link_filter(name: str, title: str, model: Any, path: str = "", **also: Any) -> Filter:
    field = path or name
    return Filter(
        name, title, of_model(model, **also), lambda rows, value: rows.filter(**{field: value})
    )


def choice_filter(
    name: str, title: str, choices: Iterable[tuple[Any, Any]], field: str = ""
) -> Filter:
    listed = [(str(value), str(label)) for value, label in choices]
    return Filter(
        name, title, lambda: listed, lambda rows, value: rows.filter(**{field or name: value})
    )


VOIDED = Filter(
    "voided",
    "Voided entries",
    lambda: [("with", "shown too"), ("only", "only these")],
    lambda rows, value: rows if value == "with" else rows.filter(voided_at__isnull=False),
    unchosen="left out",
    otherwise=lambda rows: rows.filter(voided_at__isnull=True),
)
SINCE = Filter(
    "since",
    "Since",
    lambda: [("7", "7 days"), ("30", "30 days"), ("90", "90 days"), ("365", "a year")],
    lambda rows, value: rows.filter(
        happened_at__gte=timezone.now() - dt.timedelta(days=int(value))
    ),
)
IN_STOCK = Filter(
    "stock",
    "On hand",
    lambda: [("yes", "something"), ("no", "nothing")],
    lambda rows, value: (
        rows.filter(on_hand__gt=0) if value == "yes" else rows.filter(on_hand__lte=0)
    ),
)
IN_USE = Filter(
    "in_use",
    "In use",
    lambda: [("yes", "yes"), ("no", "no longer")],
    lambda rows, value: rows.filter(in_use=value == "yes"),
)


CODE = Column("code", "Lot", lambda lot: Linked(lot.code, lot), "code")
WHEN = Column("when", "When", get("when"), "happened_at")
STANDING = Column("standing", "Standing", standing)
ON_HAND = Column(
    "on_hand", "On hand", lambda lot: OnHand(lot.on_hand, lot.dimension), "on_hand", number=True
)
MADE = Column("made", "Amount", get("made_text"), "made", number=True)


def name_column(title: str = "Name") -> Column:
    return Column("name", title, lambda each: Linked(each.name, each), "name")


NOTE = Column("note", "Note", get("note"))
IN_USE_COLUMN = Column("in_use", "In use", get("in_use"), "in_use")
