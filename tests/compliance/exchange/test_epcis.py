"""Trace events: every record has its event, the schema holds, and the same is the same."""

from __future__ import annotations

import datetime as dt
import json
import os
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from jsonschema import Draft7Validator, FormatChecker

from brewlog.domain import lots, stock
from brewlog.models import Location, ShipmentLine
from compliance.domain import releases
from compliance.exchange.epcis import collect_events
from compliance.exchange.scopes import BACKWARD, FORWARD, Period, Scope
from tests import factories
from tests.compliance.documents import story as told
from tests.compliance.documents.story import PRINTED_AT, base

PASSWORD = "living culture 7"
FORMATS = FormatChecker([])


@FORMATS.checks("uri", raises=ValueError)
def is_uri(value: object) -> bool:
    return not isinstance(value, str) or bool(urlsplit(value).scheme)


@FORMATS.checks("date-time", raises=ValueError)
def is_time(value: object) -> bool:
    return not isinstance(value, str) or dt.datetime.fromisoformat(value).tzinfo is not None


@pytest.fixture
def story(brewery, manager):
    return told.tell(manager)


def document_of(scope: Scope | None = None) -> dict:
    packet = collect_events(scope or Scope(), printed_by="a command", printed_at=PRINTED_AT)
    return json.loads(packet.to_json())


def events_of(scope: Scope | None = None) -> list[dict]:
    return document_of(scope)["epcisBody"]["eventList"]


def void_shipment(story) -> None:
    line = ShipmentLine.objects.get()
    for record in (line, line.shipment):
        lots.void(actor=story.actor, record=record, reason="never left")


def steps(events: list[dict]) -> set[str]:
    return {event["bizStep"] for event in events}


def about(events: list[dict], step: str, code: str) -> list[dict]:
    """The events of that step that name a lot."""
    return [
        event
        for event in events
        if event["bizStep"] == step
        and any(
            quantity["epcClass"].endswith(f"/{code}")
            for quantity in event.get("quantityList", event.get("outputQuantityList"))
        )
    ]


@pytest.mark.epcis_schema
def test_the_published_schema_holds_for_everything_there_is(story):
    told.hold(story.actor, story.batch, why="grey-green spots")
    void_shipment(story)
    factories.reading(
        story.actor, None, value="4.2 °C", when=factories.at(16), measurand="temperature",
        location=Location.objects.get(name="Cooler"), instrument=factories.instrument(story.actor),
    )  # fmt: skip
    schema = json.loads(Path(os.environ["BREWLOG_EPCIS_SCHEMA"]).read_text())
    document = document_of()
    errors = Draft7Validator(schema, format_checker=FORMATS).iter_errors(document)
    assert [error.message for error in errors] == []
    assert len(document["epcisBody"]["eventList"]) > 10
    document["epcisBody"]["eventList"][0]["bizStep"] = "transforming"
    assert not Draft7Validator(schema, format_checker=FORMATS).is_valid(document)


def test_a_reading_of_a_place_is_what_a_sensor_said_at_its_read_point(story):
    probe = factories.instrument(story.actor, kind="thermometer")
    cooler = Location.objects.get(name="Cooler")
    factories.reading(
        story.actor, None, value="4.2 °C", when=factories.at(16), measurand="temperature",
        location=cooler, instrument=probe,
    )  # fmt: skip

    [event] = [each for each in events_of() if each["bizStep"] == "sensor_reporting"]

    assert event["readPoint"]["id"].endswith(f"location/{cooler.pk}")
    assert "quantityList" not in event
    [sensed] = event["sensorElementList"]
    assert sensed["sensorMetadata"]["deviceID"].endswith(f"instrument/{probe.pk}")
    [report] = sensed["sensorReport"]
    assert (report["type"], report["value"], report["uom"]) == ("Temperature", 4.2, "CEL")


def test_a_lots_trace_has_the_readings_of_where_its_lots_stood_while_they_did(story):
    """The bottles were put into the cooler on the fifteenth."""
    elsewhere = factories.location(story.actor, "Van")
    cooler = Location.objects.get(name="Cooler")
    for day, value, place in ((13, "9 °C", cooler), (16, "4 °C", cooler), (16, "8 °C", elsewhere)):
        factories.reading(
            story.actor, None, value=value, when=factories.at(day), measurand="temperature",
            location=place,
        )  # fmt: skip

    said = [
        event["sensorElementList"][0]["sensorReport"][0]["value"]
        for event in events_of(Scope(base(story.bottles), FORWARD))
        if event["bizStep"] == "sensor_reporting"
    ]

    assert said == [4.0]


def test_receipts_name_the_lot_the_amount_the_supplier_and_the_document(story):
    (event,) = about(events_of(), "receiving", story.tea.code)
    assert event["type"] == "ObjectEvent"
    assert event["quantityList"] == [
        {"epcClass": event["quantityList"][0]["epcClass"], "quantity": 10, "uom": "KGM"}
    ]
    assert event["sourceList"][0]["source"].endswith(f"supplier/{story.tea.supplier.pk}")
    (document,) = event["bizTransactionList"]
    assert document["type"] == "inv"
    assert document["bizTransaction"].endswith(f"INV-{story.tea.code}")


