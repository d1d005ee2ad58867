"""Twelve vessels worked out by hand: what each draw held, in time."""

from __future__ import annotations

import pytest

from brewlog.ledger import mass_balance
from brewlog.trace import composition, where_it_went
from tests.trace.plants import day, hour

L = 1_000_000  # µL
G = 1_000  # mg

pytestmark = pytest.mark.django_db


def held(lot, of) -> int:
    """How much of a lot ever went into another."""
    part = composition(lot).part(of.pk)
    return part.entered if part else 0


def test_vessel_1_a_draw_before_an_addition_holds_none_of_it(plant):
    """60 L, 40 L drawn to A, then 40 L of X added, then 30 L drawn to B.

    At B's draw the vessel holds 20 + 40 = 60 L, of it 40 L X: B's 30 L take half of X.
    """
    vessel, x = plant.batch(60 * L), plant.batch(40 * L)
    a, b = plant.batch(40 * L), plant.batch(30 * L)
    plant.use(vessel, a, 40 * L, hour(1))
    plant.use(x, vessel, 40 * L, hour(2), added=40 * L)
    plant.use(vessel, b, 30 * L, hour(3))

    assert (held(a, x), held(b, x)) == (0, 20 * L)
    went = where_it_went(x)
    assert {share.facts.lot_id: share.on_hand for share in went.shares} == {
        x.pk: 0,
        vessel.pk: 20 * L,
        b.pk: 20 * L,
    }


def test_vessel_2_what_went_in_before_the_measuring_is_part_of_what_was_made(plant):
    """6 L starter in a batch measured at 60 L: a 20 L draw takes a third of it, 2 L."""
    starter, batch, out = plant.culture(10 * L), plant.batch(60 * L), plant.batch(20 * L)
    plant.use(starter, batch, 6 * L, hour(1))
    plant.use(batch, out, 20 * L, hour(2))

    assert held(out, starter) == 2 * L


def test_vessel_3_weight_and_volume_are_counted_apart(plant):
    """300 g of tea in 60 L: a 20 L draw takes 100 g of it, and 20 L of the batch."""
    tea, batch, out = plant.tea(1000 * G), plant.batch(60 * L), plant.batch(20 * L)
    plant.use(tea, batch, 300 * G, hour(1))
    plant.use(batch, out, 20 * L, hour(2))

    parts = {part.facts.lot_id: part.entered for part in composition(out).parts}
    assert parts == {tea.pk: 100 * G, batch.pk: 20 * L}


def test_vessel_4_an_unmeasured_vessel_holds_what_went_in_of_its_own_dimension(plant):
    """30 L + 10 L into a vessel nobody measured, and 50 g of tea: 40 L. A 10 L draw takes
    a quarter of each: 7.5 L, 2.5 L and 12.5 g."""
    first, second, tea = plant.batch(30 * L), plant.batch(10 * L), plant.tea(50 * G)
    vessel, out = plant.batch(None), plant.batch(10 * L)
    plant.use(first, vessel, 30 * L, hour(1))
    plant.use(second, vessel, 10 * L, hour(2))
    plant.use(tea, vessel, 50 * G, hour(3))
    plant.use(vessel, out, 10 * L, hour(4))

    assert (held(out, first), held(out, second), held(out, tea)) == (7_500_000, 2_500_000, 12_500)
    assert mass_balance(vessel).on_hand == 30 * L


def test_vessel_5_two_draws_of_half_what_is_left_take_a_half_and_a_quarter(plant):
    """8 L X in 40 L: 20 L takes 4 L X, then 10 L takes 2 L X, 2 L stay."""
    x, vessel = plant.batch(8 * L), plant.batch(40 * L)
    one, two = plant.batch(20 * L), plant.batch(10 * L)
    plant.use(x, vessel, 8 * L, hour(1))
    plant.use(vessel, one, 20 * L, hour(2))
    plant.use(vessel, two, 10 * L, hour(3))

    assert (held(one, x), held(two, x)) == (4 * L, 2 * L)
    assert composition(vessel).part(x.pk).held == 2 * L


def test_vessel_6_the_remainder_of_a_rounding_stays_in_the_vessel(plant):
    """10 mg of tea in 3 pieces: the draws of 1 take 3, 3 and 4; nothing is lost."""
    tea, case = plant.tea(10), plant.bottles(3)
    ones = [plant.bottles(1) for _ in range(3)]
    plant.use(tea, case, 10, hour(1))
    for number, one in enumerate(ones):
        plant.use(case, one, 1, hour(2 + number))

    assert [held(one, tea) for one in ones] == [3, 3, 4]


