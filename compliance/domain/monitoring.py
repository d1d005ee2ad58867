"""Which control points of the plan a record serves, and what was recorded for each of them.

A step of a plan refers to a limit, and the limit says what it is about: a measurand at a
stage of a kind of lot, a step of the work, a look at a culture, a cold place.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from brewlog.models import Checkpoint, ConditionCheck, LabResult, Measurand, ProcessStep
from brewlog.when import When
from compliance.assessment.facts import LotRecord
from compliance.assessment.judging import labs_of, readings_of
from compliance.decision import meets
from compliance.domain.plans import all_in_force
from compliance.models import Limit, LimitKind, PlanStep

Record = Checkpoint | LabResult | ProcessStep | ConditionCheck
# Limits that each reading of what they are about speaks to.
_OF_READINGS = {
    LimitKind.VALUE,
    LimitKind.BY_DEADLINE,
    LimitKind.PEAK,
    LimitKind.SHELF_LIFE,
    LimitKind.PRESENCE,
    LimitKind.TREND,
    LimitKind.CALIBRATION,
    LimitKind.SAMPLE_TEMPERATURE,
    LimitKind.INSTRUMENT,
    LimitKind.LAB_AGE,
}
# Of these a single value is inside or outside; the others need more than one record.
_ONE_VALUE_TELLS = {
    LimitKind.VALUE,
    LimitKind.PEAK,
    LimitKind.SHELF_LIFE,
    LimitKind.PLACE_TEMPERATURE,
    LimitKind.STEP_TEMPERATURE,
}


def is_recorded(limit: Limit) -> bool:
    """Whether there are records of what the limit is about; else it is worked out."""
    return limit.kind in {
        *_OF_READINGS,
        LimitKind.STEP_TEMPERATURE,
        LimitKind.PLACE_TEMPERATURE,
        LimitKind.CONDITION,
    }


def serves(record: Record, limit: Limit) -> bool:
    """Whether a record is of what the limit is about."""
    lot = record.lot
    if lot is None:
        return _of_a_cold_place(record, limit)
    if limit.lot_kind and lot.kind != limit.lot_kind:
        return False
    if isinstance(record, ProcessStep):
        return limit.kind == LimitKind.STEP_TEMPERATURE and record.kind == limit.step
    if isinstance(record, ConditionCheck):
        return limit.kind == LimitKind.CONDITION
    if limit.kind not in _OF_READINGS:
        return False
    if isinstance(record, LabResult):
        return bool(labs_of(limit, LotRecord(lot, None, labs=[record])))
    return bool(readings_of(limit, LotRecord(lot, None, readings=[record])))


def _of_a_cold_place(record: Any, limit: Limit) -> bool:
    return (
        limit.kind == LimitKind.PLACE_TEMPERATURE
        and record.measurand == Measurand.TEMPERATURE
        and record.location.is_cold
    )


def control_points_for(record: Record) -> list[PlanStep]:
    """The steps, of the plan versions in force when it was recorded, that the record serves."""
    versions = all_in_force(record.when)
    steps = PlanStep.objects.live().filter(version__in=versions, limit__isnull=False)
    rows = steps.select_related("limit__ruleset", "version__plan").order_by("version", "order")
    return [step for step in rows if step.limit and serves(record, step.limit)]


@dataclass(frozen=True)
class Monitored:
    """What was recorded for one step in a time: how often, when last, how often past the limit.

    `outside` is None where one record by itself is neither inside nor outside.
    """

    step: PlanStep
    count: int
    last: Record | None
    outside: int | None

    @property
    def is_recorded(self) -> bool:
        return self.step.limit is not None and is_recorded(self.step.limit)


def monitored(steps: Sequence[PlanStep], since: When, until: When) -> list[Monitored]:
    """What was recorded for each step within a time, in four queries however many steps."""
    records = [record for rows in _SOURCES for record in rows(since.at, until.ends)]
    return [_of_step(step, records) for step in steps]


def _of_step(step: PlanStep, records: list[Record]) -> Monitored:
    limit = step.limit
    if limit is None:
        return Monitored(step, 0, None, None)
    serving = [record for record in records if serves(record, limit)]
    last = max(serving, key=lambda record: (record.happened_at, record.pk), default=None)
    return Monitored(step, len(serving), last, _outside(limit, serving))


def _outside(limit: Limit, serving: list[Record]) -> int | None:
    if limit.kind == LimitKind.CONDITION:
        return sum(
            isinstance(record, ConditionCheck) and record.mould == ConditionCheck.Mould.MOULD
            for record in serving
        )
    if limit.kind not in _ONE_VALUE_TELLS or limit.value is None:
        return None
    values = [_value(record) for record in serving]
    return sum(value is not None and not meets(value, limit.sign, limit.value) for value in values)


def _value(record: Any) -> Any:
    return record.temperature if isinstance(record, ProcessStep) else record.value


def _rows_of(model: Any, *links: str) -> Callable[[dt.datetime, dt.datetime], list[Any]]:
    def rows(since: dt.datetime, until: dt.datetime) -> list[Any]:
        live = model.objects.live().filter(happened_at__gte=since, happened_at__lt=until)
        return list(live.select_related("lot", *links).order_by("id"))

    return rows


_SOURCES = (
    _rows_of(Checkpoint, "location"),
    _rows_of(LabResult),
    _rows_of(ProcessStep),
    _rows_of(ConditionCheck),
)
