"""Whatever is done in whatever order, nothing within reach of an open hold leaves, and nothing
outside is kept back. Reach is worked out beside by networkx, from a list of what was done."""

from __future__ import annotations

import networkx as nx
import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from brewlog.domain import holds
from brewlog.domain.blocks import blocks
from brewlog.models import Hold
from brewlog.recording import Refused
from compliance.documents.label_packet import collect_label
from compliance.domain import deviations, releases
from compliance.models import Disposition
from tests import factories
from tests.factories import at

PASSWORD = "living culture 7"
BATCHES, BOTTLINGS = 4, 4
# Causes that travel with the drink; the others stop at their lot.
FLOWS = {"mould", "acidification", "foreign", "allergen"}
CAUSES = ("mould", "acidification", "foreign", "allergen", "alcohol", "label")

steps = st.lists(
    st.one_of(
        st.tuples(st.just("hold"), st.integers(0, 8), st.sampled_from(CAUSES)),
        st.tuples(st.just("hold"), st.integers(0, 4), st.sampled_from(["foreign", "allergen"])),
        st.tuples(st.just("lift"), st.integers(0, 8)),
        st.tuples(st.just("dispose"), st.integers(0, 8), st.integers(0, 17)),
        st.tuples(st.just("ship"), st.integers(5, 8)),
        st.tuples(st.just("release"), st.integers(5, 8)),
    ),
    min_size=3,
    max_size=10,
)
# Which earlier batch each batch was blended from (0: none), and which batch each bottling drew.
blends = st.tuples(*(st.integers(0, n) for n in range(1, BATCHES)))
draws = st.tuples(*(st.integers(1, BATCHES) for _ in range(BOTTLINGS)))


class Plant:
    """A culture (0), batches (1 to 4) from it or from each other, bottlings (5 to 8)."""

    def __init__(self, actor, blended, drawn):
        self.actor = actor
        self.graph = nx.DiGraph()
        self.lots = [factories.culture(actor, "40 L")]
        for number in range(BATCHES):
            source = blended[number - 1] if number else 0
            starter = self.lots[0] if not source or number % 2 else factories.culture(actor)
            batch = factories.batch(actor, "60 L", starter=starter, starter_amount="2 L")
            self.lots.append(batch)
            if starter is self.lots[0]:
                self.graph.add_edge(0, number + 1)
            if source:
                factories.use(actor, self.lots[source], batch, "3 L", when=at(5))
                self.graph.add_edge(source, number + 1)
        for number, batch in enumerate(drawn):
            self.lots.append(factories.bottles(actor, 20, self.lots[batch], "7 L", when=at(12)))
            self.graph.add_edge(batch, BATCHES + 1 + number)
        self.graph.add_nodes_from(range(len(self.lots)))
        self.holds: list[tuple[Hold, int, set[int]]] = []

    def is_held(self, number: int) -> bool:
        """The oracle: by the holds placed, where they flow, and where they were ended."""
        return any(number in self._reach(*each) for each in self.holds)

    def _reach(self, hold: Hold, at_lot: int, ends: set[int]) -> set[int]:
        if hold.cause not in FLOWS:
            return {at_lot} - ends
        walled = self.graph.subgraph(set(self.graph) - ends)
        if at_lot in ends:
            return set()
        return {at_lot} | nx.descendants(walled, at_lot)

    def open_on(self, number: int) -> list[int]:
        return [i for i, (_, at_lot, _) in enumerate(self.holds) if at_lot == number]

    def hold(self, number, cause):
        if any(self.holds[i][0].cause == cause for i in self.open_on(number)):
            return
        placed = factories.hold(self.actor, self.lots[number], cause)
        self.holds.append((placed, number, set()))

    def lift(self, number):
        for index in reversed(self.open_on(number)):
            placed = self.holds[index][0]
            holds.lift(actor=self.actor, lot=self.lots[number], reason="clean", cause=placed.cause)
            del self.holds[index]

    def dispose(self, index, number):
        """A signed release of one lot under one hold, where its cause allows it."""
        if not self.holds:
            return
        index %= len(self.holds)
        placed, at_lot, ends = self.holds[index]
        reach = sorted(self._reach(placed, at_lot, ends))
        if reach and number % 2:
            number = reach[number // 2 % len(reach)]
        number %= len(self.lots)
        allowed = Disposition.Kind.RELEASE in Disposition.ALLOWED[Hold.Cause(placed.cause)]
        decide = {
            "actor": self.actor,
            "hold": placed,
            "lot": self.lots[number],
            "kind": "release",
            "why": "plated, clean",
            "password": PASSWORD,
            "authority_asked": "asked",
        }
        if not allowed or number not in reach:
            with pytest.raises(Refused):
                deviations.dispose(**decide)
        else:
            deviations.dispose(**decide)
            if number == at_lot:
                del self.holds[index]
            else:
                ends.add(number)

    def ship(self, number):
        self._goes(number, lambda: factories.shipment(self.actor, self.lots[number], "1"))
        self._goes(number, lambda: self._label(number))

    def _label(self, number):
        collect_label(self.lots[number], printed_by=self.actor, printed_at=at(26).at)

    def release(self, number):
        if releases.standing_release(self.lots[number]):
            return
        self._goes(
            number,
            lambda: releases.release(actor=self.actor, lot=self.lots[number], password=PASSWORD),
        )

    def _goes(self, number, act):
        """It is done exactly where the oracle lets it."""
        if self.is_held(number):
            with pytest.raises(Exception, match=r"held|hold"):
                act()
        else:
            act()

    def agree(self):
        for number, lot in enumerate(self.lots):
            assert bool(blocks(lot)) == self.is_held(number), (number, self.holds)


@pytest.mark.django_db
@settings(
    max_examples=25,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(blended=blends, drawn=draws, done=steps)
def test_nothing_held_leaves_and_nothing_else_is_kept_back(reviewer, blended, drawn, done):
    with transaction.atomic():
        plant = Plant(reviewer, blended, drawn)
        for name, *details in done:
            getattr(plant, name)(*details)
            plant.agree()
        transaction.set_rollback(True)
