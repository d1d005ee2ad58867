"""What the records of a lot already tell, worked out where the work happens.

A few lines for the page of a lot and beside an entry's form, each with the calculation that
shows its working. Only what is quick: what takes a fit is offered as a link.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass

from brewlog.calculations import BY_SLUG, about, acid, carbonation, records
from brewlog.calculations.amounts import recipe_amounts, sugar_grams, uses_and_shares
from brewlog.calculations.base import LITRE, METRIC, Units
from brewlog.calculations.fermenting import target_ahead
from brewlog.ledger import mass_balance, with_on_hand
from brewlog.models import (
    Batch,
    BottlingLot,
    Brew,
    Checkpoint,
    CultureLot,
    Lot,
    LotKind,
    LotUse,
    Measurand,
    RecipeLine,
    Stage,
)
from brewlog.science import acidity, alcohol, bottle_pressure, mixing
from brewlog.science.bottle_pressure import Judgement
from brewlog.science.errors import OutOfRange
from brewlog.science.fitting import FEWEST_READINGS
from brewlog.units import Dimension, show_quantity

# A usual pH to reach at once when starter is added; what binds is a limit of a rule set, not
# this (common practice).
USUAL_AIM = 4.5
# As warm as a bottle left in a room in summer may get (common practice).
WARM_C = 30.0
# Starters looked through for one whose pH is known.
_STARTERS = 10


@dataclass(frozen=True)
class Line:
    """Something worked out, and the calculation that shows how; without words, only that."""

    slug: str
    text: str = ""

    @property
    def title(self) -> str:
        return BY_SLUG[self.slug].title if self.slug else ""


class Readings:
    """A lot's live readings: one query, however many are asked about."""

    def __init__(self, lot: Lot) -> None:
        self._by_measurand: dict[str, list[Checkpoint]] = defaultdict(list)
        rows = Checkpoint.objects.live().filter(lot=lot.pk).select_related("instrument")
        for each in rows.order_by("happened_at", "id"):
            self._by_measurand[each.measurand].append(each)

    def of(self, measurand: Measurand) -> list[Checkpoint]:
        return self._by_measurand[measurand]

    def last(self, measurand: Measurand) -> Checkpoint | None:
        return self.of(measurand)[-1] if self.of(measurand) else None

    def first(self, measurand: Measurand) -> Checkpoint | None:
        return self.of(measurand)[0] if self.of(measurand) else None


def _u(reading: Checkpoint) -> float:
    return records.instrument_uncertainty(reading.instrument, reading.measurand)[0]


def _measured(reading: Checkpoint) -> tuple[float, float]:
    return float(reading.value), _u(reading)


# The page of a lot -----------------------------------------------------------------------


def lot_lines(lot: Lot, units: Units = METRIC) -> list[Line]:
    """What this lot's records tell, most useful first, then what else they can fill in."""
    told = _TOLD.get(LotKind(lot.kind))
    lines = [] if told is None or lot.is_void else told(lot.detail, units)
    slugs = {line.slug for line in lines}
    return lines + [Line(each.slug) for each in about(lot) if each.slug not in slugs]


def _batch_lines(batch: Lot, units: Units) -> list[Line]:
    assert isinstance(batch, Batch)
    readings = Readings(batch)
    uses = uses_and_shares(batch)
    lines = [
        _ahead_line(batch, readings),
        _pitched_line(batch, readings, [use for use, _ in uses]),
        _brix_line(batch, readings, sugar_grams(uses)),
        _alcohol_line(readings),
    ]
    return [line for line in lines if line is not None]


def _brew_lines(brew: Lot, units: Units) -> list[Line]:
    assert isinstance(brew, Brew)
    line = _brix_line(brew, Readings(brew), sugar_grams(uses_and_shares(brew)))
    return [line] if line else []


def _bottling_lines(lot: Lot, units: Units) -> list[Line]:
    assert isinstance(lot, BottlingLot)
    brix = carbonation.brix_of_bottles(lot)
    judged = _judged(lot, brix)
    lines = []
    if judged is not None and brix is not None:
        words = pressure_words(judged, units)
        if brix.lot_id != lot.pk:
            words += f" Sugar by the Brix of {brix.lot}, before flavouring."
        lines.append(Line("bottle-pressure", words))
    if lot.planned_count is not None:
        filled = (lot.made or 0) + lot.rejects
        lines.append(
            Line("plan-actual", f"{filled} filled, rejects too; {lot.planned_count} planned.")
        )
    return lines


_TOLD: dict[LotKind, Callable[[Lot, Units], list[Line]]] = {
    LotKind.BATCH: _batch_lines,
    LotKind.BREW: _brew_lines,
    LotKind.BOTTLING: _bottling_lines,
}


def _ahead_line(batch: Batch, readings: Readings) -> Line | None:
    if batch.pitched_at is None:
        return None
    read = [r for r in readings.of(Measurand.PH) if r.happened_at >= batch.pitched_at]
    if not read:
        return None
    last = f"pH {read[-1].value_text} at {read[-1].when}"
    if len(read) < FEWEST_READINGS:
        more = FEWEST_READINGS - len(read)
        words = "reading is" if more == 1 else "readings are"
        return Line("forecast", f"{last}; {more} more {words} needed to look ahead.")
    return Line("forecast", f"{last}; {len(read)} readings to look ahead from.")


