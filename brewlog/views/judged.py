"""What is said of a reading, and of what it will be held against: other apps judge, pages show.

They add themselves when they are loaded. Each takes all that a page shows at once, so that a
page of thirty vessels asks no more often than a page of one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet
from django.urls import reverse
from django.utils.http import urlencode

from brewlog.domain.readings import is_unusual
from brewlog.forms.base import EntryForm
from brewlog.middleware import BreweryRequest
from brewlog.models import Checkpoint, Lot
from brewlog.views.lists import Word


@dataclass(frozen=True)
class Said:
    """One thing said of a reading: the word, the value beside its limit, the step to take."""

    word: Word
    text: str
    step: str = ""
    url: str = ""


@dataclass(frozen=True)
class ReadingVerdict:
    """A reading with all that is said of it, the worst first."""

    reading: Checkpoint
    said: list[Said]

    @property
    def tone(self) -> str:
        return self.said[0].word.tone

    @property
    def again_url(self) -> str:
        """The reading entry for the same thing, to measure it again."""
        query = {"measurand": self.reading.measurand}
        if self.reading.lot:
            query["lot"] = self.reading.lot.code
        return f"{reverse('entry', args=['reading'])}?{urlencode(query)}"

    @property
    def void_url(self) -> str:
        return reverse("record-void", args=["checkpoint", self.reading.pk])


@dataclass(frozen=True)
class HeldTo:
    """A limit that an entry will be held against: what it asks, its reason, on whose word.

    `sure` says how surely the source was read; `url` leads to the limit in its rule set.
    """

    text: str
    because: str
    source: str
    sure: Word
    url: str


# Given readings of lots: what each says, by key. A reading nothing is said of is left out.
JUDGES: list[Callable[[Sequence[Checkpoint]], dict[int, list[Said]]]] = []
# Given lots and a measurand: what a reading will be held against, in words, by lot.
LIMITS: list[Callable[[Sequence[Lot], str], dict[int, list[str]]]] = []
# Given an entry's slug, what is in the fields of its form by now, and the lots it is about, if
# any: the limits that what is written there will be held against.
HELD_TO: list[Callable[[str, Mapping[str, str], Sequence[Lot]], list[HeldTo]]] = []
# Given lots of a list: how each stands against the limits, in a word, by key.
STANDINGS: list[Callable[[Sequence[Lot]], dict[int, Word]]] = []

# Given rows of lots and a word of `STANDING_WORDS`: those of them that stand so.
NARROWINGS: list[Callable[[QuerySet, str], QuerySet]] = []
STANDING_WORDS = ("outside", "needs a look", "clear")

_WORST_FIRST = ("stop", "look", "plain", "good")
_UNUSUAL = "This is unusual. Rinse the probe, take a fresh sample and measure again."


def verdicts_on(readings: Iterable[Checkpoint]) -> dict[int, ReadingVerdict]:
    """What is said of each reading, by its key."""
    shown = list(readings)
    said: dict[int, list[Said]] = {each.pk: [] for each in shown}
    of_lots = [each for each in shown if each.lot_id]
    for judge in JUDGES:
        for key, found in judge(of_lots).items():
            said[key] += found
    return {each.pk: _verdict(each, said[each.pk]) for each in shown}


def _verdict(reading: Checkpoint, said: list[Said]) -> ReadingVerdict:
    found = list(said)
    if not any(each.word.tone == "stop" for each in found) and is_unusual(
        reading.measurand, reading.value
    ):
        text = f"{reading.measured} {reading.value_text}"
        found.append(Said(Word("measure again", "look"), text, _UNUSUAL))
    if not found:
        text = f"{reading.measured} {reading.value_text}; no limit binds it here."
        found.append(Said(Word("recorded"), text))
    found.sort(key=lambda each: _WORST_FIRST.index(each.word.tone))
    return ReadingVerdict(reading, found)


def mark_verdicts(lots: Sequence[Any]) -> None:
    """Put on each lot how it stands against the limits, for the column that shows it."""
    found: dict[int, Word] = {}
    for ask in STANDINGS:
        found |= ask(lots)
    for lot in lots:
        lot.verdict = found.get(lot.pk)


def narrow_to(rows: QuerySet, word: str) -> QuerySet:
    """The rows of lots that stand so against the limits; none where nobody judges them."""
    if not NARROWINGS:
        return rows.none()
    for narrow in NARROWINGS:
        rows = narrow(rows, word)
    return rows


def limits_beside(lots: Sequence[Lot], measurand: str) -> dict[int, list[str]]:
    """What a reading of each lot will be held against, by the lot's key."""
    found: dict[int, list[str]] = {lot.pk: [] for lot in lots}
    for ask in LIMITS:
        for key, words in ask(lots, measurand).items():
            found[key] += words
    return found


def held_to(slug: str, typed: Mapping[str, str], lots: Sequence[Lot]) -> list[HeldTo]:
    """The limits on what an entry writes, each with its reason, for its form."""
    return [limit for ask in HELD_TO for limit in ask(slug, typed, lots)]


def typed_in(form: EntryForm) -> dict[str, str]:
    """What is in the fields of a form by now, as opened or typed so far; '' for nothing."""
    return {name: str(form[name].value() or "") for name in form.fields}


def asked_verdict(request: BreweryRequest, lot: Lot) -> ReadingVerdict | None:
    """The reading named in the address of the lot's page: the one just written."""
    key = request.GET.get("reading", "")
    if not (key.isascii() and key.isdigit()):
        return None
    rows: Any = Checkpoint.objects.live().filter(lot=lot.pk, pk=int(key))
    reading = rows.select_related("lot", "instrument", "done_by").first()
    return verdicts_on([reading])[reading.pk] if reading else None
