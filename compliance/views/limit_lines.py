"""The limits that are drawn across a picture of readings."""

from __future__ import annotations

from collections import defaultdict

from django.utils import timezone

from brewlog.domain.course_limits import CourseLimit
from brewlog.models import Lot
from compliance.domain.rulesets import in_force
from compliance.models import Limit, LimitKind

_DRAWN = (LimitKind.VALUE, LimitKind.PEAK, LimitKind.BY_DEADLINE)


def limit_lines(lot: Lot) -> list[CourseLimit]:
    """The limits on what is read of such a lot, one line for those that say the same."""
    found: dict[tuple, list[Limit]] = defaultdict(list)
    for limit in in_force(timezone.localdate(lot.happened_at)):
        if limit.kind in _DRAWN and limit.value is not None and limit.lot_kind in ("", lot.kind):
            key = limit.measurand, limit.operator, limit.value, limit.within_hours
            found[key].append(limit)
    return [
        CourseLimit(
            measurand,
            float(value),
            _words(limits),
            float(within_hours) if within_hours is not None else None,
        )
        for (measurand, _, value, within_hours), limits in found.items()
    ]


def _words(limits: list[Limit]) -> str:
    """The comparison, by when, and at which stages: `≤ 4.2 pH within 7 days`."""
    first = limits[0]
    words = f"limit {first.comparison}"
    if first.within_hours is not None:
        words += f" within {_span(float(first.within_hours))}"
    stages = dict.fromkeys(limit.get_stage_display() for limit in limits if limit.stage)
    return f"{words}: {'; '.join(stages)}" if stages else words


def _span(hours: float) -> str:
    if hours % 24 == 0:
        return f"{hours / 24:.0f} days" if hours > 24 else "a day"
    return f"{hours:g} h"