def test_vessel_7_a_blend_holds_both_and_each_in_its_share(plant):
    """A third of 30 L with 6 L of X, and half of 20 L with 4 L of Y: 2 L X, 2 L Y."""
    x, y = plant.culture(6 * L), plant.culture(4 * L)
    first, second, blend = plant.batch(30 * L), plant.batch(20 * L), plant.bottles(60)
    plant.use(x, first, 6 * L, hour(1))
    plant.use(y, second, 4 * L, hour(1))
    plant.use(first, blend, 10 * L, hour(2), purpose="drink")
    plant.use(second, blend, 10 * L, hour(2), purpose="drink")

    assert (held(blend, x), held(blend, y)) == (2 * L, 2 * L)
    assert composition(blend).part(x.pk).per_piece == pytest.approx(33_333.33, abs=0.01)


def test_vessel_8_losses_take_their_share_with_them(plant):
    """10 L X in 50 L, 5 L of sediment poured off, 45 L bottled: 1 L lost, 9 L bottled."""
    x, vessel, bottles = plant.batch(10 * L), plant.batch(50 * L), plant.bottles(136)
    plant.use(x, vessel, 10 * L, hour(1))
    plant.adjust(vessel, -5 * L, "sediment", hour(2))
    plant.use(vessel, bottles, 45 * L, hour(3))
    plant.ship(bottles, 68, at=hour(4))

    went = where_it_went(x)
    assert (went.gone, went.shipped, went.on_hand) == (
        {"sediment": 1 * L},
        4_500_000,
        4_500_000,
    )


def test_vessel_9_more_drawn_than_there_was_is_shown_and_not_scaled_away(plant):
    """10 L made with 2 L X; 8 L drawn to A and 8 L to B: 6 L are unexplained.

    A takes 8/10 of X, 1.6 L. 2 L are left by the books, so B takes all that is left
    of X, 0.4 L. Of the vessel itself each holds the 8 L that were written.
    """
    x, vessel, a, b = (
        plant.batch(2 * L),
        plant.batch(10 * L),
        plant.batch(8 * L),
        plant.batch(8 * L),
    )
    plant.use(x, vessel, 2 * L, hour(1))
    plant.use(vessel, a, 8 * L, hour(2))
    plant.use(vessel, b, 8 * L, hour(3))

    assert (held(a, x), held(b, x)) == (1_600_000, 400_000)
    assert (held(a, vessel), held(b, vessel)) == (8 * L, 8 * L)
    went = where_it_went(vessel)
    assert (went.amount, went.on_hand, went.unexplained) == (10 * L, 16 * L, 6 * L)
    assert mass_balance(vessel).unexplained == 6 * L


def test_vessel_10_a_draw_on_the_same_day_counts_as_after_the_addition(plant):
    """A draw known only to the day X came in may have come after it, so it did.

    30 L, less 6 L drawn the day before, and 36 L of X: 60 L. The 30 L drawn take half of
    X; the 6 L drawn the day before hold none.
    """
    vessel, x = plant.batch(30 * L), plant.batch(30 * L)
    before, same = plant.batch(1 * L), plant.batch(30 * L)
    plant.use(vessel, same, 30 * L, day(1))
    plant.use(vessel, before, 6 * L, day(0))
    plant.use(x, vessel, 36 * L, hour(24 + 18), added=36 * L)

    assert (held(before, x), held(same, x)) == (0, 18 * L)


def test_vessel_11_a_return_brings_back_what_the_bottles_hold(plant):
    """12 L X in 240 bottles, 50 mL each: 100 shipped, 20 of them brought back."""
    x, bottles = plant.batch(12 * L), plant.bottles(240)
    plant.use(x, bottles, 12 * L, hour(1))
    plant.ship(bottles, 100, at=hour(2))
    plant.adjust(bottles, 20, "return", hour(3), by="Corner shop")

    went = where_it_went(x)
    assert (went.shipped, went.gone, went.on_hand) == (5 * L, {"return": -1 * L}, 8 * L)
    assert went.share(bottles.pk).per_piece == 50_000


def test_vessel_12_starter_kept_back_carries_its_share_through_three_batches(plant):
    """A tenth of each batch starts the next: 6 L of X in 60 L, then 0.6 L, then 0.06 L."""
    x = plant.culture(6 * L)
    batches = [plant.batch(60 * L) for _ in range(3)]
    plant.use(x, batches[0], 6 * L, hour(1))
    for number, (older, newer) in enumerate(zip(batches, batches[1:], strict=False)):
        kept = plant.culture(6 * L, "kept_back")
        plant.use(older, kept, 6 * L, hour(2 + 2 * number))
        plant.use(kept, newer, 6 * L, hour(3 + 2 * number))

    assert [held(batch, x) for batch in batches] == [6 * L, 600_000, 60_000]
