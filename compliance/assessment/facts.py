"""The facts that limits are held against, loaded for many lots in a fixed number of queries."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from brewlog.domain.places import Stay, stays_of
from brewlog.ledger import MassBalance, ids_in, mass_balances
from brewlog.models import (
    AlcoholEstimate,
    Batch,
    BottlingLot,
    Brew,
    Calibration,
    Checkpoint,
    ConditionCheck,
    CultureLot,
    Flavour,
    IngredientLot,
    LabResult,
    Lot,
    LotKind,
    LotUse,
    Measurand,
    PreparationLot,
    ProcessStep,
)
from brewlog.trace import generations
from brewlog.when import Precision, When
from compliance.assessment.calibrations import Course
from compliance.decision import meets
from compliance.models import Labelled, LabelRun, Limit


@dataclass
class LotRecord:
    """All that limits look at of one lot. Lists are in the order of time, voided ones left out.

    `kin` are the batches a bottling lot was drawn from, or the bottling lots drawn from a
    batch; `kin_labs` and `kin_brix` what was found in them; `kin_heated` those that were
    heat treated. `label_text` is what the flavour said when the lot's labels were made.
    """

    lot: Lot
    detail: Any
    readings: list[Checkpoint] = field(default_factory=list)
    labs: list[LabResult] = field(default_factory=list)
    estimates: list[AlcoholEstimate] = field(default_factory=list)
    checks: list[ConditionCheck] = field(default_factory=list)
    steps: list[ProcessStep] = field(default_factory=list)
    uses_in: list[LotUse] = field(default_factory=list)
    kin: set[int] = field(default_factory=set)
    kin_labs: list[LabResult] = field(default_factory=list)
    kin_brix: list[Checkpoint] = field(default_factory=list)
    kin_heated: list[ProcessStep] = field(default_factory=list)
    stays: list[Stay] = field(default_factory=list)
    recipes: set[int] = field(default_factory=set)
    label_text: str = ""
    balance: MassBalance | None = None
    generation: int = 0

    @property
    def began(self) -> When:
        return self.lot.when

    @property
    def pitched(self) -> When | None:
        """When starter went in; None for what is not a pitched batch."""
        if not isinstance(self.detail, Batch) or self.detail.pitched_at is None:
            return None
        return When(self.detail.pitched_at, Precision(self.detail.pitched_precision))

    @property
    def is_gone(self) -> bool:
        """Whether nothing of it is left in the house."""
        return self.balance is not None and self.balance.on_hand == 0

    @property
    def heated(self) -> bool:
        """Whether a batch it was drawn from was heat treated: no live yeast works on."""
        return bool(self.kin_heated)


@dataclass(frozen=True)
class Sampled:
    """A laboratory result with what it can speak for: recipes, flavour and shelf life."""

    result: LabResult
    recipes: frozenset[int]
    flavour: int | None
    best_before: dt.date | None


@dataclass(frozen=True)
class Facts:
    """The lots' records and what they share, at a moment that deadlines are held against.

    `courses` are the calibrations by instrument; `place_readings` the temperatures of cold
    places the lots stood in, by place; `sampled` the whole brewery's laboratory results.
    """

    at: dt.datetime
    lots: dict[int, LotRecord]
    courses: dict[int, Course]
    place_readings: dict[int, list[Checkpoint]]
    sampled: list[Sampled]
    _past: dict[tuple[int, int], list[Checkpoint]] = field(default_factory=dict)

    def place_readings_past(self, limit: Limit, place_id: int) -> list[Checkpoint]:
        """A cold place's readings whose bare value is past a limit, in the order of time.

        Kept, as every lot that stood there asks the same.
        """
        assert limit.value is not None
        key = limit.pk, place_id
        if key not in self._past:
            self._past[key] = [
                reading
                for reading in self.place_readings.get(place_id, ())
                if not meets(reading.value, limit.sign, limit.value)
            ]
        return self._past[key]

    def course_of(self, instrument_id: int | None) -> Course:
        """The instrument's calibrations; none for an unknown or never calibrated one."""
        return self.courses.get(instrument_id or 0, _NEVER)


_NEVER = Course([])
_A_MINUTE = dt.timedelta(minutes=1)
# A day on which the clocks go back has 25 hours.
_A_LONG_DAY = dt.timedelta(hours=25)

