"""The totals of a recall packet, held on random small plants to a computation of their own."""

from __future__ import annotations

import datetime as dt

import networkx
import pytest
from hypothesis import given

from brewlog.models import BottlingLot, LotUse, ShipmentLine, StockAdjustment
from compliance.documents.recall_facts import collect_recall
from tests.trace.test_properties import build, each_alone, made, random_plants, sinks, uses

__all__ = ["each_alone"]
pytestmark = pytest.mark.django_db

PRINTED_AT = dt.datetime(2026, 5, 2, 8, 30, tzinfo=dt.UTC)


def counted(scope: set[int]) -> dict[str, int]:
    """From the rows alone: what was made, sent and came back of the bottling lots in a scope."""
    bottles = {lot.pk: lot for lot in BottlingLot.objects.all() if lot.pk in scope}
    found = {"made": 0, "shipped": 0, "returned": 0, "left": 0, "overdrawn": 0}
    for pk, lot in bottles.items():
        # Not counted yet: what went in of the same kind stands for it.
        poured = LotUse.objects.filter(into=pk, added=None, source__dimension="count")
        amount = lot.made if lot.made is not None else sum(use.quantity for use in poured)
        amount += sum(use.added or 0 for use in LotUse.objects.filter(into=pk))
        sent = sum(line.quantity for line in ShipmentLine.objects.filter(lot=pk))
        used = sum(use.quantity for use in LotUse.objects.filter(source=pk))
        changes = StockAdjustment.objects.filter(lot=pk)
        left = amount - sent - used + sum(each.change for each in changes)
        found["made"] += amount
        found["shipped"] += sent
        found["returned"] += sum(each.change for each in changes if each.reason == "return")
        found["left"] += max(0, left)
        found["overdrawn"] += max(0, -left)
    return found


@random_plants
@given(made=made, uses=uses, sinks=sinks)
def test_totals_are_those_of_a_count_over_the_rows(operator, each_alone, made, uses, sinks):
    def check() -> None:
        lots = build(operator, made, uses, sinks)
        graph = networkx.DiGraph()
        graph.add_nodes_from(lot.pk for lot in lots)
        graph.add_edges_from(LotUse.objects.values_list("source", "into"))
        for lot in (lots[0], lots[3], lots[6]):
            scope = {lot.pk, *networkx.descendants(graph, lot.pk)}
            expected = counted(scope)
            packet = collect_recall(lot, printed_by="a test", printed_at=PRINTED_AT)
            totals = {pair.label: pair.value for pair in packet.totals}
            assert {
                "made": totals["Pieces made"],
                "shipped": totals["Pieces shipped"],
                "returned": totals["Brought back"],
                "left": totals["Should be on hand"],
                "overdrawn": totals["Unexplained"],
            } == {name: str(number) for name, number in expected.items()}
            sent = ShipmentLine.objects.filter(lot__in=scope)
            assert sum(part.quantity for each in packet.recipients for part in each.lots) == sum(
                line.quantity for line in sent
            )
            customers = {line.shipment.customer.name for line in sent}
            customers |= {
                each.customer.name
                for each in StockAdjustment.objects.filter(lot__in=scope, reason="return")
            }
            assert {each.name for each in packet.recipients} == customers

    each_alone(check)
