"""Putting a web of lots in layers, so that every line runs one way and few cross."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

SWEEPS = 8


@dataclass(frozen=True)
class Layout:
    """Nodes layer by layer in drawing order; `None`-free, bends are not listed.

    `place` gives each node's layer and its position within it; `paths` gives, for each
    edge, the layer and position of every point it passes through, bends included.
    """

    layers: tuple[tuple[Hashable, ...], ...]
    place: dict[Hashable, tuple[int, float]]
    paths: dict[tuple[Hashable, Hashable], tuple[tuple[int, float], ...]]
    depth: int


@dataclass(frozen=True)
class _Bend:
    """Where a long edge passes through a layer."""

    edge: tuple[Hashable, Hashable]
    layer: int


def layered(
    nodes: Sequence[Hashable],
    edges: Sequence[tuple[Hashable, Hashable]],
    rank: Mapping[Hashable, int] | None = None,
) -> Layout:
    """Lay out an acyclic graph: each node one layer past its furthest source.

    What has no source stands just before the first it went into. With `rank`, which never
    falls along an edge, all of a higher rank lie past all of a lower one. Barycentre sweeps
    order the layers, and the order with the fewest crossings is kept. `nodes` decides among
    equals, so the same graph gives the same picture. Raises `ValueError` for a circle.
    """
    layer_of = _pulled(nodes, edges) if rank is None else _ranked(nodes, edges, rank)
    chains = {edge: _chain(edge, layer_of) for edge in edges}
    rows: list[list[Hashable]] = [[] for _ in range(max(layer_of.values(), default=-1) + 1)]
    for node in nodes:
        rows[layer_of[node]].append(node)
    for edge, chain in chains.items():
        for point in chain[1:-1]:
            assert isinstance(point, _Bend), edge
            rows[point.layer].append(point)
    before: dict[Hashable, list[Hashable]] = defaultdict(list)
    after: dict[Hashable, list[Hashable]] = defaultdict(list)
    for chain in chains.values():
        for left, right in pairwise(chain):
            before[right].append(left)
            after[left].append(right)
    best, fewest = rows, _crossings(rows, after)
    for sweep in range(SWEEPS):
        neighbours = before if sweep % 2 == 0 else after
        order = range(1, len(rows)) if sweep % 2 == 0 else range(len(rows) - 2, -1, -1)
        rows = list(rows)
        for number in order:
            beside = rows[number - 1] if sweep % 2 == 0 else rows[number + 1]
            rows[number] = _by_barycentre(rows[number], beside, neighbours)
        crossings = _crossings(rows, after)
        if crossings < fewest:
            best, fewest = rows, crossings
    rows = best
    place: dict[Hashable, tuple[int, float]] = {}
    for number, row in enumerate(rows):
        for position, point in enumerate(row):
            place[point] = (number, position - (len(row) - 1) / 2)
    return Layout(
        layers=tuple(tuple(p for p in row if not isinstance(p, _Bend)) for row in rows),
        place={node: place[node] for node in nodes},
        paths={edge: tuple(place[point] for point in chain) for edge, chain in chains.items()},
        depth=max((len(row) for row in rows), default=0),
    )


def _longest_paths(
    nodes: Sequence[Hashable], edges: Sequence[tuple[Hashable, Hashable]]
) -> dict[Hashable, int]:
    waiting = dict.fromkeys(nodes, 0)
    following: dict[Hashable, list[Hashable]] = defaultdict(list)
    for source, into in edges:
        following[source].append(into)
        waiting[into] += 1
    layer = {node: 0 for node, count in waiting.items() if count == 0}
    ready = list(layer)
    for node in ready:  # grows while it is walked
        for into in following[node]:
            layer[into] = max(layer.get(into, 0), layer[node] + 1)
            waiting[into] -= 1
            if waiting[into] == 0:
                ready.append(into)
    if len(ready) < len(waiting):
        raise ValueError("The lots form a circle and cannot be laid in layers.")
    return layer


def _pulled(
    nodes: Sequence[Hashable], edges: Sequence[tuple[Hashable, Hashable]]
) -> dict[Hashable, int]:
    """The longest paths, and what nothing went into beside what it went into first."""
    layer = _longest_paths(nodes, edges)
    into = {target for _, target in edges}
    nearest: dict[Hashable, int] = {}
    for source, target in edges:
        if source not in into:
            nearest[source] = min(layer[target] - 1, nearest.get(source, layer[target]))
    return layer | nearest


def _ranked(
    nodes: Sequence[Hashable],
    edges: Sequence[tuple[Hashable, Hashable]],
    rank: Mapping[Hashable, int],
) -> dict[Hashable, int]:
    """Layers of each rank by its own edges, the ranks one after the other."""
    within = [(source, into) for source, into in edges if rank[source] == rank[into]]
    depth = _longest_paths(nodes, within)
    layer: dict[Hashable, int] = {}
    first = 0
    for level in sorted(set(rank.values())):
        of_level = [node for node in nodes if rank[node] == level]
        layer |= {node: first + depth[node] for node in of_level}
        first += 1 + max(depth[node] for node in of_level)
    return layer


def _crossings(rows: list[list[Hashable]], after: dict[Hashable, list[Hashable]]) -> int:
    """How many pairs of lines cross between neighbouring layers."""
    count = 0
    for row, following in pairwise(rows):
        place = {point: number for number, point in enumerate(following)}
        ends = [end for point in row for end in sorted(place[each] for each in after[point])]
        count += sum(ends[j] < ends[i] for i in range(len(ends)) for j in range(i + 1, len(ends)))
    return count


def _chain(edge: tuple[Hashable, Hashable], layer: dict[Hashable, int]) -> list[Hashable]:
    source, into = edge
    bends = [_Bend(edge, number) for number in range(layer[source] + 1, layer[into])]
    return [source, *bends, into]


def _by_barycentre(
    row: list[Hashable], beside: list[Hashable], neighbours: dict[Hashable, list[Hashable]]
) -> list[Hashable]:
    """The row ordered by the mean place of what each is joined to; the unjoined stay put."""
    place = {point: number for number, point in enumerate(beside)}
    scale = len(beside) / max(1, len(row))

    def middle(numbered: tuple[int, Hashable]) -> tuple[float, int]:
        number, point = numbered
        joined = [place[other] for other in neighbours[point]]
        return (sum(joined) / len(joined) if joined else number * scale, number)

    return [point for _, point in sorted(enumerate(row), key=middle)]