def test_what_went_into_a_lot_is_the_input_of_its_transformation(story):
    (event,) = about(events_of(), "commissioning", story.batch.code)
    sources = {quantity["epcClass"].rpartition("/")[2] for quantity in event["inputQuantityList"]}
    uses = base(story.batch).uses_in.filter(added__isnull=True)
    assert sources == {use.source.code for use in uses}
    assert event["outputQuantityList"][0]["quantity"] == story.batch.made / 1_000_000
    assert event["ilmd"]["cbvmda:lotNumber"] == story.batch.code


def test_a_later_top_up_is_another_event_of_the_same_transformation(story):
    more = factories.batch(story.actor, "20 L")
    factories.use(story.actor, more, story.batch, "5 L", factories.at(8))
    first, later = about(events_of(), "commissioning", story.batch.code)
    assert first["transformationID"] == later["transformationID"]
    assert later["outputQuantityList"][0]["quantity"] == 5
    assert len(later["inputQuantityList"]) == 1


def test_dispatch_is_one_event_for_each_shipment_with_all_its_lines(story):
    sent = [event for event in events_of() if event["bizStep"] == "shipping"]
    lines = ShipmentLine.objects.order_by("pk")
    assert sum(each["quantity"] for event in sent for each in event["quantityList"]) == sum(
        line.quantity for line in lines
    )
    assert len(sent) == lines.values("shipment").distinct().count()
    assert "uom" not in sent[0]["quantityList"][0]


def test_a_gtin_makes_a_digital_link(story):
    (event,) = about(events_of(), "commissioning", story.bottles.code)
    assert event["outputQuantityList"][0]["epcClass"] == (
        f"https://id.gs1.org/01/09520123456788/10/{story.bottles.code}"
    )


def test_decisions_are_events(story, reviewer):
    told.hold(story.actor, story.batch, why="grey-green spots")
    stock.adjust(
        actor=story.actor, lot=base(story.bottles), quantity=factories.quantity("3"),
        why="destroyed", when=factories.at(20), witness="Inés", already_done=True,
    )  # fmt: skip
    events = events_of()
    (held,) = about(events, "holding", story.batch.code)
    assert held["disposition"] == "non_sellable_other"
    assert [
        event["quantityList"][0]["quantity"]
        for event in events
        if event["bizStep"] == "destroying" and event["house:reason"] == "destroyed"
    ] == [3]


def test_a_release_is_conformant_until_it_is_taken_back(story, reviewer):
    bottles = factories.bottles(story.actor, 40)
    releases.review(actor=reviewer, lot=bottles, password=PASSWORD)
    releases.release(actor=reviewer, lot=bottles, password=PASSWORD)
    (event,) = [e for e in events_of() if "persistentDisposition" in e]
    assert event["persistentDisposition"] == {"set": ["conformant"]}
    releases.take_back_release(
        actor=reviewer, lot=bottles, password=PASSWORD, reason="a reading was mistyped"
    )
    found = [e["persistentDisposition"] for e in events_of() if "persistentDisposition" in e]
    assert sorted(found, key=str) == [{"set": ["conformant"]}, {"unset": ["conformant"]}]


def test_what_is_struck_out_is_declared_an_error_under_its_id(story):
    (sent,) = [event for event in events_of() if event["bizStep"] == "shipping"]
    void_shipment(story)
    (error,) = [event for event in events_of() if event["bizStep"] == "shipping"]
    assert error["eventID"] == sent["eventID"]
    assert error["errorDeclaration"]["reason"] == "did_not_occur"


def test_a_trace_holds_its_lots_and_no_others(story):
    strange = factories.batch(story.actor, "20 L", factories.at(4))
    backward = events_of(Scope(base(story.bottles), BACKWARD))
    assert about(backward, "receiving", story.tea.code)
    assert not about(backward, "commissioning", strange.code)
    forward = events_of(Scope(base(story.batch), FORWARD))
    assert not about(forward, "receiving", story.tea.code)
    assert "shipping" in steps(forward)


def test_a_period_holds_what_happened_in_it(story):
    day = dt.date(2026, 3, 16)
    events = events_of(Scope(period=Period(day, day)))
    assert events
    assert {event["eventTime"][:10] for event in events} == {"2026-03-16"}
    assert events_of(Scope(period=Period(dt.date(2030, 1, 1), None))) == []


def test_the_same_records_make_the_same_bytes(story):
    first, second = (
        collect_events(Scope(), printed_by="a command", printed_at=PRINTED_AT).to_json()
        for _ in range(2)
    )
    assert first == second
    ids = [event["eventID"] for event in json.loads(first)["epcisBody"]["eventList"]]
    assert len(ids) == len(set(ids))


def test_everything_named_is_described_in_the_header(story):
    document = document_of()
    masters = document["epcisHeader"]["epcisMasterData"]["vocabularyList"]
    known = {each["id"] for vocabulary in masters for each in vocabulary["vocabularyElementList"]}
    for event in document["epcisBody"]["eventList"]:
        for key in ("quantityList", "inputQuantityList", "outputQuantityList"):
            assert {each["epcClass"] for each in event.get(key, [])} <= known
        for each in event.get("destinationList", []):
            assert each["destination"] in known