_DETAILS: tuple[tuple[str, Any, tuple[str, ...]], ...] = (
    (LotKind.INGREDIENT, IngredientLot, ("ingredient",)),
    (LotKind.PREPARATION, PreparationLot, ()),
    (LotKind.CULTURE, CultureLot, ("line",)),
    (LotKind.BREW, Brew, ()),
    (LotKind.BATCH, Batch, ()),
    (LotKind.BOTTLING, BottlingLot, ("flavour", "format")),
)


def load(lots: Sequence[Lot], at: dt.datetime) -> Facts:
    """The facts of some lots as they stand. A fixed number of queries, however many lots."""
    details = _details(lots)
    records = {lot.pk: LotRecord(lot, details.get(lot.pk)) for lot in lots}
    _load_own(records)
    _load_amounts(records)
    _load_kin(records)
    places = _load_stays(records)
    sampled = _sampled() if _of_kind(records, LotKind.BOTTLING) else []
    return Facts(at, records, _courses(records.values(), places), places, sampled)


def _of_kind(records: dict[int, LotRecord], kind: str) -> list[int]:
    return [pk for pk, record in records.items() if record.lot.kind == kind]


def _details(lots: Iterable[Lot]) -> dict[int, Any]:
    by_kind: dict[str, list[int]] = defaultdict(list)
    for lot in lots:
        by_kind[lot.kind].append(lot.pk)
    found: dict[int, Any] = {}
    for kind, model, related in _DETAILS:
        if by_kind.get(kind):
            rows = model.objects.filter(pk__in=ids_in(by_kind[kind])).select_related(*related)
            found.update({row.pk: row for row in rows})
    return found


def _load_own(records: dict[int, LotRecord]) -> None:
    """What was read, found, seen and done of each lot, and what went into it."""
    kinds: tuple[tuple[str, Any], ...] = (
        ("readings", Checkpoint.objects.select_related("instrument")),
        ("labs", LabResult.objects.all()),
        ("estimates", AlcoholEstimate.objects.all()),
        ("checks", ConditionCheck.objects.select_related("done_by")),
        ("steps", ProcessStep.objects.select_related("instrument")),
    )
    for name, rows in kinds:
        live = rows.live().filter(lot__in=ids_in(records))
        for row in live.order_by("happened_at", "id"):
            getattr(records[row.lot_id], name).append(row)
    uses = LotUse.objects.live().filter(into__in=ids_in(records)).select_related("source")
    for use in uses.order_by("happened_at", "id"):
        records[use.into_id].uses_in.append(use)


def _load_amounts(records: dict[int, LotRecord]) -> None:
    for pk, balance in mass_balances(records).items():
        records[pk].balance = balance
    cultures = _of_kind(records, LotKind.CULTURE)
    for pk, number in generations(cultures).items() if cultures else ():
        records[pk].generation = number
    bottles = _of_kind(records, LotKind.BOTTLING)
    for pk, recipes in recipes_of(bottles).items() if bottles else ():
        records[pk].recipes = recipes
    _load_label_texts([records[pk] for pk in bottles])


def label_text(flavour: Any) -> str:
    """What a flavour, or one of its versions, has the label say besides the name."""
    return f"{flavour.storage} {flavour.statement}"


def _load_label_texts(bottles: list[LotRecord]) -> None:
    """What the labels say: the flavour's text when they were last printed, or else when the
    bottles were filled; a lot older than what is known of the flavour has its first text."""
    if not bottles:
        return
    runs = LabelRun.objects.live().filter(
        lot__in=ids_in([each.lot.pk for each in bottles]), what=Labelled.BOTTLE
    )
    printed = runs.exclude(printed="")  # What labels printed elsewhere said is not known.
    made = dict(printed.order_by("recorded_at").values_list("lot", "recorded_at"))
    versions: dict[int, list[Any]] = defaultdict(list)
    flavours = ids_in({each.detail.flavour_id for each in bottles})
    for version in Flavour.history.filter(id__in=flavours).order_by("history_id"):
        versions[version.id].append(version)
    for record in bottles:
        # A text written in the minute of the bottling was there for it.
        moment = made.get(record.lot.pk, record.began.ends + _A_MINUTE)
        first, *later = versions[record.detail.flavour_id]
        then = [each for each in later if each.history_date <= moment]
        record.label_text = label_text(then[-1] if then else first)