def _pitched_line(batch: Batch, readings: Readings, uses: list[LotUse]) -> Line | None:
    """The starter's share and the pH it should have given, beside what was read."""
    starters = [use for use in uses if use.purpose == LotUse.Purpose.STARTER]
    if not starters or not batch.made:
        return None
    share = sum(use.quantity for use in starters) / batch.made
    words = f"Starter was {100 * share:.1f} %"
    expected = _expected_ph(max(starters, key=lambda use: use.quantity).source, share)
    if expected:
        words += f": {expected} expected at once"
    read = [r for r in readings.of(Measurand.PH) if r.stage == Stage.PITCH]
    if read:
        words += f"; {read[0].value_text} was read"
    return Line("pitched-ph", f"{words}.")


def _expected_ph(starter: Lot, share: float) -> str:
    found = Readings(starter)
    ph, total = found.last(Measurand.PH), found.last(Measurand.TOTAL_ACIDITY)
    if ph is None:
        return ""
    try:
        expected = acidity.ph_after_pitching(
            _measured(ph), acid.usual_acidity(total), (share, 0.02 * share)
        )
    except OutOfRange:
        # A starter or a share no charge balance holds for: there is nothing to expect.
        return ""
    low, high = expected.interval_95()
    return f"pH {expected.value:.2f} ({low:.2f} to {high:.2f})"


def _brix_line(lot: Batch | Brew, readings: Readings, grams: float) -> Line | None:
    volume = (lot.made or 0) / LITRE
    if not grams or not volume:
        return None
    try:
        expected = mixing.expected_brix(
            grams / 1000,
            volume,
            u_sugar_kg=0.005 * grams / 1000,
            u_final_volume_l=0.01 * volume,
        )
    except OutOfRange:
        # More sugar than dissolves: a slip in an amount, which the page of the use shows.
        return None
    words = f"{expected.value:.1f} °Bx expected of the sugar weighed in"
    read = readings.first(Measurand.BRIX)
    if read is None or not -1 <= read.value <= 80:
        return Line("brix", f"{words}; no reading yet.")
    compared = mixing.compare_brix(expected, *_measured(read))
    agrees = "agrees" if compared.step("agrees") else "does not agree"
    fermented = isinstance(lot, Batch) and lot.pitched_at and read.happened_at > lot.pitched_at
    tail = "" if fermented else f", which {agrees}"
    return Line("brix", f"{words}; {read.value_text} was read at {read.when}{tail}.")


def _alcohol_line(readings: Readings) -> Line | None:
    gravity = readings.last(Measurand.SPECIFIC_GRAVITY)
    brix = readings.last(Measurand.BRIX)
    if gravity is None or brix is None:
        return None
    try:
        found = alcohol.from_gravity_and_brix(_measured(gravity), _measured(brix))
    except OutOfRange:
        # Readings no such drink gives; the calculation says which when it is opened.
        return None
    low, high = found.interval_95()
    return Line(
        "alcohol",
        f"About {found.value:.1f} % vol ({low:.1f} to {high:.1f}) by gravity and Brix: an "
        "estimate, not evidence.",
    )


def _judged(lot: BottlingLot, brix: Checkpoint | None) -> Judgement | None:
    if lot.carbonation == BottlingLot.Carbonation.STILL or brix is None:
        return None
    try:
        return carbonation.judge_brix(brix, carbonation.bottle_of(lot.format), WARM_C)
    except OutOfRange:
        # So much sugar that no bottle holds its pressure; the calculation says so in words.
        return None


def pressure_words(judged: Judgement, units: Units = METRIC) -> str:
    """The pressure of bottles if all their sugar ferments, and what that means for them."""
    return (
        f"{units.pressure(judged.gauge_bar)} at {units.temperature(WARM_C)} if all the sugar "
        f"ferments, at most {units.pressure(judged.upper_gauge_bar)} (95 %): {judged.verdict}."
    )


# Beside an entry's form ------------------------------------------------------------------


def beside_pitch(lot: Lot, units: Units = METRIC) -> list[Line]:
    """For a batch, or for a starter: how much of it, and how cool the tea must be."""
    if lot.kind == LotKind.CULTURE:
        return [_needed_line(lot, None, units)]
    batch = lot.detail
    if not isinstance(batch, Batch):
        return []
    volume = batch.planned or mass_balance(batch).on_hand or None
    lines = [_needed_line(_usual_starter(), volume, units)]
    recipe = batch.recipe
    if recipe is not None and recipe.pitch_temperature is not None:
        limit = units.temperature(float(recipe.pitch_temperature), 1)
        lines.append(Line("cooling", f"{recipe}: cool to {limit} or below before adding starter."))
    if recipe is not None and volume:
        wanted = [line for line in recipe.lines.live() if line.role == RecipeLine.Role.STARTER]
        amount = sum(line.per_litre for line in wanted) * volume // LITRE
        if amount:
            said = show_quantity(amount, Dimension.VOLUME, units.system)
            lines.append(Line("scale", f"{recipe} takes {said} of starter for this volume."))
    return lines


