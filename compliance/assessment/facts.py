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
    IngredientLot,
    LabResult,
    Lot,
    LotKind,
    LotUse,
    Measurand,
    Move,
    PreparationLot,
    ProcessStep,
)
from brewlog.trace import generations
from brewlog.when import Precision, When


@dataclass
class LotRecord:
    """All that limits look at of one lot. Lists are in the order of time, voided ones left out."""

    lot: Lot
    detail: Any
    readings: list[Checkpoint] = field(default_factory=list)
    labs: list[LabResult] = field(default_factory=list)
    estimates: list[AlcoholEstimate] = field(default_factory=list)
    checks: list[ConditionCheck] = field(default_factory=list)
    steps: list[ProcessStep] = field(default_factory=list)
    uses_in: list[LotUse] = field(default_factory=list)
    moves: list[Move] = field(default_factory=list)
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
    def starter(self) -> int:
        """Microlitres of starter written into it."""
        return sum(use.quantity for use in self.uses_in if use.source.kind == LotKind.CULTURE)


@dataclass(frozen=True)
class Facts:
    """The lots' records and what they share.

    Calibrations are by instrument; stays by lot; readings of cold places by place; the
    laboratory's alcohol results by recipe, each in the order of time.
    """

    at: dt.datetime
    lots: dict[int, LotRecord]
    calibrations: dict[int, list[Calibration]]
    stays: dict[int, list[Stay]]
    place_readings: dict[int, list[Checkpoint]]
    recipe_labs: dict[int, list[LabResult]]
    batch_recipes: dict[int, set[int]]

    def calibration_of(self, instrument_id: int, when: When) -> Calibration | None:
        """The last calibration of an instrument before a reading; None where there is none."""
        earlier = [
            each
            for each in self.calibrations.get(instrument_id, ())
            if not when.provably_before(each.when)
        ]
        return earlier[-1] if earlier else None


_DETAILS: tuple[tuple[str, Any, tuple[str, ...]], ...] = (
    (LotKind.INGREDIENT, IngredientLot, ("ingredient",)),
    (LotKind.PREPARATION, PreparationLot, ()),
    (LotKind.CULTURE, CultureLot, ("line",)),
    (LotKind.BREW, Brew, ("recipe__recipe",)),
    (LotKind.BATCH, Batch, ("recipe__recipe", "vessel")),
    (LotKind.BOTTLING, BottlingLot, ("flavour", "format")),
)


def load(lots: Sequence[Lot], at: dt.datetime) -> Facts:
    """The facts of some lots as they stand. A fixed number of queries, however many lots."""
    ids = [lot.pk for lot in lots]
    details = _details(lots)
    records = {lot.pk: LotRecord(lot, details.get(lot.pk)) for lot in lots}
    for name, rows in (
        ("readings", Checkpoint.objects.select_related("instrument", "done_by")),
        ("labs", LabResult.objects.all()),
        ("estimates", AlcoholEstimate.objects.all()),
        ("checks", ConditionCheck.objects.all()),
        ("steps", ProcessStep.objects.select_related("instrument")),
        ("moves", Move.objects.select_related("to_location", "from_location")),
    ):
        found = rows.live().filter(lot__in=ids_in(ids)).order_by("happened_at", "id")  # type: ignore[attr-defined]
        for row in found:
            getattr(records[row.lot_id], name).append(row)
    uses = LotUse.objects.live().filter(into__in=ids_in(ids)).select_related("source")
    for use in uses.order_by("happened_at", "id"):
        records[use.into_id].uses_in.append(use)
    for pk, balance in mass_balances(ids).items():
        records[pk].balance = balance
    cultures = [lot.pk for lot in lots if lot.kind == LotKind.CULTURE]
    for pk, number in generations(cultures).items() if cultures else ():
        records[pk].generation = number
    bottles = [lot.pk for lot in lots if lot.kind == LotKind.BOTTLING]
    return Facts(
        at,
        records,
        _calibrations(records.values()),
        stays_of(bottles) if bottles else {},
        _cold_readings() if bottles else {},
        _recipe_labs() if bottles else {},
        recipes_of({use.source_id for each in records.values() for use in each.uses_in}),
    )


def _cold_readings() -> dict[int, list[Checkpoint]]:
    rows = (
        Checkpoint.objects.live()
        .filter(location__is_cold=True, measurand=Measurand.TEMPERATURE)
        .select_related("instrument", "location")
        .order_by("happened_at", "id")
    )
    grouped: dict[int, list[Checkpoint]] = defaultdict(list)
    for row in rows:
        assert row.location_id is not None
        grouped[row.location_id].append(row)
    return grouped


def _recipe_labs() -> dict[int, list[LabResult]]:
    """Alcohol results of a recipe's batches, and of the bottles drawn from them."""
    results = list(
        LabResult.objects.live().filter(measurand=Measurand.ALCOHOL).order_by("happened_at", "id")
    )
    recipes = recipes_of({result.lot_id for result in results})
    grouped: dict[int, list[LabResult]] = defaultdict(list)
    for result in results:
        for recipe in recipes.get(result.lot_id, ()):
            grouped[recipe].append(result)
    return grouped


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


def _details(lots: Iterable[Lot]) -> dict[int, Any]:
    by_kind: dict[str, list[int]] = defaultdict(list)
    for lot in lots:
        by_kind[lot.kind].append(lot.pk)
    found: dict[int, Any] = {}
    for kind, model, related in _DETAILS:
        if by_kind.get(kind):
            rows = model.objects.filter(pk__in=by_kind[kind]).select_related(*related)
            found.update({row.pk: row for row in rows})
    return found


def _calibrations(records: Iterable[LotRecord]) -> dict[int, list[Calibration]]:
    used = {
        reading.instrument_id
        for record in records
        for reading in record.readings
        if reading.instrument_id
    }
    grouped: dict[int, list[Calibration]] = defaultdict(list)
    rows = Calibration.objects.live().filter(instrument__in=used).order_by("happened_at", "id")
    for row in rows:
        grouped[row.instrument_id].append(row)
    return grouped
