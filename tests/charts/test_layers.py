"""A web of lots in layers: every line runs one way, and few cross."""

from __future__ import annotations

from itertools import combinations

import pytest

from brewlog.charts.layers import layered


def crossings(layout) -> int:
    """Pairs of lines that change sides between two layers, counted from the drawn places."""
    steps = [
        (start, end)
        for path in layout.paths.values()
        for start, end in zip(path, path[1:], strict=False)
    ]
    return sum(
        one[0][0] == other[0][0] and (one[0][1] - other[0][1]) * (one[1][1] - other[1][1]) < 0
        for one, other in combinations(steps, 2)
    )


def test_every_line_runs_from_left_to_right():
    edges = [("a", "b"), ("b", "c"), ("a", "c"), ("x", "c"), ("c", "d"), ("a", "d")]

    layout = layered(list("abcdx"), edges)

    assert set(layout.paths) == set(edges)
    for source, into in edges:
        assert layout.place[source][0] < layout.place[into][0]
        steps = [layer for layer, _ in layout.paths[source, into]]
        assert steps == list(range(steps[0], steps[-1] + 1))


def test_what_nothing_went_into_stands_beside_what_it_went_into_first():
    layout = layered(list("abcx"), [("a", "b"), ("b", "c"), ("x", "c")])

    assert {node: place[0] for node, place in layout.place.items()} == {
        "a": 0, "b": 1, "x": 1, "c": 2
    }  # fmt: skip


def test_no_two_points_share_a_place():
    nodes = [f"n{number}" for number in range(40)]
    edges = [(nodes[n], nodes[m]) for n in range(40) for m in range(n + 1, 40) if (n * m) % 7 == 1]

    layout = layered(nodes, edges)

    assert len(set(layout.place.values())) == len(nodes)


def test_ordering_untangles_two_crossed_pairs():
    layout = layered(["a", "b", "y", "x"], [("a", "x"), ("b", "y")])

    assert crossings(layout) == 0


@pytest.mark.parametrize("step", [3, 5, 7, 11])
def test_no_more_lines_cross_than_in_the_order_given(step, monkeypatch):
    nodes = [f"n{number:02}" for number in range(36)]
    edges = sorted(
        {
            (nodes[n], nodes[(n // 6 + 1) * 6 + (n * step + k) % 6])
            for n in range(30)
            for k in (0, 2)
        }
    )
    ordered = layered(nodes, edges)
    monkeypatch.setattr("brewlog.charts.layers.SWEEPS", 0)
    naive = layered(nodes, edges)

    assert crossings(ordered) < crossings(naive)


def test_a_higher_rank_lies_past_all_of_a_lower_one():
    rank = {"a": 0, "fed": 0, "fed again": 0, "kept": 1, "old": 0}
    edges = [("a", "fed"), ("fed", "fed again"), ("a", "kept")]

    layout = layered(list(rank), edges, rank)

    assert {node: place[0] for node, place in layout.place.items()} == {
        "a": 0, "old": 0, "fed": 1, "fed again": 2, "kept": 3
    }  # fmt: skip


def test_a_circle_is_refused():
    with pytest.raises(ValueError, match="circle"):
        layered(["a", "b"], [("a", "b"), ("b", "a")])
