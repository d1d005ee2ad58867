"""One value of every batch of a recipe, at the same point of the work."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import partial

from brewlog.domain.course_limits import LIMITS_OF, CourseLimit
from brewlog.domain.stages import pitched
from brewlog.ledger import ids_in
from brewlog.models import Batch, BatchFigure, Checkpoint, LabResult, LotUse, Measurand, Stage
from brewlog.science.control_charts import FEWEST
from brewlog.when import Precision, When

# The newest batches of a recipe that are looked at.
MOST_BATCHES = 60
_HOUR = dt.timedelta(hours=1)
# A reading belongs to the second day between these hours after starter was added.
_SECOND_DAY = (42.0, 48.0, 54.0)

NO_READING = "not read"
TO_THE_DAY = "its time is known only to the day"
NOT_BOTTLED = "not bottled yet"


@dataclass(frozen=True)
class BatchValue:
    """The value of one batch: when it was read, as it was written, and as a number."""

    batch: Batch
    when: When
    words: str
    value: float


@dataclass
class Ferment:
    """What is known of a batch: its readings by time, when it was bottled, laboratory results."""

    batch: Batch
    readings: list[Checkpoint] = field(default_factory=list)
    bottled: When | None = None
    results: list[LabResult] = field(default_factory=list)

    @property
    def started(self) -> When:
        found = pitched(self.batch)
        assert found is not None
        return found

    def hours(self, reading: Checkpoint) -> float | None:
        """From starter to the reading; None where either is known only to the day."""
        if Precision.DAY in {self.started.precision, reading.when.precision}:
            return None
        return (reading.happened_at - self.started.at) / _HOUR

    def at_stage(self, measurand: Measurand, *stages: Stage) -> list[Checkpoint]:
        return [r for r in self.readings if r.measurand == measurand and r.stage in stages]


Found = Checkpoint | LabResult | tuple[Checkpoint, float] | str


@dataclass(frozen=True)
class What:
    """A value that every batch has once. `find` gives it, or says why there is none."""

    slug: str
    title: str
    unit: str
    told: str
    find: Callable[[Ferment], Found]
    places: int = 2


def _first_at_pitching(measurand: Measurand, ferment: Ferment) -> Found:
    return next(iter(ferment.at_stage(measurand, Stage.PITCH)), NO_READING)


def _second_day(ferment: Ferment) -> Found:
    low, middle, high = _SECOND_DAY
    timed = _timed(ferment)
    if timed is None:
        return TO_THE_DAY
    near = [(abs(hours - middle), each.pk, each) for each, hours in timed if low <= hours <= high]
    return min(near)[2] if near else NO_READING


def _timed(ferment: Ferment) -> list[tuple[Checkpoint, float]] | None:
    """The pH readings since starter with their hours; None where they are known to the day only."""
    read = [each for each in ferment.readings if each.measurand == Measurand.PH]
    timed = [(each, hours) for each in read if (hours := ferment.hours(each)) is not None]
    return None if read and not timed else [each for each in timed if each[1] >= 0]


def _last_fermenting(measurand: Measurand, ferment: Ferment) -> Found:
    if ferment.bottled is None:
        return NOT_BOTTLED
    read = [
        each
        for each in ferment.at_stage(measurand, Stage.FERMENT)
        if not ferment.bottled.provably_before(each.when)
    ]
    return read[-1] if read else NO_READING


def _by_deadline(hours_allowed: float, ferment: Ferment) -> Found:
    timed = _timed(ferment)
    if timed is None:
        return TO_THE_DAY
    read = [each for each, hours in timed if hours <= hours_allowed]
    return read[-1] if read else NO_READING


def _hours_to(value: float, ferment: Ferment) -> Found:
    timed = _timed(ferment)
    if timed is None:
        return TO_THE_DAY
    low = ((each, hours) for each, hours in timed if float(each.value) <= value)
    return next(low, "never read so low")


def _highest_result(ferment: Ferment) -> Found:
    if not ferment.results:
        return "no laboratory result"
    return max(ferment.results, key=lambda each: (each.value, each.pk))


_ALWAYS = (
    What(BatchFigure.PH_PITCH, "pH after adding starter", "pH",
         "The first pH read after starter was added.", partial(_first_at_pitching, Measurand.PH)),
    What(BatchFigure.WARMTH_PITCH, "Warmth after adding starter", "°C",
         "The first temperature read after starter was added.",
         partial(_first_at_pitching, Measurand.TEMPERATURE), places=1),
    What(BatchFigure.PH_SECOND_DAY, "pH on the second day", "pH",
         "The pH read nearest to 48 hours after starter was added, between 42 and 54 hours.",
         _second_day),
    What(BatchFigure.PH_END, "pH at the end of the ferment", "pH",
         "The last pH read while it fermented, before it was bottled.",
         partial(_last_fermenting, Measurand.PH)),
    What(BatchFigure.SUGAR_END, "Sugar at the end of the ferment, by Brix", "°Bx",
         "The last Brix read while it fermented, before it was bottled.",
         partial(_last_fermenting, Measurand.BRIX), places=1),
    What(BatchFigure.ACID_END, "Total acidity at the end of the ferment", "g/L as acetic",
         "The last total acidity read while it fermented, before it was bottled.",
         partial(_last_fermenting, Measurand.TOTAL_ACIDITY)),
    What(BatchFigure.ALCOHOL, "Alcohol by a laboratory", "% vol",
         "The highest laboratory result of the batch and of the bottles filled from it.",
         _highest_result),
)  # fmt: skip


def offered(newest: Batch | None) -> tuple[What, ...]:
    """What can be asked; where a pH is due by a deadline, what became of that too."""
    limits = [] if newest is None else [each for ask in LIMITS_OF for each in ask(newest)]
    due = [each for each in limits if each.measurand == Measurand.PH and each.within_hours]
    return (*_ALWAYS, *(_of_deadline(min(due, key=_strictness)) if due else ()))


def _strictness(limit: CourseLimit) -> tuple[float, float]:
    assert limit.within_hours is not None
    return limit.within_hours, limit.value


def _of_deadline(limit: CourseLimit) -> tuple[What, What]:
    assert limit.within_hours is not None
    days = limit.within_hours / 24
    return (
        What(
            BatchFigure.PH_DEADLINE,
            f"pH when it was due, {days:g} days after adding starter",
            "pH",
            f"The last pH read by then. The {limit.words}.",
            partial(_by_deadline, limit.within_hours),
        ),
        What(
            BatchFigure.HOURS_TO_LIMIT,
            f"Hours until pH {limit.value:g} or less was read",
            "hours",
            f"From adding starter to the first reading of pH {limit.value:g} or less. It fell to "
            "that some time since the reading before.",
            partial(_hours_to, limit.value),
            places=0,
        ),
    )


# From the records ------------------------------------------------------------------------


@dataclass(frozen=True)
class Series:
    """The values of a recipe's newest batches in the order starter was added, and the batches
    that have none, with why."""

    what: What
    unit: str
    values: tuple[BatchValue, ...]
    missing: dict[str, list[Batch]]

    @property
    def lacking(self) -> int:
        """How many more values a chart needs."""
        return max(0, FEWEST - len(self.values))


def newest_batches(recipe_id: int, vessel_id: int | None = None) -> list[Batch]:
    """The newest batches of any version of a recipe, the oldest of them first."""
    rows = Batch.objects.live().filter(recipe__recipe=recipe_id, pitched_at__isnull=False)
    if vessel_id is not None:
        rows = rows.filter(vessel=vessel_id)
    newest = rows.select_related("vessel").order_by("-pitched_at", "-pk")
    return list(newest[:MOST_BATCHES])[::-1]


def series_of(what: What, batches: Sequence[Batch], *, in_us: bool = False) -> Series:
    """The value of each batch, degrees in Fahrenheit for who reads them so. Three queries,
    however many."""
    values: list[BatchValue] = []
    missing: dict[str, list[Batch]] = defaultdict(list)
    in_fahrenheit = what.unit == "°C" and in_us
    for ferment in _ferments(batches):
        found = what.find(ferment)
        if isinstance(found, str):
            missing[found].append(ferment.batch)
        else:
            values.append(_value(ferment.batch, found, in_fahrenheit))
    return Series(what, "°F" if in_fahrenheit else what.unit, tuple(values), dict(missing))


def _value(batch: Batch, found: Checkpoint | LabResult | tuple, in_fahrenheit: bool) -> BatchValue:
    if isinstance(found, tuple):
        reading, hours = found
        return BatchValue(batch, reading.when, f"{hours:.0f}", hours)
    value = float(found.value)
    if in_fahrenheit:
        value = value * 9 / 5 + 32
    return BatchValue(batch, found.when, found.value_text, value)


def _ferments(batches: Iterable[Batch]) -> list[Ferment]:
    found = {batch.pk: Ferment(batch) for batch in batches}
    readings = Checkpoint.objects.live().filter(lot__in=ids_in(found))
    for reading in readings.order_by("happened_at", "replicate", "id"):
        found[reading.lot_id].readings.append(reading)  # type: ignore[index]
    batch_of: dict[int, set[int]] = {pk: {pk} for pk in found}
    uses = LotUse.objects.live().filter(source__in=ids_in(found), purpose=LotUse.Purpose.DRINK)
    for use in uses.order_by("happened_at", "id"):
        ferment = found[use.source_id]
        ferment.bottled = ferment.bottled or use.when
        batch_of.setdefault(use.into_id, set()).add(use.source_id)
    results = LabResult.objects.live().filter(lot__in=ids_in(batch_of), measurand=Measurand.ALCOHOL)
    for result in results.order_by("happened_at", "id"):
        for pk in batch_of[result.lot_id]:
            found[pk].results.append(result)
    return list(found.values())
