"""Names stand beside their lines, free of each other and of the curve."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from brewlog.charts.names import LineName, Room, _crossed, _pieces, beside_lines, room_of

WITHIN = Room(30, 20, 330, 220)


@pytest.mark.parametrize(
    ("piece", "crosses"),
    [
        ((0, 5, 20, 5), True),  # level, right through
        ((0, 15, 20, 15), False),  # level, above
        ((5, 0, 5, 20), True),  # upright, right through
        ((15, 0, 15, 20), False),
        ((4, 4, 6, 6), True),  # all inside
        ((5, 5, 5, 5), True),  # a single value inside
        ((50, 5, 50, 5), False),
        ((-5, 7, 5, 17), False),  # past the corner
        ((-5, 0, 5, 10), True),
        ((20, 20, 11, 11), False),  # towards it, and not there
    ],
)
def test_a_piece_of_the_curve_is_seen_to_cross_a_room(piece, crosses):
    found = _crossed(Room(0, 0, 10, 10), np.array([piece], dtype=float))

    assert found == int(crosses)


def test_a_curve_of_one_value_counts_too():
    assert _crossed(Room(0, 0, 10, 10), _pieces([[(5, 5)]])) == 1
    assert _crossed(Room(0, 0, 10, 10), _pieces([[]])) == 0


PLACES = st.tuples(st.floats(30, 330), st.floats(20, 220))


@settings(max_examples=40, derandomize=True, deadline=None)
@given(
    st.lists(st.floats(20, 220), min_size=1, max_size=8),
    st.lists(PLACES, max_size=12),
)
def test_whatever_the_lines_names_are_apart_and_within(heights, curve):
    names = [LineName(f"usual up to {y:.1f}", y, 30, 330) for y in heights]

    found = beside_lines(names, WITHIN, [sorted(curve)], 12)

    rooms = [
        room_of(place, name.text, 12)
        for name, place in zip(names, found, strict=True)
        if place is not None
    ]
    assert all(WITHIN.holds(room) for room in rooms)
    assert not any(one.meets(other) for one, other in combinations(rooms, 2))
