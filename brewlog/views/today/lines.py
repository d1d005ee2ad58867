"""What the start page is made of: things that need doing, each with the form that settles it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from enum import IntEnum
from functools import cached_property
from typing import Any, Protocol, TypeVar
from weakref import WeakKeyDictionary

from django.db.models import QuerySet
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode

from brewlog.entries import BY_SLUG
from brewlog.middleware import BreweryRequest
from brewlog.views.access import READ
from brewlog.views.entries import THEN
from brewlog.views.lists import Linked, Word
from brewlog.when import When

T = TypeVar("T")


class Consequence(IntEnum):
    """What comes of leaving it undone, the worst first: the order of the page."""

    LEFT = 0  # customers have it, and nobody has decided
    HARM = 1  # someone may be hurt: a bottle bursts, a critical limit was missed
    CLOCK = 2  # a time allowed is running out
    DECISION = 3  # lots stand still until somebody decides
    WORK = 4  # the drink is ready, or waits for its next step
    UPKEEP = 5  # what readings and batches lean on
    STORES = 6  # what is in the stores, or is not


@dataclass(frozen=True)
class Form:
    """The one form that settles a line, filled in, and who may send it."""

    title: str
    url: str
    permission: str


def entry_form(slug: str, title: str = "", /, **given: Any) -> Form:
    """An entry with these fields filled in; once sent, it leads back to the start page."""
    entry = BY_SLUG[slug]
    query = urlencode({**{name: value for name, value in given.items() if value}, THEN: "/"})
    return Form(title or entry.title, f"{reverse('entry', args=[slug])}?{query}", entry.permission)


def typed_time(when: When) -> str:
    """A time as a browser's box for one takes it."""
    return timezone.localtime(when.at).strftime("%Y-%m-%dT%H:%M")


@dataclass(frozen=True)
class Line:
    """One thing that needs doing: how pressing, about what, why, and the form for it."""

    word: Word
    about: Linked
    text: str
    form: Form | None


class Sliced(Protocol):
    """What can be counted, and taken a part of."""

    def __len__(self) -> int: ...

    def __getitem__(self, part: slice, /) -> Any: ...


class Lines:
    """The lines of one kind, the most pressing first. One is written only where it is shown.

    `rows` is what waits: a query set, or what was found with as little as its order takes;
    `whole` then finds the rest for those shown, in a fixed number of queries.
    """

    def __init__(
        self,
        rows: QuerySet[Any] | Sliced,
        line: Callable[[Any], Line],
        whole: Callable[[Sequence[Any]], Iterable[Any]] = lambda rows: rows,
    ) -> None:
        self._rows, self._line, self._whole = rows, line, whole

    @cached_property
    def _total(self) -> int:
        return self._rows.count() if isinstance(self._rows, QuerySet) else len(self._rows)

    def __len__(self) -> int:
        return self._total

    def __getitem__(self, part: slice) -> list[Line]:
        """A part of them, from one place up to another."""
        rows = list(self._rows[part])
        return [self._line(row) for row in (self._whole(rows) if rows else ())]


def written(lines: Sequence[Line]) -> Lines:
    """Lines that had to be written to know which there are."""
    return Lines(lines, lambda line: line)


_answers: WeakKeyDictionary[BreweryRequest, dict[Callable[[], Any], Any]] = WeakKeyDictionary()


def once(request: BreweryRequest, ask: Callable[[], T]) -> T:
    """What `ask` answers, asked once for all the lines of a page."""
    answers = _answers.setdefault(request, {})
    if ask not in answers:
        answers[ask] = ask()
    return answers[ask]


@dataclass(frozen=True)
class Kind:
    """Lines of one kind. `find` returns all of them, the most pressing first.

    `concerns` is the permission of those who see it; `full` names the list that shows all of
    it, where there is one, and `narrowed` how it is narrowed to these.
    """

    slug: str
    title: str
    consequence: Consequence
    find: Callable[[BreweryRequest], Lines]
    concerns: str = READ
    caution: str = ""
    full: str = ""
    narrowed: str = ""


def time_left(due: dt.datetime) -> Word:
    """How long until a moment, or since it passed."""
    left = due - timezone.now()
    if left < dt.timedelta(0):
        return Word(f"{_span(-left)} overdue", "stop")
    return Word(f"{_span(left)} left", "look" if left < dt.timedelta(days=1) else "plain")


def _span(span: dt.timedelta) -> str:
    """90 min, 5 h, 3 days."""
    minutes = int(span.total_seconds() // 60)
    if minutes < 120:
        return f"{minutes} min"
    if minutes < 48 * 60:
        return f"{minutes // 60} h"
    return f"{minutes // (24 * 60)} days"


def days_left(due: dt.date) -> Word:
    """How many days until a day, or since it passed."""
    days = (due - timezone.localdate()).days
    if days < 0:
        return Word(f"{count_days(-days)} overdue", "stop")
    if days == 0:
        return Word("today", "look")
    return Word(f"in {count_days(days)}")


def days_since(moment: dt.datetime) -> str:
    """today, 1 day, 12 days."""
    days = (timezone.localdate() - timezone.localtime(moment).date()).days
    return "today" if days <= 0 else count_days(days)


def count_days(days: int) -> str:
    return f"{days} day{'' if days == 1 else 's'}"
