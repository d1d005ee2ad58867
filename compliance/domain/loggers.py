"""What a temperature logger saw in a place: gaps, excursions above a limit, and what is kept.

A logger writes far more than anyone reads. One reading for each so many minutes is recorded,
and of every excursion its first, its warmest and the first one back, so that nothing that
matters is thinned away.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from statistics import median

from django.utils import timezone

from brewlog.domain.checkpoints import record_reading
from brewlog.domain.looking import look_at
from brewlog.domain.places import Stood, stood_in
from brewlog.importing.loggers import Sample
from brewlog.models import Checkpoint, Instrument, Location, Lot, Measurand, User
from brewlog.recording import recording
from brewlog.when import When
from compliance.decision import Operator, meets
from compliance.domain.rulesets import in_force, is_tighter
from compliance.models import Limit, LimitKind

# Half a step late is a slow clock; a whole sample missing is a gap.
_LATE = 1.5


@dataclass(frozen=True)
class Ceiling:
    """What the place has to stay under: the sign of the limit, °C, and where it comes from."""

    operator: Operator
    celsius: Decimal
    source: str

    @property
    def words(self) -> str:
        return f"{self.operator.sign} {self.celsius.normalize():f} °C"

    def is_passed_by(self, sample: Sample) -> bool:
        return not meets(sample.celsius, self.operator, self.celsius)


@dataclass(frozen=True)
class Gap:
    """A time without samples, longer than the logger's usual step."""

    since: dt.datetime
    until: dt.datetime

    @property
    def minutes(self) -> int:
        return _minutes(self.until - self.since)


@dataclass(frozen=True)
class Excursion:
    """From the first sample above the limit to the first one back; to the last one there is
    where it has not come back (`is_open`). Over a gap between two samples above, it went on."""

    since: dt.datetime
    until: dt.datetime
    highest: Sample
    is_open: bool
    has_gap: bool

    @property
    def minutes(self) -> int:
        return _minutes(self.until - self.since)


@dataclass(frozen=True)
class Seen:
    """What a row of samples shows."""

    samples: Sequence[Sample]
    step: dt.timedelta | None
    gaps: tuple[Gap, ...] = ()
    excursions: tuple[Excursion, ...] = ()

    @property
    def lowest(self) -> Sample:
        return min(self.samples, key=lambda each: each.celsius)

    @property
    def highest(self) -> Sample:
        return max(self.samples, key=lambda each: each.celsius)


def _minutes(duration: dt.timedelta) -> int:
    return round(duration.total_seconds() / 60)


def ceiling_of(location: Location, day: dt.date | None = None) -> Ceiling | None:
    """The tightest limit in force for the temperature of a place that is kept cold; None for
    other places, and where no such limit binds."""
    if not location.is_cold:
        return None
    tightest: Limit | None = None
    for limit in in_force(day or timezone.localdate()):
        if limit.kind != LimitKind.PLACE_TEMPERATURE or limit.value is None:
            continue
        if limit.sign.is_upper and (tightest is None or is_tighter(limit, tightest)):
            tightest = limit
    if tightest is None or tightest.value is None:
        return None
    return Ceiling(tightest.sign, tightest.value, f"{tightest.title}, {tightest.citation}")


def own_ceiling(celsius: Decimal) -> Ceiling:
    """A limit that someone wrote for this look only."""
    return Ceiling(Operator.AT_MOST, celsius, "written for this file")


def see(samples: Sequence[Sample], ceiling: Ceiling | None) -> Seen:
    """What samples, in the order of time, show."""
    step = usual_step(samples)
    excursions = _excursions(samples, ceiling, step) if ceiling else []
    return Seen(samples, step, tuple(_gaps(samples, step)), tuple(excursions))


def usual_step(samples: Sequence[Sample]) -> dt.timedelta | None:
    """The time that usually lies between two samples: the median; None below two of them."""
    between = [
        (later.at - earlier.at).total_seconds()
        for earlier, later in zip(samples, samples[1:], strict=False)
    ]
    return dt.timedelta(seconds=median(between)) if between else None


def _is_gap(earlier: Sample, later: Sample, step: dt.timedelta | None) -> bool:
    return step is not None and later.at - earlier.at > step * _LATE


def _gaps(samples: Sequence[Sample], step: dt.timedelta | None) -> list[Gap]:
    return [
        Gap(earlier.at, later.at)
        for earlier, later in zip(samples, samples[1:], strict=False)
        if _is_gap(earlier, later, step)
    ]


def _excursions(
    samples: Sequence[Sample], ceiling: Ceiling, step: dt.timedelta | None
) -> list[Excursion]:
    found: list[Excursion] = []
    above: list[Sample] = []
    for sample in samples:
        if ceiling.is_passed_by(sample):
            above.append(sample)
        elif above:
            found.append(_excursion(above, sample, step))
            above = []
    if above:
        found.append(_excursion(above, None, step))
    return found


