"""What happened as EPCIS 2.0 events: the mapping, record by record.

Receiving, dispatch, samples, holds, releases and what is gone are ObjectEvents; making one lot
out of others is a TransformationEvent, each later top-up another one of the same
transformation. The vocabulary has no step called transforming: `commissioning` stands for it.
What was struck out is sent with an error declaration, which withdraws it where it was read.

`eventID` is a UUID of version 5 over the record and what the event says: not the hash of the
Core Business Vocabulary, but as repeatable. A reading of a place is an ObjectEvent of no object:
what a sensor said at a read point. For one lot's trace they are those of the places where its
lots stood, while they may have stood there.
"""

from __future__ import annotations

import datetime as dt
import json
from collections import defaultdict
from collections.abc import Iterable, Iterator
from typing import Any

from django.utils import timezone

from brewlog.domain.places import Stay, stays_of
from brewlog.ledger import ids_in
from brewlog.models import (
    Brewery,
    Checkpoint,
    Hold,
    IngredientLot,
    LabResult,
    Lot,
    LotKind,
    LotUse,
    Measurand,
    Move,
    Shipment,
    ShipmentLine,
    StockAdjustment,
)
from brewlog.units import Dimension
from brewlog.when import Precision, When
from compliance.assessment.places import may_have_stood
from compliance.documents.printing import DETAIL_PATHS, detail_paths, suppliers_code, what
from compliance.exchange.names import Names
from compliance.exchange.scopes import Scope
from compliance.models import MarketDecision, Release

Json = dict[str, Any]
_Reason = StockAdjustment.Reason
# UN/ECE Recommendation 20 (codes from memory); pieces have none.
_UOM = {Dimension.MASS: "KGM", Dimension.VOLUME: "LTR"}
_SENSOR = {
    Measurand.PH: ("Dimensionless", ""),
    Measurand.TEMPERATURE: ("Temperature", "CEL"),
    Measurand.SPECIFIC_GRAVITY: ("Dimensionless", ""),
    Measurand.BRIX: ("Dimensionless", ""),
    Measurand.TOTAL_ACIDITY: ("MassConcentration", "GL"),
    Measurand.PRESSURE: ("Pressure", "BAR"),
    Measurand.FILL: ("Volume", "MLT"),
    Measurand.ALCOHOL: ("VolumeFraction", "P1"),
}
# Business step and disposition of stock that left or came back otherwise; the rest is destroyed.
_GONE = {
    _Reason.SAMPLE: ("sampling", ""),
    _Reason.TASTING: ("sampling", ""),
    _Reason.RETURN: ("receiving", "returned"),
    _Reason.COUNT: ("stock_taking", ""),
    _Reason.STAFF: ("dispensing", "dispensed"),
    _Reason.DONATION: ("dispensing", "dispensed"),
    _Reason.EXPIRED: ("destroying", "expired"),
}
_STAYS = {_Reason.SAMPLE, _Reason.TASTING, _Reason.RETURN, _Reason.COUNT}
# How people write the kinds of document, and the vocabulary's words.
_DOCUMENTS = {
    "invoice": "inv",
    "delivery": "desadv",
    "delivery note": "desadv",
    "bill of lading": "bol",
    "purchase order": "po",
    "order": "po",
}


def amount(canonical: int | None, dimension: str) -> Json:
    """A quantity in kilograms, litres or pieces; nothing where it is not known."""
    if canonical is None:
        return {}
    if dimension == Dimension.COUNT:
        return {"quantity": canonical}
    return {"quantity": canonical / 1_000_000, "uom": _UOM[Dimension(dimension)]}