def _usual_starter() -> Lot | None:
    """The newest living starter with something on hand whose pH was read."""
    living = CultureLot.objects.live().filter(retired_at__isnull=True)
    newest = with_on_hand(living.order_by("-happened_at", "-pk"))[:_STARTERS]
    there = {each.pk: each for each in newest if each.on_hand > 0}
    read = set(
        Checkpoint.objects.live()
        .filter(lot__in=list(there), measurand=Measurand.PH)
        .values_list("lot", flat=True)
    )
    return next((each for pk, each in there.items() if pk in read), None)


def _needed_line(starter: Lot | None, volume: int | None, units: Units) -> Line:
    if starter is None:
        return Line("starter-needed", "No starter on hand has a pH reading: read one first.")
    found = Readings(starter)
    ph = found.last(Measurand.PH)
    if ph is None:
        return Line("starter-needed", f"The pH of {starter} was not read yet.")
    try:
        needed = acidity.starter_needed(
            _measured(ph), acid.usual_acidity(found.last(Measurand.TOTAL_ACIDITY)), USUAL_AIM
        )
    except OutOfRange:
        return Line("starter-needed", f"{starter} (pH {ph.value_text}) does not reach {USUAL_AIM}.")
    low, high = needed.interval_95()
    words = (
        f"{starter} (pH {ph.value_text}): about {100 * needed.value:.0f} % of the volume "
        f"({100 * low:.0f} to {100 * high:.0f} %) brings tea to pH {USUAL_AIM}"
    )
    if volume:
        words += f", {units.volume(needed.value * volume / LITRE)} here"
    return Line("starter-needed", f"{words}. Only the measured pH counts.")


def beside_reading(lot: Lot, units: Units = METRIC) -> list[Line]:
    """What was read last, and whether there is enough to look ahead from."""
    readings = Readings(lot)
    read = [
        f"{each.get_measurand_display().partition(',')[0]} {each.value_text} ({each.when})"
        for measurand in (Measurand.PH, Measurand.TEMPERATURE, Measurand.BRIX)
        if (each := readings.last(measurand)) is not None
    ]
    lines = []
    batch = lot.detail
    if isinstance(batch, Batch):
        ahead = _ahead_line(batch, readings)
        if ahead is not None:
            words = target_ahead(batch) or ahead.text.partition("; ")[2].capitalize()
            lines.append(Line(ahead.slug, words))
    words = "Read last: " + "; ".join(read) + "." if read else "Nothing was read of it yet."
    return [Line("", words), *lines]


def beside_bottle(lot: Lot, units: Units = METRIC) -> list[Line]:
    """What there is of the batch, its last pH, and what its sugar may come to in a bottle."""
    batch = lot.detail
    if not isinstance(batch, Batch):
        return []
    readings = Readings(batch)
    there = show_quantity(mass_balance(batch).on_hand, Dimension.VOLUME, units.system)
    ph = readings.last(Measurand.PH)
    read = f"; last pH {ph.value_text} at {ph.when}" if ph else "; its pH was not read yet"
    lines = [Line("bottling-plan", f"{there} on hand{read}.")]
    brix = readings.last(Measurand.BRIX)
    if brix is None:
        lines.append(Line("bottle-pressure", "No Brix was read: its sugar is not known."))
        return lines
    grams = records.brix_as_g_per_l(brix.value)
    try:
        found = bottle_pressure.pressure_if_all_ferments((grams, 10 * _u(brix) + 1), (WARM_C, 1.0))
    except OutOfRange as error:
        lines.append(Line("bottle-pressure", f"{units.sentence(error)} No bottle holds that."))
        return lines
    lines.append(
        Line(
            "bottle-pressure",
            f"{units.pressure(found.value)} at {units.temperature(WARM_C)} if all the sugar "
            f"({units.strength(grams, 0)} by Brix) ferments, before what flavouring brings.",
        )
    )
    return lines


def beside_fill(lot: Lot, units: Units = METRIC) -> list[Line]:
    """What the batch's recipe takes for its planned volume."""
    batch = lot.detail
    if not isinstance(batch, Batch) or batch.planned is None:
        return []
    lines = [
        f"{show_quantity(each.planned.amount, each.planned.line.dimension, units.system)} "
        f"{each.planned.name}"
        for each in recipe_amounts(batch)
    ]
    if not lines:
        return []
    volume = show_quantity(batch.planned, Dimension.VOLUME, units.system)
    return [Line("scale", f"{batch.recipe} takes for {volume}: {'; '.join(lines)}.")]


BESIDE: dict[str, Callable[[Lot, Units], list[Line]]] = {
    "fill": beside_fill,
    "pitch": beside_pitch,
    "reading": beside_reading,
    "bottle": beside_bottle,
    "bottle-one": beside_bottle,
}
