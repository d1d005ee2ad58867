"""The ferment ahead: when it should cross its limits, by its own readings and its recipe's past."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.utils import timezone

from brewlog.calculations import records
from brewlog.calculations.base import (
    Answer,
    Calculation,
    CalculationForm,
    DegreesField,
    Known,
    Table,
    known_lot,
)
from brewlog.forms.fields import ChoiceField, LotField, NumberField
from brewlog.models import Batch, Checkpoint, Lot, LotKind, Measurand
from brewlog.science import curves, fitting
from brewlog.science.curves import Curve
from brewlog.science.errors import OutOfRange
from brewlog.science.fitting import Reading, Room
from brewlog.science.forecast import Crossing, Flag, Forecast, Status, forecast

GROUP = "The ferment"
# The recipe's batches that a forecast learns from, the newest first.
MOST_EARLIER = 20

_FLAG_WORDS = {
    Flag.SLOW: "It is slower than its predecessors: check the temperature and look at the vessel.",
    Flag.FAST: "It is faster than its predecessors: measure again sooner.",
    Flag.STALLED: "It has hardly moved since the last readings: check meter, warmth and culture.",
    Flag.RISING: "It has risen again: check the meter first, then the vessel.",
}
_MEASURAND = {"ph": Measurand.PH, "sugar": Measurand.BRIX}
_CURVE: dict[str, Curve] = {"ph": curves.PH, "sugar": curves.SUGAR}


class ForecastForm(CalculationForm):
    batch = LotField(LotKind.BATCH, label="Batch")
    what = ChoiceField(
        label="What", choices=[("ph", "pH"), ("sugar", "sugar, by Brix")], initial="ph"
    )
    limit = NumberField(
        label="When does it reach", least=0, most=300, help_text="pH, or g/L sugar."
    )
    room = DegreesField(
        label="Room temperature",
        required=False,
        least=-10,
        most=60,
        help_text="Where no reading of the batch tells.",
    )


def look_ahead(*, batch: Lot, what: str, limit: Decimal, room: Decimal | None) -> Answer:
    """The forecast in words; why there is none is an answer too."""
    found, start = forecast_of(batch, what, [float(limit)], room)
    if found.status is not Status.FORECAST:
        return Answer(
            headline=found.message,
            verdict=", ".join(str(flag) for flag in found.flags),
            tables=(_readings_table(batch, what),),
            warnings=tuple(_FLAG_WORDS[flag] for flag in found.flags),
        )
    crossing = found.crossings[0]
    return Answer(
        headline=crossing_words(crossing, start, what),
        verdict=", ".join(str(flag) for flag in found.flags),
        tables=(_readings_table(batch, what), _parameters_table(found)),
        warnings=(
            *(_FLAG_WORDS[flag] for flag in found.flags),
            found.message,
            f"It supports {found.supports}. It cannot support {found.cannot_support}.",
        ),
        sources=(
            f"Expected beforehand: {found.prior_source}.",
            f"{found.temperature_source}.",
            f"Calculation {found.calculation_version}.",
        ),
    )


def forecast_of(
    batch: Lot, what: str, limits: Sequence[float], room: Decimal | None = None
) -> tuple[Forecast, dt.datetime]:
    """The forecast of a pitched batch and the moment it was pitched.

    The prior is learned from the recipe's earlier batches. Raises `ValidationError` for a
    batch without starter, `OutOfRange` for readings no curve holds.
    """
    detail = batch.detail
    if not isinstance(detail, Batch) or detail.pitched_at is None:
        raise ValidationError({"batch": f"{batch} has no starter yet: there is no ferment to see."})
    curve = _CURVE[what]
    earlier = _predecessors(detail)
    ferments = ferments_of([detail, *earlier], what)
    prior = fitting.learn_prior(
        curve, [(ferments[each.pk].course, ferments[each.pk].room()) for each in earlier]
    )
    own = ferments[detail.pk]
    found = forecast(curve, own.course, limits, prior, own.room(room))
    return found, detail.pitched_at


@dataclass(frozen=True)
class Ahead:
    """What lies ahead of a batch, in words, with the forecast they rest on where there is one."""

    words: str
    found: Forecast | None = None


def ahead(batch: Batch, what: str) -> Ahead | None:
    """The course ahead of a pitched batch, and when the pH its recipe asks for is reached.

    None before there is starter in it. Where too little was read, or what no curve holds or no
    ferment does, the words say so.
    """
    if batch.pitched_at is None:
        return None
    target = batch.recipe.target_ph if batch.recipe is not None and what == "ph" else None
    try:
        found, start = forecast_of(batch, what, [] if target is None else [float(target)])
    except OutOfRange as error:
        return Ahead(str(error))
    if found.status is not Status.FORECAST:
        return Ahead(found.message)
    crossings = [crossing_words(crossing, start, what) for crossing in found.crossings]
    words = " ".join([*crossings, *(_FLAG_WORDS[flag] for flag in found.flags)])
    return Ahead(words or found.message, found)


def target_ahead(batch: Batch) -> str:
    """When the pH its recipe asks for is reached, in words; '' where nothing can be said."""
    if batch.recipe is None or batch.recipe.target_ph is None:
        return ""
    told = ahead(batch, "ph")
    return told.words if told is not None and told.found is not None else ""


def beside_earlier(batch: Batch, what: str) -> list[tuple[Batch, list[Reading]]]:
    """The readings of the batch, then of its recipe's earlier ones, the newest first."""
    batches = [batch, *_predecessors(batch)]
    ferments = ferments_of(batches, what)
    return [(each, ferments[each.pk].course) for each in batches if ferments[each.pk].course]