def _load_kin(records: dict[int, LotRecord]) -> None:
    """The other side of bottling: a batch's bottles, and the batches of bottles."""
    for record in records.values():
        if record.lot.kind == LotKind.BOTTLING:
            record.kin |= {
                use.source_id for use in record.uses_in if use.source.kind == LotKind.BATCH
            }
    batches = _of_kind(records, LotKind.BATCH)
    drawn = LotUse.objects.live().filter(source__in=ids_in(batches), into__kind=LotKind.BOTTLING)
    for batch, bottles in drawn.values_list("source", "into") if batches else ():
        records[batch].kin.add(bottles)
    of: dict[int, list[LotRecord]] = defaultdict(list)
    for record in records.values():
        for kin in record.kin:
            of[kin].append(record)
    labs = LabResult.objects.live().select_related("lot")
    brix = Checkpoint.objects.live().filter(measurand=Measurand.BRIX).select_related("instrument")
    heated = ProcessStep.objects.live().filter(kind=ProcessStep.Kind.PASTEURISE)
    for name, rows in (("kin_labs", labs), ("kin_brix", brix), ("kin_heated", heated)):
        found = rows.filter(lot__in=ids_in(of)).order_by("happened_at", "id") if of else ()
        for row in found:
            for record in of[row.lot_id]:  # type: ignore[index]
                getattr(record, name).append(row)


def _load_stays(records: dict[int, LotRecord]) -> dict[int, list[Checkpoint]]:
    """Where bottles stood; the temperatures of those places that are cold, while they did."""
    bottles = _of_kind(records, LotKind.BOTTLING)
    for pk, stays in stays_of(bottles).items() if bottles else ():
        records[pk].stays = stays
    cold = [
        stay
        for record in records.values()
        for stay in record.stays
        if stay.location is not None and stay.location.is_cold
    ]
    return _cold_readings(cold) if cold else {}


def _cold_readings(cold: list[Stay]) -> dict[int, list[Checkpoint]]:
    rows = Checkpoint.objects.live().filter(
        measurand=Measurand.TEMPERATURE,
        location__in={stay.location.pk for stay in cold if stay.location},
        # One known to the day only is written at its beginning.
        happened_at__gte=min(stay.since.at for stay in cold) - _A_LONG_DAY,
    )
    if all(stay.until for stay in cold):
        rows = rows.filter(happened_at__lte=max(s.until.ends for s in cold if s.until))
    grouped: dict[int, list[Checkpoint]] = defaultdict(list)
    for row in rows.select_related("instrument", "location").order_by("happened_at", "id"):
        assert row.location_id is not None
        grouped[row.location_id].append(row)
    return grouped


def _sampled() -> list[Sampled]:
    """Every laboratory result, in the order of time, with what its lot was."""
    results = list(LabResult.objects.live().select_related("lot").order_by("happened_at", "id"))
    recipes = recipes_of({result.lot_id for result in results})
    bottles = {
        pk: (flavour, best_before)
        for pk, flavour, best_before in BottlingLot.objects.filter(
            pk__in=ids_in({result.lot_id for result in results})
        ).values_list("pk", "flavour", "best_before")
    }
    return [
        Sampled(
            result,
            frozenset(recipes.get(result.lot_id, ())),
            *bottles.get(result.lot_id, (None, None)),
        )
        for result in results
    ]


def recipes_of(lot_ids: Iterable[int]) -> dict[int, set[int]]:
    """The recipes that lots were made by: a batch's own, a bottling lot's batches'."""
    ids = ids_in(lot_ids)
    found: dict[int, set[int]] = defaultdict(set)
    own = Batch.objects.filter(pk__in=ids, recipe__isnull=False)
    for pk, recipe in own.values_list("pk", "recipe__recipe"):
        found[pk].add(recipe)
    drawn = LotUse.objects.live().filter(into__in=ids, source__as_batch__recipe__isnull=False)
    for pk, recipe in drawn.values_list("into", "source__as_batch__recipe__recipe"):
        found[pk].add(recipe)
    return found


def _courses(
    records: Iterable[LotRecord], places: dict[int, list[Checkpoint]]
) -> dict[int, Course]:
    """The calibrations of every instrument that something was read with."""
    read: list[Any] = [each for readings in places.values() for each in readings]
    for record in records:
        read += (*record.readings, *record.steps, *record.kin_brix)
    used = {each.instrument_id for each in read if each.instrument_id is not None}
    rows = Calibration.objects.with_expired_buffer().live().filter(instrument__in=ids_in(used))
    grouped: dict[int, list[Calibration]] = defaultdict(list)
    for row in rows.select_related("instrument").order_by("happened_at", "id"):
        grouped[row.instrument_id].append(row)
    return {pk: Course(calibrations) for pk, calibrations in grouped.items()}
