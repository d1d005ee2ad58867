"""Which lots may be found otherwise by what was written since some moment.

Everything written leaves a history row, so the newest row of each table says how far a list
goes, and the rows after it what came since. Rather too many lots are told than too few.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, field
from functools import cache
from typing import Any, cast

from django.db import connection

from brewlog.domain.places import stays_of
from brewlog.ledger import ids_in
from brewlog.models import (
    Batch,
    BottlingLot,
    Brewery,
    BufferBottle,
    Calibration,
    CalibrationPoint,
    Checkpoint,
    CultureLine,
    CultureLot,
    Customer,
    Flavour,
    Format,
    ImportedRow,
    Ingredient,
    Instrument,
    Keg,
    LabResult,
    Location,
    Lot,
    LotKind,
    LotUse,
    Move,
    ProcessStep,
    Recipe,
    RecipeLine,
    RecipeVersion,
    RoleChange,
    Shipment,
    ShipmentLine,
    Supplier,
    Vessel,
)
from brewlog.trace import descendant_ids
from brewlog.verify import recorded_models
from brewlog.when import Precision, When
from compliance.assessment.calibrations import GOOD
from compliance.assessment.places import may_have_stood
from compliance.assessment.spoken_for import Version, spoken_for
from compliance.models import (
    Binding,
    CorrectiveAction,
    Deviation,
    HazardPlan,
    Holiday,
    Limit,
    LogEntry,
    MarketDecision,
    PlanStep,
    PlanVersion,
    Policy,
    Reanalysis,
    RuleSet,
    Signature,
    Waiver,
)

Newest = dict[str, int]

# What may bear on any lot.
WIDE = {Brewery}
RULES = {Binding, Limit, RuleSet, Waiver}
# What no lot is judged by.
NO_MATTER = {
    CorrectiveAction,
    CultureLine,
    Customer,
    Deviation,
    HazardPlan,
    Holiday,
    ImportedRow,
    Ingredient,
    Keg,
    LogEntry,
    MarketDecision,
    PlanStep,
    PlanVersion,
    Policy,
    Reanalysis,
    Recipe,
    RecipeLine,
    RoleChange,
    Signature,
    Supplier,
    Vessel,
}
# Beyond so many lots in a place it is not worked out which of them stood there.
_MOST_IN_A_PLACE = 2000
# A time known to the day may be this much later than it is written.
_A_LONG_DAY = dt.timedelta(hours=25)


@dataclass
class Touched:
    """The lots that may be found otherwise; `everything` where they were not told apart, and
    `rules` where what they are held against was written about."""

    lots: set[int] = field(default_factory=set)
    everything: bool = False
    rules: bool = False


def newest() -> Newest:
    """The key of the newest history row by model: it grows with everything written."""
    with connection.cursor() as cursor:
        cursor.execute(_newest_sql())
        return {name: key or 0 for name, key in cursor.fetchall()}


@cache
def _newest_sql() -> str:
    """The same for as long as the program runs; asking each model for its history takes longer
    than the database does."""
    return " UNION ALL ".join(
        f"SELECT '{_name(model)}', MAX(history_id) FROM "
        f"{connection.ops.quote_name(_history(model).model._meta.db_table)}"
        for model in recorded_models()
    )


def touched_between(since: Newest, until: Newest) -> Touched:
    """What the history rows after `since` up to `until` may have changed."""
    found = Touched()
    for model in recorded_models():
        after, last = since.get(_name(model), 0), until[_name(model)]
        if last != after:
            _add(found, model, _versions(model, after, last))
    if found.lots and not found.everything:
        found.lots |= _other_side_of_bottling(found.lots)
    return found


def _name(model: type[Any]) -> str:
    return model._meta.label_lower


def _history(model: type[Any]) -> Any:
    return cast(Any, model).history


def _versions(model: type[Any], after: int, last: int) -> Any:
    """All versions of the records written between: what one pointed at before counts too."""
    key = model._meta.pk.attname
    rows = _history(model).filter(history_id__gt=after, history_id__lte=last)
    return _history(model).filter(**{f"{key}__in": rows.values(key)})


def _add(found: Touched, model: type[Any], rows: Any) -> None:
    if model in RULES:
        found.rules = True
    elif model in WIDE:
        found.everything = True
    elif model in _FURTHER or links_to_lots(model):
        for link in links_to_lots(model):
            found.lots |= _values(rows, link)
        if model in _FURTHER:
            _FURTHER[model](found, rows)
    elif model not in NO_MATTER:
        found.everything = True


def links_to_lots(model: type[Any]) -> list[str]:
    """The fields of a record that point at a lot."""
    return [
        each.name
        for each in model._meta.concrete_fields
        if isinstance(each.related_model, type) and issubclass(each.related_model, Lot)
    ]


def _values(rows: Any, name: str) -> set[int]:
    return set(rows.filter(**{f"{name}__isnull": False}).values_list(name, flat=True))


# What reaches further than the lot it is about ---------------------------------------------


def _shipment(found: Touched, rows: Any) -> None:
    lines = ShipmentLine.objects.filter(shipment__in=ids_in(_values(rows, "id")))
    found.lots |= set(lines.values_list("lot", flat=True))


def _use(found: Touched, rows: Any) -> None:
    """What went into a lot counts transfers for all made of it, and tells its recipe."""
    into = _values(rows, "into")
    found.lots |= _cultures_from(into)
    found.everything |= _has_results(into)


def _culture(found: Touched, rows: Any) -> None:
    found.lots |= _cultures_from(_values(rows, "lot"))


def _batch(found: Touched, rows: Any) -> None:
    _recipe_of(found, _values(rows, "lot"))


def _recipe_version(found: Touched, rows: Any) -> None:
    made = Batch.objects.filter(recipe__in=ids_in(_values(rows, "id")))
    _recipe_of(found, set(made.values_list("pk", flat=True)))


def _recipe_of(found: Touched, batches: set[int]) -> None:
    found.lots |= batches
    found.everything |= _has_results(batches | _other_side_of_bottling(batches))


def _flavour(found: Touched, rows: Any) -> None:
    bottles = BottlingLot.objects.filter(flavour__in=ids_in(_values(rows, "id")))
    found.lots |= set(bottles.values_list("pk", flat=True))


def _format(found: Touched, rows: Any) -> None:
    bottles = BottlingLot.objects.filter(format__in=ids_in(_values(rows, "id")))
    found.lots |= set(bottles.values_list("pk", flat=True))


def _bottling(found: Touched, rows: Any) -> None:
    found.everything |= _has_results(_values(rows, "lot"))


def _cultures_from(lots: set[int]) -> set[int]:
    made = descendant_ids(lots) - lots
    if not made:
        return set()
    return set(CultureLot.objects.filter(pk__in=ids_in(made)).values_list("pk", flat=True))


def _has_results(lots: set[int]) -> bool:
    """Whether a laboratory's result of one of them speaks for others of its recipe."""
    return LabResult.objects.filter(lot__in=ids_in(lots)).exists()


