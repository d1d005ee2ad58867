"""What a bottling day is told of labels, and of the checks that limits wait for."""

from __future__ import annotations

from django.db.models import Sum
from django.urls import reverse
from django.utils.http import urlencode

from brewlog.models import Lot
from brewlog.views.bottling_day.day import Day, Step
from brewlog.views.details import Link
from brewlog.views.today.lines import Line
from compliance.assessment import assess
from compliance.models import Binding, Labelled, LabelRun
from compliance.views.today import awaited_line


def next_checks(lots: list[Lot]) -> list[Line]:
    """What limits wait for of the batches and of what was filled from them."""
    if not Binding.objects.live().exists():
        return []
    return [awaited_line(each) for each in assess(lots).awaited]


def label_steps(day: Day) -> dict[int, Step]:
    """For each lot its labels: how many were printed, and where they are printed."""
    runs = LabelRun.objects.live().filter(
        lot__in=[lot.pk for lot in day.lots], what=Labelled.BOTTLE
    )
    printed = dict(runs.order_by().values_list("lot").annotate(Sum("count")))
    steps = {}
    for lot in day.lots:
        there = printed.get(lot.pk, 0)
        missing = max(0, (lot.made or 0) - there)
        step = Step("Labels", is_done=not missing, told=[f"{there} printed."] if there else [])
        step.links.append(Link("Labels", reverse("lot-labels", args=[lot.code])))
        if day.may_record and missing:
            # Not back here at once: the labels to print stand on their own page.
            query = urlencode({"lot": lot.code, "count": missing})
            address = f"{reverse('entry', args=['print-labels'])}?{query}"
            step.links.insert(0, Link("Print labels", address))
        steps[lot.pk] = step
    return steps