class EventWriter:
    """Makes the events of a scope, and remembers whom and what they name."""

    def __init__(self, scope: Scope, brewery: Brewery, at: dt.datetime) -> None:
        self.scope = scope
        self.names = Names(brewery, at)
        self.lots: dict[int, Lot] = {}
        self.parties: dict[str, Any] = {}

    def all(self) -> list[Json]:
        """Every event of the scope, in the order they happened."""
        ids = self.scope.lot_ids()
        found = [
            *self._made(ids),
            *self._sent(ids),
            *self._adjusted(ids),
            *self._moved(ids),
            *self._measured(ids),
            *self._read_in_places(ids),
            *self._decided(ids),
        ]
        return sorted(found, key=lambda event: (event["eventTime"], event["eventID"]))

    # Parts of events -----------------------------------------------------------------

    def _of(self, lot: Lot, quantity: int | None = None) -> Json:
        self.lots[lot.pk] = lot
        return {"epcClass": self.names.lot(lot), **amount(quantity, lot.dimension)}

    def _party(self, record: Any) -> Json:
        name = self.names.record(record)
        self.parties[name] = record
        return {"id": name}

    def _event(self, kind: str, record: Any, when: When, contents: Json, part: str = "") -> Json:
        event = {"type": kind, **_time(when), **contents}
        if "readPoint" not in event:
            event["bizLocation"] = {"id": self.names.brewery}
        if when.precision == Precision.DAY:
            event["house:timeKnownTo"] = "day"
        said = json.dumps(event, sort_keys=True, ensure_ascii=False)
        event["eventID"] = self.names.event(record, part, said)
        event["recordTime"] = _utc(record.recorded_at)
        if record.is_void:
            event["errorDeclaration"] = {
                "declarationTime": _utc(record.voided_at),
                "reason": "did_not_occur",
            }
        return event

    def _document(self, record: Any) -> Json:
        if not record.document_number:
            return {}
        name = f"{record.document_type} {record.document_number}".strip()
        kind = _DOCUMENTS.get(record.document_type.strip().lower())
        typed = {"type": kind} if kind else {}
        return {
            "bizTransactionList": [{**typed, "bizTransaction": self.names.of("document", name)}]
        }

    def _from_to(self, source: str, destination: str) -> Json:
        return {
            "sourceList": [{"type": "possessing_party", "source": source}],
            "destinationList": [{"type": "possessing_party", "destination": destination}],
        }

    # Lots ----------------------------------------------------------------------------

    def _made(self, ids: set[int] | None) -> Iterator[Json]:
        """Receipts and transformations, of lots made or added to in the period."""
        uses = self.scope.narrowed(LotUse.objects.live(), ids, "into")
        lots = self.scope.narrowed(Lot.objects.all(), ids, "pk")
        wanted = {*uses.values_list("into", flat=True), *lots.values_list("pk", flat=True)}
        into = _uses_into(wanted)
        rows = Lot.objects.filter(pk__in=ids_in(wanted)).select_related(
            *DETAIL_PATHS, "as_culture__supplier"
        )
        for lot in rows.order_by("pk"):
            for event in self._lot(lot, into[lot.pk]):
                if self.scope.period.has(dt.datetime.fromisoformat(event["eventTime"])):
                    yield event

    def _lot(self, lot: Lot, uses: list[LotUse]) -> Iterator[Json]:
        if not uses:
            yield self._arrival(lot)
            return
        first = [use for use in uses if use.added is None]
        when = max([lot.when, *(use.when for use in first)])
        yield self._transformation(lot, lot, when, first, lot.made)
        for use in uses:
            if use.added is not None:
                yield self._transformation(lot, use, use.when, [use], use.added)

    def _transformation(
        self, lot: Lot, record: Any, when: When, uses: list[LotUse], made: int | None
    ) -> Json:
        contents: Json = {
            "transformationID": self.names.of("transformation", f"{lot.code}-{lot.pk}"),
            "outputQuantityList": [self._of(lot, made)],
            "bizStep": "commissioning",
            "disposition": "in_progress",
            "ilmd": _ilmd(lot),
        }
        if uses:
            inputs = [self._of(use.source, use.quantity) for use in uses]
            contents["inputQuantityList"] = inputs
        return self._event("TransformationEvent", record, when, contents)

    def _arrival(self, lot: Lot) -> Json:
        """What came in, was picked, or stands at the beginning of the record."""
        contents: Json = {"quantityList": [self._of(lot, lot.made)], "action": "OBSERVE"}
        supplier = getattr(lot.detail, "supplier", None)
        if supplier is None and lot.kind not in {LotKind.INGREDIENT, LotKind.CULTURE}:
            contents |= {"action": "ADD", "bizStep": "commissioning", "ilmd": _ilmd(lot)}
            return self._event("ObjectEvent", lot, lot.when, contents)
        contents |= {"bizStep": "receiving", "disposition": "in_progress"}
        if supplier is not None:
            contents |= self._from_to(self._party(supplier)["id"], self.names.brewery)
        detail = lot.detail
        if isinstance(detail, IngredientLot):
            contents |= self._document(detail)
            if detail.picked_on and supplier is None:
                contents["bizStep"] = "collecting"
            if detail.acceptance == IngredientLot.Acceptance.REJECTED:
                contents["disposition"] = "non_sellable_other"
        return self._event("ObjectEvent", lot, lot.when, contents)

    # What left, moved and was measured -----------------------------------------------

    def _sent(self, ids: set[int] | None) -> Iterator[Json]:
        lines = self.scope.narrowed(
            ShipmentLine.objects.all(), ids, "lot", at="shipment__happened_at"
        ).select_related("shipment__customer", "shipment__ship_from", *_lot_paths())
        by_shipment: dict[Shipment, list[ShipmentLine]] = defaultdict(list)
        for line in lines.order_by("shipment", "pk"):
            if line.is_void and not line.shipment.is_void:
                continue
            by_shipment[line.shipment].append(line)
        for shipment, sent in by_shipment.items():
            to = self._party(shipment.customer)["id"]
            contents = {
                "action": "OBSERVE",
                "quantityList": [self._of(line.lot, line.quantity) for line in sent],
                "bizStep": "shipping",
                "disposition": "in_transit",
                **self._from_to(self.names.brewery, to),
                **self._document(shipment),
            }
            if shipment.ship_from:
                contents["readPoint"] = self._party(shipment.ship_from)
            yield self._event("ObjectEvent", shipment, shipment.when, contents)

    def _adjusted(self, ids: set[int] | None) -> Iterator[Json]:
        rows = self.scope.narrowed(StockAdjustment.objects.all(), ids, "lot")
        for each in rows.select_related("customer", *_lot_paths()).order_by("pk"):
            step, disposition = _GONE.get(_Reason(each.reason), ("destroying", "destroyed"))
            contents = {
                "action": "OBSERVE" if each.reason in _STAYS else "DELETE",
                "quantityList": [self._of(each.lot, abs(each.change))],
                "bizStep": step,
                **({"disposition": disposition} if disposition else {}),
                "house:reason": each.get_reason_display(),
            }
            if each.change < 0:
                contents["house:change"] = "less"
            if each.customer:
                contents |= self._from_to(self._party(each.customer)["id"], self.names.brewery)
            yield self._event("ObjectEvent", each, each.when, contents)

    def _moved(self, ids: set[int] | None) -> Iterator[Json]:
        rows = self.scope.narrowed(Move.objects.all(), ids, "lot")
        for move in rows.select_related("to_location", *_lot_paths()).order_by("pk"):
            place = self._party(move.to_location)
            contents = {
                "action": "OBSERVE",
                "quantityList": [self._of(move.lot, move.quantity)],
                "bizStep": "storing",
                "readPoint": place,
                "bizLocation": place,
            }
            yield self._event("ObjectEvent", move, move.when, contents)

    def _measured(self, ids: set[int] | None) -> Iterator[Json]:
        readings = Checkpoint.objects.filter(lot__isnull=False)
        rows = self.scope.narrowed(readings, ids, "lot").select_related("instrument", *_lot_paths())
        for reading in rows.order_by("pk"):
            yield self._sample(reading, "sampling")
        rows = self.scope.narrowed(LabResult.objects.all(), ids, "lot")
        for result in rows.select_related(*_lot_paths()).order_by("pk"):
            yield self._sample(result, "inspecting")

    def _read_in_places(self, ids: set[int] | None) -> Iterator[Json]:
        readings = Checkpoint.objects.filter(self.scope.period.during(), location__isnull=False)
        stood = None if ids is None else _stood_by_place(ids)
        for reading in readings.select_related("location", "instrument").order_by("pk"):
            if stood is not None and not any(
                may_have_stood(stay, reading.when) for stay in stood[reading.location_id or 0]
            ):
                continue
            place = self._party(reading.location)
            contents = {
                "action": "OBSERVE",
                "bizStep": "sensor_reporting",
                "readPoint": place,
                "bizLocation": place,
                "sensorElementList": [self._sensed(reading)],
            }
            yield self._event("ObjectEvent", reading, reading.when, contents)

    def _sensed(self, record: Checkpoint | LabResult) -> Json:
        """The value with its unit, and by which of the brewery's instruments it was read."""
        kind, uom = _SENSOR[Measurand(record.measurand)]
        report: Json = {
            "type": kind,
            "value": float(record.value),
            **({"uom": uom} if uom else {}),
            "house:measured": record.get_measurand_display(),
        }
        instrument = getattr(record, "instrument", None)
        read_by = {"deviceID": self.names.record(instrument)} if instrument else {}
        return {**({"sensorMetadata": read_by} if read_by else {}), "sensorReport": [report]}

    def _sample(self, record: Checkpoint | LabResult, step: str) -> Json:
        contents: Json = {
            "action": "OBSERVE",
            "quantityList": [self._of(record.lot)],  # type: ignore[arg-type]
            "bizStep": step,
            "sensorElementList": [self._sensed(record)],
        }
        if isinstance(record, LabResult) and record.report_number:
            number = self.names.of("document", f"laboratory report {record.report_number}")
            contents["bizTransactionList"] = [{"type": "testres", "bizTransaction": number}]
        return self._event("ObjectEvent", record, record.when, contents)

    # Decisions -----------------------------------------------------------------------

    def _decided(self, ids: set[int] | None) -> Iterator[Json]:
        holds = self.scope.narrowed(Hold.objects.all(), ids, "lot")
        for hold in holds.select_related(*_lot_paths()).order_by("pk"):
            found = {"bizStep": "holding", "disposition": "non_sellable_other"}
            yield self._decision(hold, hold.lot, hold.when, found)
        decided = MarketDecision.objects.filter(kind=MarketDecision.Kind.RECALL)
        recalls = self.scope.narrowed(decided, ids, "hold__lot", at="recorded_at")
        for recall in recalls.select_related("hold", *detail_paths("hold__lot")).order_by("pk"):
            found = {"bizStep": "holding", "disposition": "recalled"}
            yield self._decision(recall, recall.hold.lot, When(recall.recorded_at), found)
        releases = self.scope.narrowed(Release.objects.all(), ids, "lot", at="recorded_at")
        for release in releases.select_related("undone_by", *_lot_paths()).order_by("pk"):
            said = {"bizStep": "inspecting", "persistentDisposition": {"set": ["conformant"]}}
            yield self._decision(release, release.lot, When(release.recorded_at), said)
            if release.undone_by:
                said = {"bizStep": "inspecting", "persistentDisposition": {"unset": ["conformant"]}}
                undone = When(release.undone_by.signed_at)
                yield self._decision(release, release.lot, undone, said, "undone")

    def _decision(self, record: Any, lot: Lot, when: When, contents: Json, part: str = "") -> Json:
        said = {"action": "OBSERVE", "quantityList": [self._of(lot)], **contents}
        return self._event("ObjectEvent", record, when, said, part)


