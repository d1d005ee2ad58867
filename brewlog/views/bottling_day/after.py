"""After filling: where the drink went, with the reasons."""

from __future__ import annotations

from collections.abc import Iterable

from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils.http import urlencode

from brewlog.calculations.planned_and_filled import against
from brewlog.ledger import mass_balances
from brewlog.models import (
    Batch,
    BottlingLot,
)
from brewlog.views.bottling_day.day import Day, Step
from brewlog.views.details import Link


def reconcile(day: Day, batch: Batch) -> Step:
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