def _predecessors(batch: Batch) -> list[Batch]:
    if batch.recipe is None or batch.pitched_at is None:
        return []
    return list(
        Batch.objects.live()
        .filter(recipe__recipe=batch.recipe.recipe_id, pitched_at__lt=batch.pitched_at)
        .select_related("recipe")
        .order_by("-pitched_at")[:MOST_EARLIER]
    )


@dataclass
class Ferment:
    """A batch's readings as days after pitching: the curve's own, and the temperatures."""

    batch: Batch
    course: list[Reading] = field(default_factory=list)
    warmth: list[tuple[float, float]] = field(default_factory=list)

    def room(self, given: Decimal | None = None) -> Room:
        """The batch's own temperatures; else what was given, the recipe's, or 25 °C."""
        if self.warmth:
            days, degrees = zip(*self.warmth, strict=True)
            return Room(tuple(days), tuple(degrees))
        if given is not None:
            return Room((0.0,), (float(given),))
        recipe = self.batch.recipe
        if recipe is not None and recipe.ferment_temperature is not None:
            return Room((0.0,), (float(recipe.ferment_temperature),))
        return fitting.AT_25C


def ferments_of(batches: Sequence[Batch], what: str) -> dict[int, Ferment]:
    """The readings of all the batches since each was pitched: one query."""
    found = {batch.pk: Ferment(batch) for batch in batches}
    readings = (
        Checkpoint.objects.live()
        .filter(lot__in=list(found), measurand__in=[_MEASURAND[what], Measurand.TEMPERATURE])
        .select_related("instrument")
        .order_by("happened_at", "id")
    )
    for each in readings:
        assert each.lot_id is not None
        ferment = found[each.lot_id]
        pitched_at = ferment.batch.pitched_at
        if pitched_at is None or each.happened_at < pitched_at:
            continue
        day = (each.happened_at - pitched_at) / dt.timedelta(days=1)
        if each.measurand == Measurand.TEMPERATURE:
            ferment.warmth.append((day, float(each.value)))
        else:
            ferment.course.append(_reading(each, day, what))
    return found


def _reading(reading: Checkpoint, day: float, what: str) -> Reading:
    """In pH or g/L, with its standard uncertainty."""
    u, _ = records.instrument_uncertainty(reading.instrument, reading.measurand)
    if what == "sugar":
        return Reading(day, records.brix_as_g_per_l(reading.value), 10 * u)
    return Reading(day, float(reading.value), u)


def crossing_words(crossing: Crossing, start: dt.datetime, what: str) -> str:
    """When a limit is reached, as a sentence."""
    target = f"{'pH ' if what == 'ph' else ''}{crossing.limit:g}{'' if what == 'ph' else ' g/L'}"
    if crossing.likely_day is None:
        return f"It is not likely to reach {target} at all in the next 60 days."
    early, late = crossing.earliest_day, crossing.latest_day
    words = f"{target} is reached about {_day(start, crossing.likely_day)}"
    if early is not None:
        words += f", not before {_day(start, early)}"
    if late is not None:
        words += f", not after {_day(start, late)} (95 %)"
    if crossing.chance_never >= 0.05:
        words += f"; with a chance of {crossing.chance_never * 100:.0f} % not at all"
    return words + "."


def _day(start: dt.datetime, days: float) -> str:
    moment = timezone.localtime(start + dt.timedelta(days=days))
    return f"{moment.day} {moment:%b, %H}:00 (day {days:.1f})"


def _readings_table(batch: Lot, what: str) -> Table:
    detail = batch.detail
    assert isinstance(detail, Batch)
    rows = [
        (f"day {each.day:.1f}", f"{each.value:.2f}", f"± {each.u:.2f}")
        for each in ferments_of([detail], what)[detail.pk].course
    ]
    unit = "pH" if what == "ph" else "g/L"
    return Table("Readings used", ("after pitching", unit, "± (k = 1)"), rows)


def _parameters_table(found: Forecast) -> Table:
    rows = [(name, f"{value:.3f}") for name, value in found.parameters.items()]
    return Table("The curve fitted", ("parameter", "value"), rows)


def known_forecast(lot: Lot) -> dict[str, Known]:
    known = known_lot(lot, "batch")
    recipe = lot.detail.recipe  # type: ignore[attr-defined]
    if recipe is not None and recipe.target_ph is not None:
        known["limit"] = Known(f"{recipe.target_ph.normalize():f}", f"bottle at, {recipe}")
    return known


CALCULATIONS = (
    Calculation(
        slug="forecast",
        title="When it will be ready",
        group=GROUP,
        question="When does this batch reach a pH or a sugar content?",
        formula="A falling curve through the batch's readings, drawn towards the recipe's earlier "
        "batches and corrected for warmth; three readings are the least.",
        form=ForecastForm,
        work=look_ahead,
        about=(LotKind.BATCH,),
        known=known_forecast,
    ),
)
