"""The bottling plan: equal to trying everything, never using more than there is."""

from __future__ import annotations

import itertools
import math
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from brewlog.science import bottling_plan
from brewlog.science.bottling_plan import BottleFormat, BottlingPlan, Flavour
from brewlog.science.errors import OutOfRange

from .settings import bounded

few = settings(bounded, max_examples=25)


def drink_units(flavour: Flavour, bottle: BottleFormat) -> int:
    """Tenths of a millilitre of drink in one bottle."""
    added = flavour.addition_ml_per_bottle + flavour.addition_ml_per_l * bottle.fill_ml / 1000.0
    return math.ceil((bottle.fill_ml - added) * 10 - 1e-6)


def used(flavours, formats, counts) -> dict[str, float]:
    """What the counts take of everything, named as the stocks below."""
    total: dict[str, float] = {}
    for (flavour, bottle), n in counts:
        added = flavour.addition_ml_per_bottle + flavour.addition_ml_per_l * bottle.fill_ml / 1000.0
        for name, quantity in (
            (f"{bottle.name} bottles", n),
            (bottle.cap, n),
            (f"{flavour.name} labels", n),
            (f"{flavour.name} flavouring", n * added),
        ):
            total[name] = total.get(name, 0.0) + quantity
    return total


def stocks(flavours, formats, caps) -> dict[str, float]:
    limits: dict[str, float | None] = {f"{b.name} bottles": b.in_stock for b in formats}
    limits |= caps
    limits |= {f"{f.name} labels": f.labels_in_stock for f in flavours}
    limits |= {f"{f.name} flavouring": f.addition_in_stock_ml for f in flavours}
    return {name: limit for name, limit in limits.items() if limit is not None}


