"""Every kind of paper with what is longest and least usual: nothing fails, runs out of the page, or
is left out without a word."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

import pytest

from brewlog.domain import lots, people
from compliance.documents.binder import binder
from compliance.documents.binder_packet import collect_binder
from compliance.documents.cards import card, collect_card, collect_vessel_card
from compliance.documents.collect_lot import collect_lot
from compliance.documents.label_packet import collect_label
from compliance.documents.labels import labels
from compliance.documents.lot_sheet import lot_sheet
from compliance.documents.paper_forms import PAPERS, blank_papers, collect_papers
from compliance.documents.plan_packet import collect_plan
from compliance.documents.plan_paper import plan_paper
from compliance.documents.recall_facts import collect_recall
from compliance.documents.recall_packet import recall_packet
from compliance.documents.trace_packet import DIRECTIONS, collect_trace
from compliance.documents.trace_sheet import trace_sheet
from compliance.exchange.scopes import Period
from compliance.label_stock import SHEETS, LabelError, roll
from tests import factories
from tests.compliance.documents.papers import ink_in_margins, words_of
from tests.compliance.documents.story import PRINTED_AT, base
from tests.compliance.domain import plans as planned

pytestmark = pytest.mark.django_db

# Names are at most 120 letters long.
LONGEST = 120
# A paper's words keep 5 mm from its edges; printers reach nearer.
MARGIN_MM = 4.0


@dataclass(frozen=True)
class Case:
    paper: str
    units: str
    words: str
    has_logo: bool


CASES = {
    "Latin without spaces": Case("a4", "metric", "Ünwahrscheinlichlangerłączonyñame", False),
    "Arabic": Case("letter", "us", "شاي أسود L-17 بالزنجبيل، ", True),
    "Chinese": Case("a4", "us", "红茶康普茶，发酵十二天。", True),
    "Devanagari": Case("a4", "metric", "अदरक वाली क्षीण चाय, ", False),
    "Thai, which is lacking": Case("letter", "metric", "ชา ขิง หมัก ", False),
}


def long(words: str, length: int = LONGEST) -> str:
    return (words * (length // len(words) + 1))[:length].strip()


@pytest.fixture(params=CASES.values(), ids=CASES)
def case(request) -> Case:
    return request.param


@pytest.fixture
def large(story, case, manager):
    """The chain with everything named at the longest, long notes, and many uses."""
    people.change_brewery(
        actor=manager, reason="test", name=long(case.words), address=long(case.words, 400)
    )
    if case.has_logo:
        people.set_logo(actor=manager, reason="test", logo=factories.picture(900, 200))
    people.set_units(actor=manager, units=case.units, date_order="")
    story.actor.refresh_from_db()
    named = (
        story.tea.ingredient, story.tea.supplier, story.batch.vessel, story.culture.line,
        story.customer, story.batch.recipe.recipe,
    )  # fmt: skip
    for record in named:
        lots.correct(actor=manager, record=record, reason="test", name=long(case.words))
    note = long(case.words, 5000)
    factories.reading(manager, story.batch, "3.2", factories.at(10), note=note)
    herb = factories.ingredient(manager, long(f"herb {case.words}"))
    for number in range(30):
        lot = factories.ingredient_lot(manager, "1 kg", of=herb, supplier=None)
        factories.use(manager, lot, story.brew, f"{number + 1} g", purpose="ingredient")
    return story


def papers_of(story, case: Case) -> dict[str, Callable[[], bytes]]:
    """What makes each kind of paper there is."""
    by = {"printed_by": story.actor, "printed_at": PRINTED_AT}
    batch, bottles = base(story.batch), base(story.bottles)
    march = Period(dt.date(2026, 3, 1), dt.date(2026, 3, 31))
    plan = planned.draft(story.actor)
    return {
        "lot sheet": lambda: lot_sheet(collect_lot(batch, **by), case.paper),
        "sheet of the brew": lambda: lot_sheet(collect_lot(base(story.brew), **by), case.paper),
        **{
            f"trace {way}": lambda way=way: trace_sheet(
                collect_trace(bottles, way, **by), case.paper
            )
            for way in DIRECTIONS
        },
        "recall": lambda: recall_packet(collect_recall(base(story.tea), **by), case.paper),
        "plan": lambda: plan_paper(collect_plan(plan, **by), case.paper),
        "binder": lambda: binder(collect_binder(march, every=True, **by), case.paper),
        "blank papers": lambda: blank_papers(
            collect_papers(PAPERS[:2], url_of=lambda code: f"http://x/{code}", **by), case.paper
        ),
        "culture card": lambda: card(collect_card(base(story.culture), url="http://x/", **by)),
        "receiving tag": lambda: card(collect_card(base(story.tea), url="http://x/", **by)),
        "vessel card": lambda: card(
            collect_vessel_card(story.batch.vessel, url="http://x/", **by)
        ),
    }  # fmt: skip


def test_every_paper_is_made_and_keeps_its_margins(large, case):
    for kind, make in papers_of(large, case).items():
        pdf = make()
        assert words_of(pdf), kind
        assert ink_in_margins(pdf, MARGIN_MM) == 0, kind


def test_a_note_of_five_thousand_letters_is_on_the_lot_sheet_to_its_end(story, manager):
    words = " ".join(f"word{number}" for number in range(600))[:5000]
    factories.reading(manager, story.batch, "3.2", factories.at(10), note=words)
    packet = collect_lot(base(story.batch), printed_by=manager, printed_at=PRINTED_AT)
    said = words_of(lot_sheet(packet)).split()
    assert [word for word in words.split() if word not in said] == []


def test_a_label_of_three_hundred_ingredients_is_refused_by_name_or_holds_them_all(story, manager):
    packet = collect_label(base(story.bottles), printed_by=manager, printed_at=PRINTED_AT)
    named = tuple(f"herb{number}" for number in range(300))
    packet = dataclasses.replace(packet, ingredients=named)
    with pytest.raises(LabelError, match="There is no room for the ingredients"):
        labels(packet, count=1, sheet=SHEETS["single"])
    said = words_of(labels(packet, count=1, sheet=roll("large", 300, 400)))
    assert all(name in said for name in named)
