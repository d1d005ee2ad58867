"""When a hazard plan is due to be looked at again, and why.

After 21 CFR 117.170 (from memory): at least every three years; when what is made changes in a
way that matters; when something went wrong that nobody had thought of.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils import timezone

from brewlog.models import RecipeVersion
from compliance.domain.plans import A_MINUTE, plans_with_versions
from compliance.models import CorrectiveAction, Deviation, HazardPlan, PlanVersion, Reanalysis

YEARS = 3


@dataclass(frozen=True)
class Due:
    """A reason to look at the plan again, and since when it has been one."""

    text: str
    since: dt.date


@dataclass(frozen=True)
class Standing:
    """A plan's version in force, when it was last looked at, by when it must be again at the
    latest, and what asks for it already. All but `due` are None while nothing is signed."""

    version: PlanVersion | None = None
    looked_at: dt.datetime | None = None
    latest: dt.date | None = None
    due: tuple[Due, ...] = ()


def standings(plans: Iterable[HazardPlan], today: dt.date | None = None) -> dict[int, Standing]:
    """How each plan stands, by its id, in six queries however many there are."""
    day = today or timezone.localdate()
    wanted = [plan.pk for plan in plans]
    looks: dict[int, list[dt.datetime]] = defaultdict(list)
    seen = Reanalysis.objects.live().filter(version__plan__in=wanted)
    for plan_id, moment in seen.values_list("version__plan", "happened_at"):
        # What happened in the same minute had been seen.
        looks[plan_id].append(moment + A_MINUTE)
    approvals = _approvals()
    surprises = _surprises()
    found = {}
    for plan in plans_with_versions().filter(pk__in=wanted):
        found[plan.pk] = _standing(plan, looks[plan.pk], approvals, surprises, day)
    return found


def _standing(
    plan: Any,
    looks: list[dt.datetime],
    approvals: Sequence[tuple[str, dt.datetime]],
    surprises: Sequence[tuple[str, dt.datetime]],
    today: dt.date,
) -> Standing:
    if not plan.signed:
        return Standing()
    version = plan.signed[0]
    looked_at = max([version.signature.signed_at, *looks])
    latest = _years_after(_day(looked_at), YEARS)
    if version.reanalyse_by is not None and _day(looked_at) < version.reanalyse_by < latest:
        latest = version.reanalyse_by
    due = [
        *(
            Due(f"{title}, {timezone.localtime(moment):%Y-%m-%d}", _day(moment))
            for title, moment in (*approvals, *surprises)
            if moment > looked_at and _day(moment) <= today
        )
    ]
    if today >= latest:
        since = _day(looked_at)
        due.insert(0, Due(f"It was last looked at on {since}, and is due by {latest}", latest))
    return Standing(version, looked_at, latest, tuple(due))


def _approvals() -> list[tuple[str, dt.datetime]]:
    """Recipe versions by when they were approved."""
    rows = RecipeVersion.objects.live().filter(approved_at__isnull=False)
    return [
        (f"Recipe version {each} was approved since", each.approved_at)
        for each in rows.select_related("recipe").order_by("approved_at", "id")
        if each.approved_at is not None
    ]


def _surprises() -> list[tuple[str, dt.datetime]]:
    """Deviations nobody had thought of, unless their signed correction says that the plan was
    looked at again over them."""
    answered = CorrectiveAction.objects.live().filter(plan_reanalysed=True, signature__isnull=False)
    rows = (
        Deviation.objects.live()
        .filter(kind=Deviation.Kind.UNANTICIPATED)
        .exclude(pk__in=answered.values("deviation"))
    )
    return [
        (f"Nobody had thought of this: {each}", each.happened_at)
        for each in rows.order_by("happened_at", "id")
    ]


def _day(moment: dt.datetime) -> dt.date:
    return timezone.localtime(moment).date()


def _years_after(day: dt.date, years: int) -> dt.date:
    """The same day some years on; the last of February where there is no 29th."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return day.replace(year=day.year + years, day=28)
