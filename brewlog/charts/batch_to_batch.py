"""One value of every batch of a recipe, at the same point of the work, as a control chart.

Nothing is held by it: it says when batches are not what they were, and leaves why to people.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

from brewlog.calculations.base import METRIC, Units
from brewlog.charts.courses import LIMITS_OF, CourseLimit
from brewlog.charts.plot import Curve, LimitLine, Mark, Plot, Point
from brewlog.charts.scales import Axis
from brewlog.domain.stages import pitched
from brewlog.ledger import ids_in
from brewlog.models import Batch, Checkpoint, LabResult, LotUse, Measurand, Stage
from brewlog.science.control_charts import FEWEST, ControlChart, Sign, Signal, control_chart
from brewlog.science.errors import OutOfRange
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
    What("ph-pitch", "pH after adding starter", "pH",
         "The first pH read after starter was added.", partial(_first_at_pitching, Measurand.PH)),
    What("warmth-pitch", "Warmth after adding starter", "°C",
         "The first temperature read after starter was added.",
         partial(_first_at_pitching, Measurand.TEMPERATURE), places=1),
    What("ph-second-day", "pH on the second day", "pH",
         "The pH read nearest to 48 hours after starter was added, between 42 and 54 hours.",
         _second_day),
    What("ph-end", "pH at the end of the ferment", "pH",
         "The last pH read while it fermented, before it was bottled.",
         partial(_last_fermenting, Measurand.PH)),
    What("sugar-end", "Sugar at the end of the ferment, by Brix", "°Bx",
         "The last Brix read while it fermented, before it was bottled.",
         partial(_last_fermenting, Measurand.BRIX), places=1),
    What("acid-end", "Total acidity at the end of the ferment", "g/L as acetic",
         "The last total acidity read while it fermented, before it was bottled.",
         partial(_last_fermenting, Measurand.TOTAL_ACIDITY)),
    What("alcohol", "Alcohol by a laboratory", "% vol",
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
            "ph-deadline",
            f"pH when it was due, {days:g} days after adding starter",
            "pH",
            f"The last pH read by then. The {limit.words}.",
            partial(_by_deadline, limit.within_hours),
        ),
        What(
            "hours-to-limit",
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


def series_of(what: What, batches: Sequence[Batch], units: Units = METRIC) -> Series:
    """The value of each batch. Three queries, however many."""
    values: list[BatchValue] = []
    missing: dict[str, list[Batch]] = defaultdict(list)
    in_fahrenheit = what.unit == "°C" and units.us
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


# The chart -------------------------------------------------------------------------------


@dataclass(frozen=True)
class Charts:
    """The values and the steps between them, with what tells of a change; or why there is none.

    `told[n]` has the signs met at the value n, in words.
    """

    values: Plot | None
    ranges: Plot | None
    told: tuple[tuple[str, ...], ...]
    found: ControlChart | None = None
    why_none: str = ""


# Words along a mean would stand on the values, which go to and fro across it.
_VALUES_KEY = (
    "Dashed: the mean, {mean}, and how far up and down is usual. Ringed: where a rule tells of a "
    "change."
)
_RANGES_KEY = "Each step to the next batch. Dashed: the mean, {mean}, and how far is usual."
WIDE_STEP = "a wider step than usual from the batch before"


def charts_of(series: Series) -> Charts:
    """The two charts; without them while there are too few values, or none differs."""
    blank = tuple(() for _ in series.values)
    if series.lacking:
        have = len(series.values)
        words = (
            f"{have} of {FEWEST} batches that limits can be drawn from have it: "
            f"{series.lacking} more."
        )
        return Charts(None, None, blank, why_none=words)
    try:
        found = control_chart([each.value for each in series.values])
    except OutOfRange:
        return Charts(None, None, blank, why_none="All values are alike: no limits can be drawn.")
    return Charts(
        _values_plot(series, found), _ranges_plot(series, found), _told(series, found), found
    )


# How each sign is told on the picture: met above the mean or rising, below it or falling.
_SIGN_WORDS = {
    Sign.BEYOND: ("above the usual", "below the usual"),
    Sign.TWO_OF_THREE: ("2 of 3 far above the mean", "2 of 3 far below the mean"),
    Sign.FOUR_OF_FIVE: ("4 of 5 well above the mean", "4 of 5 well below the mean"),
    Sign.EIGHT: ("8 in a row above the mean", "8 in a row below the mean"),
    Sign.SIX: ("6 in a row rising", "6 in a row falling"),
}


def _words_of(signal: Signal) -> str:
    above, below = _SIGN_WORDS[signal.sign]
    return above if signal.is_high else below


def _told(series: Series, found: ControlChart) -> tuple[tuple[str, ...], ...]:
    told: list[list[str]] = [[] for _ in series.values]
    for signal in found.signals:
        for at in range(signal.first, signal.last + 1):
            told[at].append(_words_of(signal))
    for at in found.wide_ranges:
        told[at + 1].append(WIDE_STEP)
    return tuple(map(tuple, told))


def _values_plot(series: Series, found: ControlChart) -> Plot:
    ringed = {at for each in found.signals for at in range(each.first, each.last + 1)}
    points = tuple(
        Point(at + 1, each.value, each.batch.code, each.words, is_ringed=at in ringed)
        for at, each in enumerate(series.values)
    )
    marks = tuple(
        Mark(each.first + 1, _words_of(each), points[each.first].when) for each in found.signals
    )
    plot = _plot(series, series.what.title, points, marks, 6 * found.sigma)
    lines = [_line(series, "usual up to", found.upper), LimitLine(found.mean, "", binds=False)]
    # None of these is ever less than nothing.
    if found.lower > 0:
        lines.append(_line(series, "usual down to", found.lower))
    key = _VALUES_KEY.format(mean=_figure(series, found.mean))
    return replace(plot, limits=tuple(lines), key=key)


def _ranges_plot(series: Series, found: ControlChart) -> Plot:
    wide = set(found.wide_ranges)
    points = tuple(
        Point(
            at + 2,
            each,
            series.values[at + 1].batch.code,
            _figure(series, each),
            is_ringed=at in wide,
        )
        for at, each in enumerate(found.ranges)
    )
    marks = tuple(Mark(at + 2, "wider than usual", points[at].when) for at in sorted(wide))
    plot = _plot(series, "From one batch to the next", points, marks, found.upper_range)
    lines = (
        _line(series, "usual up to", found.upper_range),
        LimitLine(found.mean_range, "", binds=False),
    )
    key = _RANGES_KEY.format(mean=_figure(series, found.mean_range))
    return replace(plot, limits=lines, key=key, from_nothing=True)


def _figure(series: Series, value: float) -> str:
    """With one more decimal than it is read with."""
    return f"{value:.{series.what.places + 1}f}"


def _line(series: Series, words: str, value: float) -> LimitLine:
    return LimitLine(value, f"{words} {_figure(series, value)}", binds=False)


def _plot(
    series: Series, title: str, points: tuple[Point, ...], marks: tuple[Mark, ...], height: float
) -> Plot:
    first, last = series.values[0].batch.code, series.values[-1].batch.code
    return Plot(
        title,
        series.unit,
        f"batches in order, {first} to {last}",
        (Curve(title, points),),
        axis=Axis.NUMBERS,
        marks=marks,
        least_height=height,
    )