def _excursion(above: list[Sample], back: Sample | None, step: dt.timedelta | None) -> Excursion:
    whole = [*above, back] if back else above
    return Excursion(
        since=above[0].at,
        until=whole[-1].at,
        highest=max(above, key=lambda each: each.celsius),
        is_open=back is None,
        has_gap=any(
            _is_gap(earlier, later, step) for earlier, later in zip(whole, whole[1:], strict=False)
        ),
    )


# Keeping ---------------------------------------------------------------------------------


@dataclass
class Thinned:
    """The samples to be recorded, and how many are left out or stand there already."""

    keep: list[Sample] = field(default_factory=list)
    left_out: int = 0
    already: int = 0


def thin(seen: Seen, every_minutes: int, recorded: Iterable[dt.datetime] = ()) -> Thinned:
    """The first sample of each so many minutes, where nothing is recorded in them yet, and the
    first, the warmest and the first one back of every excursion."""
    there = set(recorded)
    filled = {_slot(at, every_minutes) for at in there}
    telling = {
        at
        for each in seen.excursions
        for at in (each.since, each.highest.at, *(() if each.is_open else (each.until,)))
    }
    found = Thinned()
    for sample in seen.samples:
        slot = _slot(sample.at, every_minutes)
        if sample.at in there:
            found.already += 1
        elif sample.at in telling or slot not in filled:
            found.keep.append(sample)
        else:
            found.left_out += 1
        filled.add(slot)
    return found


def _slot(at: dt.datetime, every_minutes: int) -> int:
    return int(at.timestamp()) // (every_minutes * 60)


def recorded_at(
    location: Location, instrument: Instrument | None, samples: Sequence[Sample]
) -> list[dt.datetime]:
    """When that instrument's temperatures of the place are recorded already, over the time of
    the samples. Voided ones count: what was struck out does not come back."""
    rows = Checkpoint.objects.filter(
        location=location,
        instrument=instrument,
        measurand=Measurand.TEMPERATURE,
        # Slots reach a day back at most.
        happened_at__gte=samples[0].at - dt.timedelta(days=1),
        happened_at__lte=samples[-1].at,
    )
    return list(rows.values_list("happened_at", flat=True))


@dataclass(frozen=True)
class Kept:
    """What came of recording a file: the readings, the counts, and what was made of it."""

    readings: list[Checkpoint]
    left_out: int
    already: int
    seen: list[str]


def record_samples(
    *,
    actor: User,
    location: Location,
    samples: Sequence[Sample],
    every_minutes: int,
    file_name: str,
    ceiling: Ceiling | None = None,
    instrument: Instrument | None = None,
    reason: str = "",
) -> Kept:
    """Record what is to be kept of a logger's samples as readings of a place.

    The same rows again add nothing. Lots that stood there during an excursion are looked at
    again by whoever judges them. Raises `Refused` for an instrument that reads no temperature.
    """
    found = see(samples, ceiling)
    with recording(actor, reason or f"read from the logger file {file_name}"):
        thinned = thin(found, every_minutes, recorded_at(location, instrument, samples))
        readings = [
            record_reading(
                actor=actor,
                location=location,
                measurand=Measurand.TEMPERATURE,
                value=sample.text,
                when=When(sample.at),
                instrument=instrument,
                replicate=1,
                note=f"logger file {file_name}",
            )
            for sample in thinned.keep
        ]
        words = look_at(actor, _stood_through(location, found)) if readings else []
    return Kept(readings, thinned.left_out, thinned.already, words)


# What stood there ------------------------------------------------------------------------


def recorded_samples(location: Location, since: When, until: When) -> list[Sample]:
    """The recorded temperatures of a place within a time, as samples, by time."""
    rows = Checkpoint.objects.live().filter(
        location=location,
        measurand=Measurand.TEMPERATURE,
        happened_at__gte=since.at,
        happened_at__lt=until.ends,
    )
    told = rows.order_by("happened_at", "id").values_list("happened_at", "value", "value_text")
    return [Sample(*each) for each in told]


def stood_during(
    location: Location, excursions: Sequence[Excursion]
) -> list[tuple[Excursion, list[Stood]]]:
    """What stood in the place during each excursion, longest first, and for how long of it.
    The queries are as many for a hundred excursions as for one."""
    if not excursions:
        return []
    since = min(each.since for each in excursions)
    until = max(each.until for each in excursions)
    stood = stood_in(location, When(since), When(until + dt.timedelta(minutes=1)))
    return [(each, _within(stood, each)) for each in excursions]


def _within(stood: list[Stood], excursion: Excursion) -> list[Stood]:
    # A single reading above lasts no minute, yet what stood there stood in it.
    end = max(excursion.until, excursion.since + dt.timedelta(minutes=1))
    found = []
    for each in stood:
        since = max(each.since, excursion.since)
        until = min(each.until, end)
        if since < until:
            found.append(Stood(each.stay, since, until))
    return sorted(found, key=lambda each: (-each.duration, each.stay.lot.pk))


def _stood_through(location: Location, seen: Seen) -> list[Lot]:
    lots: dict[int, Lot] = {}
    for _, stood in stood_during(location, seen.excursions):
        lots |= {each.stay.lot.pk: each.stay.lot for each in stood}
    return [lots[pk] for pk in sorted(lots)]