def score(drink_l, flavours, formats, counts, step_ml=100.0) -> tuple[int, int, int, int] | None:
    """The four objectives in their order; None where more drink is used than there is."""
    available = math.floor(drink_l * 10_000 + 1e-6)
    volumes = {flavour.name: 0 for flavour in flavours}
    bottles = {flavour.name: 0 for flavour in flavours}
    for (flavour, bottle), n in counts:
        volumes[flavour.name] += n * drink_units(flavour, bottle)
        bottles[flavour.name] += n
    bottled = sum(volumes.values())
    if bottled > available:
        return None
    missing = sum(max(f.minimum_bottles - bottles[f.name], 0) for f in flavours)
    left = int((available - bottled) // (step_ml * 10))
    largest = max(drink_units(f, b) for f in flavours for b in formats)
    shares = sum(f.share for f in flavours)
    far = 0
    for flavour in flavours:
        distance = abs(volumes[flavour.name] - flavour.share / shares * bottled)
        far += max(math.ceil((distance - largest + 0.5) / largest - 1e-9), 0)
    return missing, left, far, sum(bottles.values())


def best_by_trying_everything(drink_l, flavours, formats, caps) -> tuple[int, int, int, int]:
    kinds = list(itertools.product(flavours, formats))
    limits = stocks(flavours, formats, caps)
    most = [
        int(
            min(drink_l * 10_000 // drink_units(f, b), b.in_stock if b.in_stock is not None else 99)
        )
        for f, b in kinds
    ]
    best = None
    for numbers in itertools.product(*(range(m + 1) for m in most)):
        counts = list(zip(kinds, numbers, strict=True))
        taken = used(flavours, formats, counts)
        if any(taken.get(name, 0.0) > limit + 1e-6 for name, limit in limits.items()):
            continue
        found = score(drink_l, flavours, formats, counts)
        if found is not None and (best is None or found < best):
            best = found
    assert best is not None
    return best


def counted(plan: BottlingPlan, flavours, formats):
    return [
        ((flavour, bottle), plan.counts[flavour.name, bottle.name])
        for flavour, bottle in itertools.product(flavours, formats)
    ]


stock = st.one_of(st.none(), st.integers(0, 9))


@st.composite
def small_cases(draw):
    flavours = [
        Flavour(
            name,
            share=draw(st.sampled_from([1.0, 2.0, 3.5])),
            minimum_bottles=draw(st.integers(0, 3)),
            addition_ml_per_l=draw(st.sampled_from([0.0, 80.0, 33.3])),
            addition_ml_per_bottle=draw(st.sampled_from([0.0, 15.0])),
            addition_in_stock_ml=draw(st.one_of(st.none(), st.floats(0.0, 300.0))),
            labels_in_stock=draw(stock),
        )
        for name in ("plain", "ginger")
    ]
    formats = [
        BottleFormat("small", 330.0, draw(st.integers(0, 6))),
        BottleFormat("large", draw(st.sampled_from([500.0, 750.0])), draw(st.integers(0, 5)), "b"),
    ]
    caps = draw(st.sampled_from([{}, {"cap": 3}, {"cap": 5, "b": 2}]))
    return draw(st.floats(0.1, 5.0)), flavours, formats, caps


@settings(bounded, max_examples=80)
@given(case=small_cases())
def test_small_plans_equal_trying_everything(case) -> None:
    drink_l, flavours, formats, caps = case
    plan = bottling_plan.plan_bottling(drink_l, flavours, formats, caps)
    assert plan.proven_best
    found = score(drink_l, flavours, formats, counted(plan, flavours, formats))
    assert found == best_by_trying_everything(drink_l, flavours, formats, caps)


@st.composite
def large_cases(draw):
    flavours = [
        Flavour(
            f"flavour {i}",
            share=draw(st.floats(0.1, 5.0)),
            minimum_bottles=draw(st.integers(0, 50)),
            addition_ml_per_l=draw(st.floats(0.0, 150.0)),
            addition_in_stock_ml=draw(st.one_of(st.none(), st.floats(0.0, 5000.0))),
            labels_in_stock=draw(st.one_of(st.none(), st.integers(0, 300))),
        )
        for i in range(draw(st.integers(1, 4)))
    ]
    formats = [
        BottleFormat(f"{fill}", float(fill), draw(st.one_of(st.none(), st.integers(0, 200))))
        for fill in draw(st.sampled_from([(330,), (330, 750), (330, 500, 750)]))
    ]
    return draw(st.floats(5.0, 300.0)), flavours, formats, {"cap": draw(st.integers(0, 900))}


@few
@given(case=large_cases())
def test_no_plan_uses_more_than_there_is(case) -> None:
    drink_l, flavours, formats, caps = case
    plan = bottling_plan.plan_bottling(drink_l, flavours, formats, caps)
    counts = counted(plan, flavours, formats)
    taken = used(flavours, formats, counts)
    for name, limit in stocks(flavours, formats, caps).items():
        assert taken.get(name, 0.0) <= limit + 1e-6
    bottled = sum(n * drink_units(f, b) for (f, b), n in counts) / 10.0
    assert bottled == pytest.approx(plan.drink_bottled_ml)
    assert plan.leftover_ml >= 0.0
    assert plan.drink_bottled_ml + plan.leftover_ml == pytest.approx(plan.drink_available_ml)
    assert drink_l * 1000.0 - plan.drink_available_ml < 0.1
    for need in plan.needs:
        assert need.quantity == pytest.approx(taken.get(need.what, 0.0))


FLAVOURS = (
    Flavour("Plain", 2.0),
    Flavour("Ginger", 1.0, 100, 80.0, 0.0, 9000.0, 150),
    Flavour("Raspberry", 1.0, 0, 0.0, 15.0),
    Flavour("Hop", 0.5, 0, 33.3),
)
FORMATS = (
    BottleFormat("330 mL", 330.0, 300),
    BottleFormat("500 mL", 500.0, 120, "swing top"),
    BottleFormat("750 mL", 750.0, 80),
)


@pytest.mark.parametrize("drink_l", [60.0, 115.24, 187.43, 200.0])
def test_a_usual_plan_is_proven_quickly(drink_l: float) -> None:
    times = []
    for _ in range(3):
        start = time.process_time()
        plan = bottling_plan.plan_bottling(drink_l, FLAVOURS, FORMATS, {"cap": 400})
        times.append(time.process_time() - start)
        assert plan.proven_best
    assert min(times) < 0.4  # 0.1 s on an idle machine; room for a busy one
    assert plan.leftover_ml < 100.0


def test_every_flavour_gets_its_share_where_nothing_is_short() -> None:
    plenty = [Flavour("Plain", 2.0), Flavour("Ginger", 1.0, addition_ml_per_l=80.0)]
    formats = [BottleFormat("330 mL", 330.0), BottleFormat("750 mL", 750.0)]
    plan = bottling_plan.plan_bottling(150.0, plenty, formats)
    plain = sum(
        n * drink_units(f, b) for (f, b), n in counted(plan, plenty, formats) if f is plenty[0]
    )
    assert plain / 10.0 == pytest.approx(plan.drink_bottled_ml * 2 / 3, abs=750.0)
    assert plan.shortages == ()
    assert plan.missing_from_minimum == {}


def test_missing_caps_are_named_and_counted() -> None:
    plan = bottling_plan.plan_bottling(
        33.0, [Flavour("Plain")], [BottleFormat("330 mL", 330.0)], {"cap": 60}
    )
    assert plan.bottles() == 60
    assert plan.leftover_ml == pytest.approx(40 * 330.0)
    (shortage,) = plan.shortages
    assert (shortage.what, shortage.short_by, shortage.unit) == ("cap", 40.0, "pieces")


def test_missing_flavouring_is_named_in_millilitres() -> None:
    ginger = Flavour("Ginger", addition_ml_per_bottle=20.0, addition_in_stock_ml=1000.0)
    plan = bottling_plan.plan_bottling(31.0, [ginger], [BottleFormat("330 mL", 330.0)])
    assert plan.bottles() == 50
    (shortage,) = plan.shortages
    assert shortage.what == "Ginger flavouring"
    assert shortage.short_by == pytest.approx(1000.0)


def test_a_minimum_that_there_is_too_little_drink_for_is_named() -> None:
    plan = bottling_plan.plan_bottling(
        10.0, [Flavour("Plain", minimum_bottles=40)], [BottleFormat("330 mL", 330.0)]
    )
    assert plan.missing_from_minimum == {"Plain": 10}
    assert plan.shortages[0].what == "drink for the minimum counts"
    assert plan.shortages[0].short_by == pytest.approx(3200.0)


def test_minimums_come_before_leftover_and_shares() -> None:
    flavours = [Flavour("Plain", 10.0), Flavour("Ginger", 1.0, minimum_bottles=20)]
    plan = bottling_plan.plan_bottling(9.9, flavours, [BottleFormat("330 mL", 330.0)])
    assert plan.counts["Ginger", "330 mL"] == 20
    assert plan.counts["Plain", "330 mL"] == 10


def test_no_drink_fills_no_bottles() -> None:
    plan = bottling_plan.plan_bottling(0.0, FLAVOURS, FORMATS)
    assert plan.bottles() == 0
    assert plan.missing_from_minimum == {"Ginger": 100}


def test_an_addition_that_fills_the_bottle_is_refused() -> None:
    with pytest.raises(OutOfRange, match="Addition of 340 mL is outside the range 0 to 330 mL"):
        bottling_plan.plan_bottling(
            10.0, [Flavour("Juice", addition_ml_per_bottle=340.0)], [BottleFormat("S", 330.0)]
        )
    with pytest.raises(ValueError, match="at least one flavour"):
        bottling_plan.plan_bottling(10.0, [], FORMATS)


@bounded
@given(
    vessel=st.floats(0.0, 500.0),
    starter=st.floats(0.0, 100.0),
    sediment=st.floats(0.0, 20.0),
    loss=st.floats(0.0, 0.5),
)
def test_what_is_available_and_what_is_taken_add_up(
    vessel: float, starter: float, sediment: float, loss: float
) -> None:
    result = bottling_plan.drink_available(
        (vessel, 0.5), (starter, 0.1), (sediment, 0.1), (0.2, 0.0), (loss, 0.0)
    )
    assert result.value >= 0.0
    if result.value > 0.0:
        total = result.value + starter + sediment + 0.2 + result.step("lost in filling")
        assert total == pytest.approx(vessel)


def test_litres_that_neither_bottles_nor_losses_explain() -> None:
    flavours, formats = FLAVOURS[:1], FORMATS[:1]
    plan = bottling_plan.plan_bottling(99.0, flavours, formats)
    outcome = bottling_plan.compare_with_actual(
        plan, {("Plain", "330 mL"): 290}, flavours, formats, (99.0, 0.5), (1.2, 0.1)
    )
    assert outcome.difference == {("Plain", "330 mL"): -10}
    assert outcome.drink_bottled_l == pytest.approx(95.7)
    assert outcome.unexplained_l == pytest.approx(99.0 - 95.7 - 1.2)
    assert outcome.standard_uncertainty_l == pytest.approx(math.hypot(0.5, 0.1))
    with pytest.raises(KeyError):
        bottling_plan.compare_with_actual(
            plan, {("Plain", "jug"): 1}, flavours, formats, (99.0, 0.5)
        )
