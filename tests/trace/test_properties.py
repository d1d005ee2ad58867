"""What holds of any plant, tried on random small ones.

The reference answers come from networkx and from whole fractions, written from the rules
in words and not from the trace's code.
"""

from __future__ import annotations

from fractions import Fraction

import networkx
import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from brewlog.ledger import mass_balances
from brewlog.models import Lot, LotUse
from brewlog.trace import (
    ancestor_ids,
    composition,
    descendant_ids,
    generations,
    recall,
    scope,
    where_it_went,
)
from tests.trace.plants import Plant, day, hour

pytestmark = pytest.mark.django_db

random_plants = settings(
    max_examples=40,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
amounts = st.integers(1, 60)
times = st.one_of(st.integers(0, 96).map(hour), st.integers(0, 4).map(day))
uses = st.lists(
    st.tuples(st.integers(0, 7), st.integers(0, 7), amounts, times, st.one_of(st.none(), amounts)),
    max_size=16,
)
sinks = st.lists(
    st.tuples(
        st.integers(0, 7), st.sampled_from(["ship", "sample", "count", "return"]), amounts, times
    ),
    max_size=8,
)
made = st.lists(st.one_of(st.none(), st.integers(0, 100)), min_size=8, max_size=8)


def build(operator, made, uses, sinks) -> list[Lot]:
    """Eight lots; every use goes from a lot to a later one, so there is no circle."""
    plant = Plant(operator)
    makers = [plant.culture, plant.batch, plant.batch, plant.tea]
    makers += [plant.batch, plant.culture, plant.bottles, plant.bottles]
    lots = [make(amount) for make, amount in zip(makers, made, strict=True)]
    for one, other, quantity, when, added in uses:
        if one != other:
            source, into = sorted((one, other))
            plant.use(lots[source], lots[into], quantity, when, added)
    for place, kind, quantity, when in sinks:
        if kind == "ship":
            plant.ship(lots[place], quantity, f"Shop {quantity % 3}", when)
        elif kind == "return":
            plant.adjust(lots[place], quantity, "return", when, by=f"Shop {quantity % 3}")
        else:
            plant.adjust(lots[place], -quantity, kind, when)
    return lots


@pytest.fixture
def each_alone():
    """Undo what an example wrote before the next."""

    class Undone(Exception):
        pass

    def run(check) -> None:
        with pytest.raises(Undone), transaction.atomic():
            check()
            raise Undone

    return run


@random_plants
@given(made=made, uses=uses)
def test_the_closure_is_that_of_networkx(operator, each_alone, made, uses):
    def check() -> None:
        lots = build(operator, made, uses, [])
        graph = networkx.DiGraph()
        graph.add_nodes_from(lot.pk for lot in lots)
        graph.add_edges_from(LotUse.objects.values_list("source", "into"))
        for lot in lots:
            down = {lot.pk, *networkx.descendants(graph, lot.pk)}
            assert descendant_ids([lot.pk]) == down
            assert ancestor_ids([lot.pk]) == {lot.pk, *networkx.ancestors(graph, lot.pk)}
            assert scope(lot).ids == down

    each_alone(check)


@random_plants
@given(made=made, uses=uses, sinks=sinks)
def test_the_sinks_of_a_lot_sum_to_the_whole_of_it(operator, each_alone, made, uses, sinks):
    def check() -> None:
        lots = build(operator, made, uses, sinks)
        balances = mass_balances(lot.pk for lot in lots)
        for lot in lots:
            went, balance = where_it_went(lot), balances[lot.pk]
            assert went.amount == balance.made + balance.added
            assert went.unexplained == balance.unexplained
            left = went.shipped + went.on_hand + sum(went.gone.values()) - went.unexplained
            assert abs(left - went.amount) <= 1

    each_alone(check)


@random_plants
@given(made=made, uses=uses, sinks=sinks)
def test_every_mass_balance_closes(operator, each_alone, made, uses, sinks):
    def check() -> None:
        lots = build(operator, made, uses, sinks)
        for lot in lots:
            balance = mass_balances([lot.pk])[lot.pk]
            came = balance.made + balance.added + balance.unexplained
            left = sum(balance.used.values()) + balance.shipped + balance.on_hand
            assert came + sum(balance.adjusted.values()) == left

    each_alone(check)


@random_plants
@given(made=made, uses=uses, sinks=sinks)
def test_forward_and_backward_tell_the_same_amounts(operator, each_alone, made, uses, sinks):
    def check() -> None:
        lots = build(operator, made, uses, sinks)
        made_of = {lot.pk: composition(lot) for lot in lots}
        for lot in lots:
            for share in where_it_went(lot).shares:
                if share.facts.lot_id != lot.pk:
                    part = made_of[share.facts.lot_id].part(lot.pk)
                    assert (part.entered, part.held) == (share.entered, share.on_hand)

    each_alone(check)


def expected_entered(lots: list[Lot]) -> dict[tuple[int, int], Fraction]:
    """How much of each lot entered each other, in fractions, by the rules in words."""
    held: dict[int, Fraction] = {lot.pk: Fraction(lot.made or 0) for lot in lots}
    inside: dict[int, dict[int, Fraction]] = {lot.pk: {} for lot in lots}
    entered: dict[tuple[int, int], Fraction] = {}
    dimension = {lot.pk: lot.dimension for lot in lots}
    measured = {lot.pk: lot.made is not None for lot in lots}
    for use in LotUse.objects.order_by("happened_at", "pk"):
        share = min(Fraction(1), use.quantity / held[use.source_id]) if held[use.source_id] else 1
        moved = {pk: amount * share for pk, amount in inside[use.source_id].items()}
        inside[use.source_id] = {
            pk: amount - moved[pk] for pk, amount in inside[use.source_id].items()
        }
        held[use.source_id] -= use.quantity
        moved[use.source_id] = Fraction(use.quantity)
        for pk, amount in moved.items():
            inside[use.into_id][pk] = inside[use.into_id].get(pk, Fraction(0)) + amount
            entered[use.into_id, pk] = entered.get((use.into_id, pk), Fraction(0)) + amount
        if use.added:
            held[use.into_id] += use.added
        elif not measured[use.into_id] and dimension[use.source_id] == dimension[use.into_id]:
            held[use.into_id] += use.quantity
    return entered


@random_plants
@given(
    steps=st.lists(
        st.tuples(
            st.integers(0, 7), st.integers(0, 7), st.integers(1, 20), st.one_of(st.none(), amounts)
        ),
        max_size=16,
    )
)
def test_amounts_are_those_of_fractions_but_for_the_rounding(operator, each_alone, steps):
    """Measured lots of 1000, never overdrawn, one thing after the other."""

    def check() -> None:
        timed = [
            (one, other, quantity, hour(number), added)
            for number, (one, other, quantity, added) in enumerate(steps)
        ]
        lots = build(operator, [1000] * 8, timed, [])
        found = {
            (lot.pk, part.facts.lot_id): part.entered
            for lot in lots
            for part in composition(lot).parts
        }
        expected = expected_entered(lots)
        assert found.keys() <= expected.keys()
        for pair, exact in expected.items():
            # One unit for each use a part may have come by.
            assert abs(found.get(pair, 0) - exact) <= len(steps)

    each_alone(check)


@random_plants
@given(made=made, uses=uses, sinks=sinks)
def test_what_was_drawn_before_holds_nothing_and_is_left_out_of_nothing(
    operator, each_alone, made, uses, sinks
):
    def check() -> None:
        lots = build(operator, made, uses, sinks)
        for lot in lots:
            answer = recall(lot)
            assert {each.scope.facts.lot_id for each in answer.lots} == descendant_ids([lot.pk])
            holding = {share.facts.lot_id for share in where_it_went(lot).shares}
            before = {each.facts.lot_id for each in answer.scope.drawn_before}
            assert holding & before == set()
            assert all(each.earlier for each in answer.scope.drawn_before)

    each_alone(check)


@random_plants
@given(uses=uses)
def test_transfers_are_the_most_kept_back_cultures_on_any_way(operator, each_alone, uses):
    def check() -> None:
        lots = build(operator, [50] * 8, uses, [])
        kept = {lot.pk for lot in lots if lot.kind == "culture"}
        for lot in lots:
            if lot.kind == "culture":
                Plant(operator).change(lot, origin="kept_back")
        graph = networkx.DiGraph(list(LotUse.objects.values_list("source", "into")))
        graph.add_nodes_from(lot.pk for lot in lots)
        for lot in lots:
            ways = [[lot.pk]]
            for start in networkx.ancestors(graph, lot.pk):
                ways += networkx.all_simple_paths(graph, start, lot.pk)
            longest = max(len(kept.intersection(way)) for way in ways)
            assert generations([lot.pk]) == {lot.pk: longest}

    each_alone(check)