def _reading(found: Touched, rows: Any) -> None:
    """The temperature of a place is one of the lots that stood there."""
    taken: dict[int, list[When]] = defaultdict(list)
    of_places = rows.filter(location__isnull=False)
    for place, *when in of_places.values_list("location", "happened_at", "happened_precision"):
        taken[place].append(When(when[0], Precision(when[1])))
    if not taken:
        return
    lots = _moved_there(taken)
    if len(lots) > _MOST_IN_A_PLACE:
        found.everything = True
        return
    found.lots |= {
        lot
        for lot, stays in stays_of(lots).items()
        for stay in stays
        if stay.location is not None
        and any(may_have_stood(stay, when) for when in taken.get(stay.location.pk, ()))
    }


def _result(found: Touched, rows: Any) -> None:
    """A laboratory's result speaks for other bottles of its recipe too."""
    versions = rows.values_list("id", "lot", "measurand", "happened_at").distinct()
    found.lots |= spoken_for(Version(*each) for each in versions)


def _location(found: Touched, rows: Any) -> None:
    found.lots |= _moved_there(_values(rows, "id"))


def _moved_there(places: Collection[int]) -> set[int]:
    moved, ids = Move.objects.order_by(), ids_in(places)
    lots = set(moved.filter(to_location__in=ids).values_list("lot", flat=True))
    return lots | set(moved.filter(from_location__in=ids).values_list("lot", flat=True))


def _instrument(found: Touched, rows: Any) -> None:
    for instrument in _values(rows, "id"):
        _read_with(found, instrument, None)


def _calibration(found: Touched, rows: Any) -> None:
    """What was read with the instrument since the last good calibration before the first
    time this one was ever said to be of."""
    first: dict[int, dt.datetime] = {}
    for instrument, moment in rows.values_list("instrument", "happened_at"):
        first[instrument] = min(moment, first.get(instrument, moment))
    for instrument, moment in first.items():
        good = Calibration.objects.live().filter(
            instrument=instrument, outcome__in=GOOD, happened_at__lt=moment - _A_LONG_DAY
        )
        last_good = good.order_by("happened_at").values_list("happened_at", flat=True).last()
        _read_with(found, instrument, last_good)


def _point(found: Touched, rows: Any) -> None:
    calibrations = ids_in(_values(rows, "calibration"))
    _calibration(found, Calibration.objects.filter(pk__in=calibrations))


def _buffer_bottle(found: Touched, rows: Any) -> None:
    _point(found, CalibrationPoint.objects.filter(bottle__in=ids_in(_values(rows, "id"))))


def _read_with(found: Touched, instrument: int, since: dt.datetime | None) -> None:
    for model in (Checkpoint, ProcessStep):
        rows = cast(Any, model).objects.live().filter(instrument=instrument)
        if since is not None:
            rows = rows.filter(happened_at__gte=since - _A_LONG_DAY)
        if model is Checkpoint and rows.filter(location__isnull=False).exists():
            found.everything = True
        found.lots |= _values(rows, "lot")


def _other_side_of_bottling(lots: Iterable[int]) -> set[int]:
    """The batches that bottles were drawn from, and the bottles drawn from batches."""
    drawn = LotUse.objects.filter(source__kind=LotKind.BATCH, into__kind=LotKind.BOTTLING)
    ids = ids_in(lots)
    sources = drawn.filter(into__in=ids).values_list("source", flat=True)
    return set(sources) | set(drawn.filter(source__in=ids).values_list("into", flat=True))


_FURTHER: dict[type[Any], Callable[[Touched, Any], None]] = {
    Batch: _batch,
    BottlingLot: _bottling,
    BufferBottle: _buffer_bottle,
    Calibration: _calibration,
    CalibrationPoint: _point,
    Checkpoint: _reading,
    CultureLot: _culture,
    Flavour: _flavour,
    Format: _format,
    Instrument: _instrument,
    LabResult: _result,
    Location: _location,
    LotUse: _use,
    RecipeVersion: _recipe_version,
    Shipment: _shipment,
}
