"""A bottling day on one page: what is done, what is next, each step's form one tap away.

Everything on it is worked out from the records and from the bottling form as it was put
aside, so that nothing is lost when the day is interrupted.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_safe

from brewlog.calculations.base import Table, Units, units_of
from brewlog.calculations.bottling import against
from brewlog.calculations.flow import beside_bottle
from brewlog.calculations.past_bottlings import PastBottlings
from brewlog.domain.places import Stay, stays_of
from brewlog.domain.vessels import open_batches
from brewlog.entries import BY_SLUG
from brewlog.entries.base import RECORD
from brewlog.entries.bottling import BURST_CAUTION
from brewlog.ledger import mass_balances
from brewlog.middleware import BreweryRequest
from brewlog.models import (
    Batch,
    BottlingLot,
    Breakage,
    Checkpoint,
    LineClearance,
    Location,
    Lot,
    LotKind,
    LotUse,
    Measurand,
)
from brewlog.science.carbonation import alcohol_from_carbonation
from brewlog.views.access import READ, needs
from brewlog.views.details import FURTHER_LINKS, Link
from brewlog.views.drafts import Draft, draft_of
from brewlog.views.entries import THEN
from brewlog.views.lists import Word
from brewlog.views.reader import Reader, reader_of
from brewlog.views.standing import kept_back
from brewlog.views.today.lines import Line, typed_time

# A bottling may take more than a day; what was filled before that is another one.
_LASTS = dt.timedelta(days=7)
_DONE, _NEXT, _TO_DO = Word("done", "good"), Word("next", "look"), Word("to do")
_IF = Word("if it happens")


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


# The page ------------------------------------------------------------------------------------


@require_safe
@needs(READ)
def bottling_day(request: BreweryRequest) -> HttpResponse:
    """The day of the batches named in the address; without any, the batches to choose from."""
    codes = [code for code in request.GET.getlist("batch") if code.strip()]
    batches = [lot.detail for code in codes if (lot := Lot.objects.coded(code))]
    # In one order, so that a form put aside is found again.
    found = sorted({batch for batch in batches if isinstance(batch, Batch)}, key=lambda b: b.pk)
    unknown = [code for code in codes if code.upper() not in {b.code.upper() for b in found}]
    if not found or unknown:
        return _choose(request, unknown)
    here = f"{reverse('bottling-day')}?{urlencode({'batch': [b.code for b in found]}, doseq=True)}"
    day = Day(
        found,
        _filled_from(found),
        here,
        request.user.has_perm(RECORD),
        reader_of(request),
        units_of(request.user),
        draft_of(request, "bottle", here),
    )
    parts = _parts(day)
    _mark_next(parts)
    context = {
        "here": "record",
        "batches": [(batch, beside_bottle(batch, day.units)) for batch in found],
        "blocked": _blocked(found),
        "parts": parts,
        "checks": [line for ask in FURTHER_CHECKS for line in ask([*found, *day.lots])],
        "may_record": day.may_record,
        "caution": BURST_CAUTION,
        "per_volume": f"{alcohol_from_carbonation(1.0):.2f}",
    }
    return render(request, "brewlog/bottling_day.html", context)


def _choose(request: BreweryRequest, unknown: list[str]) -> HttpResponse:
    batches = open_batches().filter(pitched_at__isnull=False)
    context = {
        "here": "record",
        "unknown": unknown,
        "batches": list(batches.select_related("recipe__recipe", "vessel")[:50]),
    }
    return render(request, "brewlog/bottling_day_choose.html", context)


def _blocked(batches: Iterable[Batch]) -> list[tuple[Batch, Word]]:
    held = kept_back()
    return [(batch, word) for batch in batches if (word := held.word(batch))]


def _filled_from(batches: list[Batch]) -> list[BottlingLot]:
    """The lots filled from the batches in these days, in the order they were filled."""
    drawn = LotUse.objects.live().filter(
        source__in=[batch.pk for batch in batches], purpose=LotUse.Purpose.DRINK
    )
    lots = BottlingLot.objects.live().filter(
        pk__in=drawn.values("into"), happened_at__gte=timezone.now() - _LASTS
    )
    return list(lots.select_related("flavour", "format").order_by("happened_at", "pk"))


def _parts(day: Day) -> list[Part]:
    before = Part("Before filling", [_sugar(day), _starter(day), _plan(day), _fill(day)])
    if not day.lots:
        return [before]
    after = Part("After filling", [_reconcile(day, batch) for batch in day.batches])
    return [before, *_lot_parts(day), after]


def _mark_next(parts: list[Part]) -> None:
    """The first step that is not done is the next one."""
    for part in parts:
        for step in part.steps:
            if not step.is_done and step.word is None:
                step.word = _NEXT
                return


# Before filling ------------------------------------------------------------------------------


def _sugar(day: Day) -> Step:
    """Without a Brix nobody knows what pressure the bottles may come to."""
    brix = Checkpoint.objects.live().filter(
        lot__in=[batch.pk for batch in day.batches], measurand=Measurand.BRIX
    )
    newest = {reading.lot_id: reading for reading in brix.order_by("happened_at", "id")}
    step = Step(
        "Read the sugar left, as Brix",
        is_done=len(newest) == len(day.batches),
        caution="It tells what pressure the bottles may come to. Let the sample's gas off first.",
    )
    for batch in day.batches:
        reading = newest.get(batch.pk)
        if reading is not None:
            step.told.append(f"{batch}: {reading.value_text} °Bx, {day.reader.when(reading.when)}.")
        else:
            title = f"Read {batch}" if len(day.batches) > 1 else ""
            step.links += day.form("reading", title, lot=batch.code, measurand=Measurand.BRIX.value)
    if day.lots and not step.is_done:
        step.word = Word("not read", "look")
    return step


def _starter(day: Day) -> Step:
    kept = LotUse.objects.live().filter(
        source__in=[batch.pk for batch in day.batches],
        into__kind=LotKind.CULTURE,
        happened_at__gte=timezone.now() - _LASTS,
    )
    told = [
        f"{use.quantity_text} of {use.source} kept back as {use.into}."
        for use in kept.select_related("source", "into").order_by("id")
    ]
    step = Step(
        "Keep back starter, before flavouring",
        is_done=bool(told),
        told=told,
        caution="Look first: nothing of a mouldy vessel is kept.",
    )
    for batch in day.batches:
        title = f"Keep back starter of {batch}" if len(day.batches) > 1 else ""
        step.links += day.form("keep-back", title, batch=batch.code)
    if day.lots and not told:
        step.word = Word("none kept back")
    return step


def _plan(day: Day) -> Step:
    """Planned counts stand in the form that was put aside, and later with the lots."""
    planned = [f"{lot.planned_count} {lot.describe()}" for lot in day.lots if lot.planned_count]
    aside = _planned_aside(day.draft)
    step = Step("Plan flavours, formats and counts", is_done=bool(planned or aside or day.lots))
    if aside:
        step.told.append(f"Put aside: {', '.join(aside)}.")
    elif planned:
        step.told.append(f"Planned: {', '.join(planned)}.")
    else:
        step.told.append(
            "Choose flavours, formats and packaging lots, press Suggest counts, then Put aside."
        )
    if not day.lots:
        step.links += _bottling_form(day, "Open the plan" if aside else "Make the plan")
    for batch in day.batches:
        address = f"{reverse('calculation', args=['bottling-plan'])}?for-lot={batch.code}"
        step.links.append(Link(f"Work out shares and stocks of {batch}", address))
    return step


def _planned_aside(draft: Draft | None) -> list[str]:
    if draft is None:
        return []
    rows = []
    count = draft.typed.get("outputs-rows", "")
    for number in range(int(count) if count.isdecimal() else 0):
        row = f"outputs-{number}"
        what = [draft.typed.get(f"{row}-{name}", "") for name in ("flavour", "format")]
        if all(what):
            rows.append(f"{draft.typed.get(f'{row}-planned_count') or '?'} {', '.join(what)}")
    return rows


def _fill(day: Day) -> Step:
    told = [f"{lot.made} {lot.describe()} as {lot}{_rejected(lot)}." for lot in day.lots]
    step = Step("Fill, count and record", is_done=bool(day.lots), told=told)
    if day.draft is not None:
        step.told.append(
            f"The form was put aside {day.reader.moment(day.draft.at)} by {day.draft.by}."
        )
    step.links += _bottling_form(day, "Record more bottles" if day.lots else "Write the counts")
    return step


def _rejected(lot: BottlingLot) -> str:
    return f", {lot.rejects} rejected" if lot.rejects else ""


def _bottling_form(day: Day, title: str) -> list[Link]:
    """The bottling form with a row for each batch and what is in its vessel."""
    balances = mass_balances([batch.pk for batch in day.batches])
    given: dict[str, Any] = {"draws-rows": len(day.batches)}
    for number, batch in enumerate(day.batches):
        given[f"draws-{number}-source"] = batch.code
        left = balances[batch.pk].on_hand
        given[f"draws-{number}-quantity"] = day.reader.amount(left, batch.dimension) if left else ""
    if not day.lots:
        given |= _as_last_time(day.batches[0])
    return day.form("bottle", title, **given)


def _as_last_time(batch: Batch) -> dict[str, Any]:
    """The flavours and formats last filled from the recipe together; the counts stay empty."""
    past = PastBottlings(batch).lots
    a_day = dt.timedelta(days=1)
    newest = [lot for lot in past if past[0].happened_at - lot.happened_at < a_day]
    pairs = list(dict.fromkeys((lot.flavour.name, lot.format.name) for lot in reversed(newest)))
    given: dict[str, Any] = {"outputs-rows": len(pairs)} if pairs else {}
    for number, (flavour, format) in enumerate(pairs):
        given |= {f"outputs-{number}-flavour": flavour, f"outputs-{number}-format": format}
    return given


# Of each lot ---------------------------------------------------------------------------------


def _lot_parts(day: Day) -> list[Part]:
    ids = [lot.pk for lot in day.lots]
    clearances = _by_lot(LineClearance.objects.live().filter(lot__in=ids).order_by("happened_at"))
    breakages = _by_lot(Breakage.objects.live().filter(lot__in=ids).order_by("happened_at"))
    readings = _by_lot(
        Checkpoint.objects.live()
        .filter(lot__in=ids, measurand=Measurand.PH)
        .order_by("happened_at")
    )
    standing = stays_of(ids)
    warm = Location.objects.live().filter(kind=Location.Kind.WARM_ROOM, in_use=True).first()
    cold = Location.objects.live().filter(is_cold=True, in_use=True).order_by("id").first()
    further = [ask(day) for ask in FURTHER_STEPS]
    parts = []
    for lot, previous in zip(day.lots, _ran_before(day.lots), strict=True):
        cleared = clearances.get(lot.pk, [])
        steps = [
            _clear(day, lot, previous, cleared),
            *(steps[lot.pk] for steps in further),
            _broke(day, lot, cleared, breakages.get(lot.pk, [])),
            _ph(day, lot, readings.get(lot.pk, [])),
            _rest(day, lot, standing.get(lot.pk, []), warm if _works_on(lot) else cold),
        ]
        parts.append(Part(f"{lot.describe()}: {lot.made}", steps, lot))
    return parts


def _by_lot(events: Iterable[Any]) -> dict[int, list[Any]]:
    found: dict[int, list[Any]] = {}
    for event in events:
        found.setdefault(event.lot_id, []).append(event)
    return found


def _ran_before(lots: list[BottlingLot]) -> list[Lot | None]:
    """What stood on the line before each: the lot before it, for the first the last of all."""
    first = lots[0]
    earlier = BottlingLot.objects.live().filter(
        kind=LotKind.BOTTLING, happened_at__lt=first.happened_at
    )
    last = earlier.order_by("-happened_at", "-pk").first()
    return [last, *lots[:-1]]


def _works_on(lot: BottlingLot) -> bool:
    return lot.carbonation in {BottlingLot.Carbonation.NATURAL, BottlingLot.Carbonation.MIXED}


def _clear(day: Day, lot: BottlingLot, previous: Lot | None, cleared: list[LineClearance]) -> Step:
    step = Step("Line clear of the last flavour", is_done=bool(cleared))
    for each in cleared:
        labels = [
            name
            for name, kept in (("first", each.first_label_kept), ("last", each.last_label_kept))
            if kept
        ]
        kept = f"{' and '.join(labels)} label kept" if labels else "no label kept"
        step.told.append(f"Cleared {day.reader.when(each.when)}, {kept}.")
    if not cleared:
        before = f"Before it ran {previous}. " if previous else ""
        step.told.append(f"{before}Keep the first and the last label.")
    title = "Clear it once more" if cleared else ""
    step.links += day.form("line-clearance", title, lot=lot.code, previous=previous)
    return step


def _broke(
    day: Day, lot: BottlingLot, cleared: list[LineClearance], broken: list[Breakage]
) -> Step:
    """Bottles are set apart back to the last good check the record knows."""
    checks = [each.when for each in (*cleared, *broken)]
    last_good = max(checks, default=lot.when)
    told = [
        f"{each.broken} broke {day.reader.when(each.when)}, {each.set_apart} set apart."
        for each in broken
    ]
    return Step(
        "Glass broke",
        told=[*told, f"Last good check: {day.reader.when(last_good)}."],
        links=day.form("breakage", lot=lot.code, last_good_check_at=typed_time(last_good)),
        word=Word(f"{sum(each.broken for each in broken)} broken", "look") if broken else _IF,
        caution="Stop the line. Gloves and eye protection. Set apart every open bottle near by "
        "and all filled since the last good check.",
    )


def _ph(day: Day, lot: BottlingLot, readings: list[Checkpoint]) -> Step:
    return Step(
        "pH after flavouring",
        is_done=bool(readings),
        told=[f"pH {each.value_text}, {day.reader.when(each.when)}." for each in readings],
        links=day.form("reading", lot=lot.code, measurand=Measurand.PH.value),
    )


def _rest(day: Day, lot: BottlingLot, stays: list[Stay], place: Location | None) -> Step:
    """Into the warm room where the drink makes its gas in the bottle, else into the cold."""
    standing = [stay for stay in stays if stay.until is None]
    placed = [stay for stay in standing if stay.location is not None]
    step = Step(
        "Begin the second ferment, warm" if _works_on(lot) else "Into the cold",
        is_done=bool(placed) and len(placed) == len(standing),
        told=[
            f"{stay.quantity} in {stay.location} since {day.reader.when(stay.since)}."
            for stay in placed
        ],
    )
    if _works_on(lot):
        step.caution = (
            "A closed crate away from people. Open one bottle on the way, chilled, to see what "
            "the gas does. The sparkle adds alcohol."
        )
    there = sum(stay.quantity for stay in standing if stay.location is None)
    step.links += day.form(
        "move", "Move them there", lot=lot.code, quantity=there or "", to_location=place
    )
    step.links += day.form("keep-bottles", lot=lot.code)
    return step


# After filling -------------------------------------------------------------------------------


def _reconcile(day: Day, batch: Batch) -> Step:
    """Planned against filled, the litres nothing explains, and what is left in the vessel."""
    left = mass_balances([batch.pk])[batch.pk].on_hand
    step = Step(f"Where the drink of {batch} went", is_done=not left)
    try:
        answer = against(lot=batch, units=day.units)
    except ValidationError as error:
        step.told += error.messages
    else:
        step.table = answer.first_tables[0]
        step.told += [f"{answer.headline} {answer.verdict.capitalize()}.", *_reasons(day, batch)]
        if day.may_record:
            step.links += _say_why(day.lots)
    query = urlencode({"for-lot": batch.code})
    address = f"{reverse('calculation', args=['plan-actual'])}?{query}"
    if left:
        amount = day.reader.amount(left, batch.dimension)
        step.told.append(f"{amount} left in the vessel by the books: say what became of it.")
        step.links += day.form(
            "adjust", "Write what became of the rest", lot=batch.code, quantity=amount
        )
    step.links.append(Link("Every litre, worked out", address))
    return step


def _reasons(day: Day, batch: Batch) -> list[str]:
    """Losses written down with their reason, and what the lots' notes say."""
    rows = batch.adjustments.live().order_by("happened_at", "id")  # type: ignore[attr-defined]
    lost = [
        f"{day.reader.amount(abs(each.change), batch.dimension)}: {each.get_reason_display()}."
        for each in rows
    ]
    return lost + [f"{lot}: {lot.note}" for lot in day.lots if lot.note]


def _say_why(lots: Iterable[BottlingLot]) -> list[Link]:
    """Why it differs from the plan is said in the note of each lot."""
    return [
        Link(
            f"Say why in the note of {lot}",
            reverse("record-correct", args=["bottlinglot", lot.pk]),
        )
        for lot in lots
        if not lot.note and lot.planned_count not in (None, (lot.made or 0) + lot.rejects)
    ]


def bottling_day_link(request: HttpRequest, batch: Any) -> Link | None:
    """From the page of a batch with starter in it."""
    if batch.pitched_at is None or not request.user.has_perm(RECORD):
        return None
    return Link("Bottling day", f"{reverse('bottling-day')}?{urlencode({'batch': batch.code})}")


FURTHER_LINKS.setdefault(Batch, []).append(bottling_day_link)
