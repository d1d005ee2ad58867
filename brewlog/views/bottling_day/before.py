"""Before filling: the sugar read, starter kept back, the plan, and the filling itself."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.urls import reverse
from django.utils import timezone

from brewlog.calculations.past_bottlings import PastBottlings
from brewlog.ledger import mass_balances
from brewlog.models import (
    Batch,
    BottlingLot,
    Checkpoint,
    LotKind,
    LotUse,
    Measurand,
)
from brewlog.views.bottling_day.day import LASTS, Day, Step
from brewlog.views.details import Link
from brewlog.views.drafts import Draft
from brewlog.views.lists import Word


def sugar_step(day: Day) -> Step:
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


def starter_step(day: Day) -> Step:
    kept = LotUse.objects.live().filter(
        source__in=[batch.pk for batch in day.batches],
        into__kind=LotKind.CULTURE,
        happened_at__gte=timezone.now() - LASTS,
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


def plan_step(day: Day) -> Step:
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


def fill_step(day: Day) -> Step:
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
