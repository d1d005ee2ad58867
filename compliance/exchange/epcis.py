"""An EPCIS 2.0 document (JSON-LD) of a scope: who and what is named, and every event."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import dataclass
from typing import Any

from brewlog.models import Brewery, User
from compliance.documents.page import Head
from compliance.documents.printing import desk
from compliance.exchange.events import EventWriter, Json, lot_facts
from compliance.exchange.scopes import Scope

# As ratified; from memory.
CONTEXT = "https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld"
SCHEMA_VERSION = "2.0"
MEDIA_TYPE = "application/ld+json"


@dataclass(frozen=True)
class EventPacket:
    """The events of a scope, and whom and what they name by address."""

    head: Head
    scope: str
    created_at: str
    vocabulary: str
    masters: tuple[Json, ...]
    events: tuple[Json, ...]

    def to_json(self) -> str:
        """The document, two spaces deep; the same packet makes the same bytes."""
        document = {
            "@context": [CONTEXT, {"house": self.vocabulary}],
            "type": "EPCISDocument",
            "schemaVersion": SCHEMA_VERSION,
            "creationDate": self.created_at,
            "sender": self.head.brewery,
            "epcisHeader": {"epcisMasterData": {"vocabularyList": list(self.masters)}},
            "epcisBody": {"eventList": list(self.events)},
        }
        return json.dumps(document, ensure_ascii=False, indent=2) + "\n"

    @property
    def counts(self) -> dict[str, int]:
        """How many events of each business step, most first."""
        steps = [event.get("bizStep", "") for event in self.events]
        found = {step: steps.count(step) for step in set(steps)}
        return dict(sorted(found.items(), key=lambda item: (-item[1], item[0])))


def collect_events(scope: Scope, *, printed_by: User | str, printed_at: dt.datetime) -> EventPacket:
    """Every event of the scope, in the order they happened."""
    with desk(printed_by, printed_at) as at_desk:
        writer = EventWriter(scope, at_desk.brewery, printed_at)
        events = writer.all()
        return EventPacket(
            head=at_desk.head("Trace events", str(scope), "as recorded"),
            scope=str(scope),
            created_at=printed_at.astimezone(dt.UTC).isoformat(timespec="milliseconds"),
            vocabulary=writer.names.vocabulary,
            masters=tuple(_masters(writer, at_desk.brewery)),
            events=tuple(events),
        )


def _masters(writer: EventWriter, brewery: Brewery) -> list[Json]:
    """The header's lists (types and attributes of the CBV, from memory)."""
    lots = {writer.names.lot(lot): lot_facts(lot) for lot in writer.lots.values()}
    places = {writer.names.brewery: _address(brewery)}
    parties: dict[str, dict[str, str]] = {}
    for name, record in sorted(writer.parties.items()):
        (places if record._meta.model_name == "location" else parties)[name] = _address(record)
    lists = (("EPCClass", lots), ("BusinessLocation", places), ("SourceDest", parties))
    return [_vocabulary(kind, found) for kind, found in lists if found]


def _vocabulary(kind: str, found: dict[str, dict[str, str]]) -> Json:
    elements = [
        {
            "id": name,
            "attributes": [{"id": key, "attribute": value} for key, value in facts.items()],
        }
        for name, facts in sorted(found.items())
    ]
    return {"type": f"urn:epcglobal:epcis:vtype:{kind}", "vocabularyElementList": elements}


def _address(record: Any) -> dict[str, str]:
    facts = {
        "cbvmda:name": record.name,
        "cbvmda:streetAddressOne": " ".join(record.address.split()),
        "cbvmda:countryCode": getattr(record, "country", ""),
    }
    return {key: value for key, value in facts.items() if value}
