from __future__ import annotations

import datetime as dt
import io
import json

import pypdf
import pytest
import time_machine
from django.urls import reverse
from reportlab.platypus import PageBreak

from compliance.documents.binder import binder
from compliance.documents.binder_packet import collect_binder
from compliance.documents.binding import Chapter, bind
from compliance.documents.page import paragraph
from compliance.domain import logs, releases
from compliance.exchange.scopes import Period
from tests import factories
from tests.compliance import rules
from tests.compliance.documents import story as told
from tests.compliance.documents.papers import ink_in_margins, pages_of, words_of
from tests.compliance.documents.story import PRINTED_AT
from tests.compliance.domain import plans as planned

PASSWORD = "living culture 7"
MARCH = Period(dt.date(2026, 3, 1), dt.date(2026, 3, 31))
APRIL = Period(dt.date(2026, 4, 1), dt.date(2026, 4, 30))


@pytest.fixture
def story(brewery, manager):
    return told.tell(manager)


def packet_of(period: Period = MARCH, *, every: bool = True):
    return collect_binder(period, every=every, printed_by="a command", printed_at=PRINTED_AT)


def outline(pdf: bytes) -> list[tuple[int, str, int]]:
    """Bookmarks of the first two levels: level, title, page number."""
    reader = pypdf.PdfReader(io.BytesIO(pdf))

    def walk(items, level):
        for item in items:
            if isinstance(item, list):
                yield from walk(item, level + 1)
            elif level < 2:
                yield level, item.title, reader.get_destination_page_number(item) + 1

    return list(walk(reader.outline, 0))


def test_contents_and_bookmarks_lead_to_the_pages(story, manager):
    planned.signed(manager)
    pdf = binder(packet_of(Period()))
    pages = pages_of(pdf)
    marks = outline(pdf)
    assert [title for level, title, _ in marks if level == 0] == [
        "Hazard plan", "Monitoring", "Cold and warm places, day by day", "Calibrations",
        "Deviations and corrections", "Verification: reviews, releases, reanalyses",
        "Logs and complaints", "Lot sheets",
    ]  # fmt: skip
    contents = pages[1]
    assert contents.startswith("Saltmarsh Ferments Binder") or "Contents" in contents
    for _, title, number in marks:
        assert f"{title} {number}" in contents
    lots = [(title, number) for level, title, number in marks if level and "26" in title]
    assert [title.partition(":")[0] for title, _ in lots] == ["B26061A", "L26071A"]
    for title, number in lots:
        code = title.partition(":")[0]
        assert f"Lot {code}, page {number} of {len(pages)}" in pages[number - 1]


def test_the_contents_links_are_there_to_be_clicked(story):
    page = pypdf.PdfReader(io.BytesIO(binder(packet_of()))).pages[1]
    assert len(page["/Annots"]) == len(outline(binder(packet_of())))


def test_released_lots_come_with_their_batches_and_others_only_where_asked(story, reviewer):
    assert packet_of(every=False).lots == ()
    assert "No lot was released in the period." in words_of(binder(packet_of(every=False)))
    batch = factories.batch(story.actor, "40 L", code="B-REL")
    bottles = factories.bottles(story.actor, 9, batch, "3 L", factories.at(13), code="L-REL")
    releases.review(actor=reviewer, lot=batch, password=PASSWORD)
    with time_machine.travel(factories.at(20).at, tick=False):
        releases.release(actor=reviewer, lot=bottles, password=PASSWORD)
    assert [lot.code for lot in packet_of(every=False).lots] == ["B-REL", "L-REL"]
    assert [lot.code for lot in packet_of().lots] == ["B26061A", "B-REL", "L26071A", "L-REL"]
    assert [line.what for line in packet_of().verification] == ["L-REL released"]


def test_the_records_of_the_period_are_in_it_and_no_others(story, manager):
    rules.deviation(manager, story.bottles, when=factories.at(12, 11))
    cooler = factories.location(manager, "Deep cooler", is_cold=True)
    for hour, value in ((8, "3.5"), (14, "6.1")):
        factories.reading(
            manager, None, value, factories.at(9, hour), measurand="temperature", location=cooler,
            stage="storage",
        )  # fmt: skip
    logs.write_log(
        actor=manager, log="cleaning", subject="Tank 2", what="rinsed", agent="hot water",
        when=factories.at(10),
    )  # fmt: skip
    packet = packet_of()
    assert [(day.place, day.readings, day.lowest, day.highest) for day in packet.rooms] == [
        ("Deep cooler", 2, "3.5 °C", "6.1 °C")
    ]
    assert [line.outcome for line in packet.calibrations] == [
        "in tolerance as found", "out of tolerance as found",
    ]  # fmt: skip
    assert [line.standing for line in packet.deviations] == ["OPEN"]
    assert [(line.log, line.subject) for line in packet.logs] == [("cleaning", "Tank 2")]
    words = words_of(binder(packet))
    for part in ("Deep cooler 9 Mar 2026 2 3.5 °C 6.1 °C", "rinsed; hot water", "Still open 1"):
        assert part in words
    later = packet_of(APRIL)
    assert (later.rooms, later.calibrations, later.deviations, later.logs) == ((), (), (), ())


def test_nothing_in_the_period_says_so_chapter_by_chapter(story):
    pdf = binder(packet_of(Period(dt.date(2031, 1, 1), dt.date(2031, 1, 31))), "letter")
    words = words_of(pdf)
    for part in (
        "No plan is in force.",
        "No plan in force refers to a limit.",
        "No temperature of a place was recorded in the period.",
        "No instrument was calibrated in the period.",
        "Nothing went wrong in the period that was written down.",
        "Nothing was reviewed, released or looked at again.",
        "Nothing was written in the logs in the period.",
        "Nothing was bottled in the period.",
    ):
        assert part in words
    assert ink_in_margins(pdf, 4) == 0


def test_the_same_records_make_the_same_bytes(story):
    first = packet_of()
    assert binder(first) == binder(packet_of())
    assert json.loads(first.to_json())["period"] == "2026-03-01 to 2026-03-31"


def test_the_page_asks_for_the_period_and_gives_the_binder(story, client, inspector):
    client.force_login(inspector)
    assert reverse("binder-pdf") in client.get(reverse("binder")).content.decode()
    asked = {"first": "2026-03-01", "last": "2026-03-31", "every": "yes"}
    answer = client.get(reverse("binder-pdf"), asked)
    assert answer["Content-Type"] == "application/pdf"
    assert "Lot L26071A" in words_of(answer.content)
    wrong = client.get(reverse("binder-pdf"), {"first": "2026-03-31", "last": "2026-03-01"})
    assert wrong.status_code == 400
    assert "This day is before the first." in wrong.content.decode()


def test_contents_longer_than_a_page_go_on_over_it(story):
    head = packet_of().head
    inside = []
    for number in range(120):
        title = f"Paper {number}"
        inside += [PageBreak(), Chapter(title, number % 2, head), paragraph(title)]
    pdf = bind(head, [paragraph("Cover")], inside, "letter")
    pages = pages_of(pdf)
    assert "Contents, continued" in pages[2]
    marks = outline(pdf)
    assert [title for _, title, _ in marks] == [f"Paper {number}" for number in range(120)]
    for _, title, number in marks:
        assert title in pages[number - 1]
        assert any(f"{title} {number}" in page for page in pages[1:5])