def _lot_paths() -> list[str]:
    return ["lot", *detail_paths("lot")]


def _stood_by_place(lot_ids: set[int]) -> dict[int, list[Stay]]:
    """Where lots stood and when, by place."""
    found: dict[int, list[Stay]] = defaultdict(list)
    for stays in stays_of(lot_ids).values():
        for stay in stays:
            if stay.location is not None:
                found[stay.location.pk].append(stay)
    return found


def _uses_into(lot_ids: Iterable[int]) -> dict[int, list[LotUse]]:
    found: dict[int, list[LotUse]] = defaultdict(list)
    rows = LotUse.objects.live().filter(into__in=ids_in(lot_ids))
    for use in rows.select_related("source", *detail_paths("source")).order_by("pk"):
        found[use.into_id].append(use)
    return found


def _ilmd(lot: Lot) -> Json:
    """What the lot is and was given when it was made (names of the CBV, from memory)."""
    found = {"cbvmda:lotNumber": lot.code, "cbvmda:descriptionShort": what(lot)}
    best_before = getattr(lot.detail, "best_before", None)
    if best_before:
        found["cbvmda:bestBeforeDate"] = best_before.isoformat()
    return found


def _time(when: When) -> Json:
    offset = f"{timezone.localtime(when.at):%z}"
    return {"eventTime": _utc(when.at), "eventTimeZoneOffset": f"{offset[:3]}:{offset[3:5]}"}


def _utc(at: dt.datetime) -> str:
    return at.astimezone(dt.UTC).isoformat(timespec="milliseconds")


def lot_facts(lot: Lot) -> dict[str, str]:
    """A lot in the header's list of what the events name."""
    facts = {"cbvmda:lotNumber": lot.code, "cbvmda:descriptionShort": f"{lot.kind}: {what(lot)}"}
    if suppliers_code(lot):
        facts["house:suppliersLotCode"] = suppliers_code(lot)
    return facts
