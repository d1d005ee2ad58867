"""The same questions asked in other ways, to measure the trace against.

Each way answers a question from the database alone: what it loads is part of its time.
"""

from __future__ import annotations

import importlib.util
import statistics
import time
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from django.db import connection
from django.db.models import Max, Min, Sum

from brewlog import ledger, trace
from brewlog.management.memory import (
    OBJECTS,
    PROCESS,
    forget_peak,
    objects_peak_mb,
    process_peak_mb,
)
from brewlog.models import Lot, LotUse, ShipmentLine, StockAdjustment

OURS, SQL, ORM, NETWORKX, PANDAS = "brewlog", "SQL", "ORM walk", "networkx", "pandas"
WAYS = (OURS, SQL, ORM, NETWORKX, PANDAS)
_SLOW_MS = 400
_REPEATS, _REPEATS_WHEN_SLOW = 9, 3


def missing_libraries() -> tuple[str, ...]:
    """Those of the libraries measured against that are not installed."""
    return tuple(name for name in (NETWORKX, PANDAS) if importlib.util.find_spec(name) is None)


@dataclass
class Question:
    """A question, the ways to answer it, and how answers are compared.

    What `is_made`, a paper or an import, is made by one way only: it is timed once, with the
    memory it takes at most. `per_second` is how many of its parts are to be made in a second.
    """

    name: str
    ways: dict[str, Callable[[], Any]]
    same: Callable[[Any, Any], bool] = lambda one, other: one == other
    limit_ms: float | None = None
    times_sql: float | None = None
    is_made: bool = False
    per_second: float | None = None


@dataclass
class Measured:
    """Medians in ms by way; the ways whose answer was another; what was aimed at. `peak_mb` is
    the most memory held while something was made, `peak_of` by what, and `processor_ms` what of
    its time the processor worked on it: on a busy machine that is less."""

    question: str
    size: int
    medians: dict[str, float] = field(default_factory=dict)
    different: list[str] = field(default_factory=list)
    targets: dict[str, bool] = field(default_factory=dict)
    peak_mb: float | None = None
    peak_of: str = ""
    processor_ms: float | None = None


def measure(question: Question, left_out: tuple[str, ...]) -> Measured:
    """Compare every way's answer with ours, then time those that agree."""
    if question.is_made:
        return _measure_made(question)
    ways = {name: way for name, way in question.ways.items() if name not in left_out}
    ours = ways[OURS]()
    result = Measured(question.name, len(ours))
    result.different = [name for name, way in ways.items() if not question.same(ours, way())]
    if result.different:
        return result
    result.medians = {name: _median_ms(way) for name, way in ways.items()}
    _judge(question, result)
    return result


def _measure_made(question: Question) -> Measured:
    make = question.ways[OURS]
    is_watched = forget_peak()
    started, worked = time.perf_counter(), time.process_time()
    parts = len(make())
    elapsed = (time.perf_counter() - started) * 1000
    processor = (time.process_time() - worked) * 1000
    peak = process_peak_mb() if is_watched else objects_peak_mb(make)
    of = PROCESS if is_watched else OBJECTS
    result = Measured(
        question.name, parts, {OURS: elapsed}, peak_mb=peak, peak_of=of, processor_ms=processor
    )
    if question.per_second is not None:
        name = f"{question.per_second:g} a second"
        result.targets[name] = parts * 1000 / elapsed >= question.per_second
    _judge(question, result)
    return result


def _median_ms(way: Callable[[], Any]) -> float:
    times = [_once_ms(way)]
    repeats = _REPEATS_WHEN_SLOW if times[0] > _SLOW_MS else _REPEATS
    times += [_once_ms(way) for _ in range(repeats - 1)]
    return statistics.median(times)


def _once_ms(way: Callable[[], Any]) -> float:
    started = time.perf_counter()
    way()
    return (time.perf_counter() - started) * 1000


def _judge(question: Question, result: Measured) -> None:
    ours = result.medians[OURS]
    if question.limit_ms is not None:
        result.targets[f"under {question.limit_ms:g} ms"] = ours < question.limit_ms
    if question.times_sql is not None:
        within = ours <= question.times_sql * result.medians[SQL]
        result.targets[f"at most {question.times_sql:g} x SQL"] = within
    for other in (NETWORKX, PANDAS):
        if other in result.medians:
            result.targets[f"ahead of {other}"] = ours < result.medians[other]


# The lots asked about --------------------------------------------------------------------


# What other apps have measured besides. They add themselves when they are loaded.
FURTHER_QUESTIONS: list[Callable[[], list[Question]]] = []


def questions() -> list[Question]:
    """What is measured, of the database there is. Raises `LookupError` where it is empty."""
    deepest, late, root = _deepest_bottling(), _late_ingredient(), _founder()
    uses = LotUse.objects.live().count()
    whole_plant_ms = 150 if uses <= 100_000 else 2_500
    return [
        Question("backward, deepest bottling lot", _closure_ways(deepest, up=True), _same, 10, 1.3),
        Question("forward, late ingredient lot", _closure_ways(late, up=False), _same, 15, 1.3),
        Question("forward, founding culture", _closure_ways(root, up=False), _same),
        Question(
            "forward, founding culture, per customer",
            _customer_ways(root),
            _same,
            whole_plant_ms,
        ),
        Question("on hand, every lot", _on_hand_ways(), _same),
        Question("composition, deepest bottling lot", _composition_ways(deepest), _about_same),
        *(question for ask in FURTHER_QUESTIONS for question in ask()),
    ]


def _same(one: Any, other: Any) -> bool:
    return bool(one == other)


def _about_same(one: dict[int, int], other: dict[int, float]) -> bool:
    """The same lots and amounts, but for the roundings: a unit for each step or 1 in 10 000."""
    small = 1_000
    keys = {key for parts in (one, other) for key, amount in parts.items() if amount > small}
    return all(
        abs(one.get(key, 0) - other.get(key, 0)) <= max(small, one.get(key, 0) / 10_000)
        for key in keys
    )


def _deepest_bottling() -> int:
    """The bottling lot of most transfers since bought, the newest of those."""
    newest = Lot.objects.live().filter(kind="bottling").order_by("-happened_at", "-pk")
    depths = trace.generations(newest.values_list("pk", flat=True)[:200])
    if not depths:
        raise LookupError("There is no bottling lot to trace.")
    return max(depths, key=lambda pk: (depths[pk], pk))


def _late_ingredient() -> int:
    """An ingredient lot that went into batches in the last tenth of the records."""
    used = (
        LotUse.objects.live()
        .filter(source__kind="ingredient", into__kind="batch")
        .order_by("happened_at", "pk")
        .values_list("source", flat=True)
    )
    count = used.count()
    if not count:
        raise LookupError("There is no batch made of an ingredient lot.")
    return used[count * 9 // 10]


def _founder() -> int:
    """The first culture that went into anything."""
    used = LotUse.objects.live().filter(source__kind="culture").order_by("happened_at", "pk")
    found = used.values_list("source", flat=True).first()
    if found is None:
        raise LookupError("There is no culture to trace.")
    return found


# Sets of lots ----------------------------------------------------------------------------


def _closure_ways(start: int, up: bool) -> dict[str, Callable[[], set[int]]]:
    ours = trace.ancestor_ids if up else trace.descendant_ids
    return {
        OURS: lambda: ours([start]),
        SQL: lambda: _closure_by_sql(start, up),
        ORM: lambda: _closure_by_orm(start, up),
        NETWORKX: lambda: _closure_by_networkx(start, up),
        PANDAS: lambda: _closure_by_pandas(start, up),
    }


def _recursion(up: bool) -> str:
    here, there = ("into_id", "source_id") if up else ("source_id", "into_id")
    return (
        "WITH RECURSIVE reached(id) AS (SELECT CAST(%s AS bigint) UNION "
        f"SELECT u.{there} FROM reached r LEFT JOIN brewlog_lotuse u "
        f"ON u.{here} = r.id AND u.voided_at IS NULL) "
    )


def _closure_by_sql(start: int, up: bool) -> set[int]:
    with connection.cursor() as cursor:
        cursor.execute(_recursion(up) + "SELECT id FROM reached WHERE id IS NOT NULL", [start])
        return {row[0] for row in cursor.fetchall()}


def _closure_by_orm(start: int, up: bool) -> set[int]:
    here, there = ("into", "source") if up else ("source", "into")
    found, level = {start}, {start}
    while level:
        uses = LotUse.objects.live().order_by().filter(**{f"{here}__in": level})
        level = set(uses.values_list(there, flat=True)) - found
        found |= level
    return found


def _edges() -> list[tuple[int, int]]:
    return list(LotUse.objects.live().order_by().values_list("source", "into"))


def _closure_by_networkx(start: int, up: bool) -> set[int]:
    import networkx

    graph = networkx.DiGraph(_edges())
    reached = networkx.ancestors(graph, start) if up else networkx.descendants(graph, start)
    return {start, *reached}


def _closure_by_pandas(start: int, up: bool) -> set[int]:
    import pandas

    here, there = ("into", "source") if up else ("source", "into")
    edges = pandas.DataFrame(_edges(), columns=["source", "into"])
    found = {start}
    level = pandas.DataFrame({here: [start]})
    while len(level):
        following = set(level.merge(edges, on=here)[there]) - found
        found |= following
        level = pandas.DataFrame({here: sorted(following)}, dtype="int64")
    return found


# Customers -------------------------------------------------------------------------------


def _customer_ways(start: int) -> dict[str, Callable[[], dict[int, int]]]:
    lot = Lot.objects.get(pk=start)
    return {
        OURS: lambda: trace.shipped_to(lot),
        SQL: lambda: _customers_by_sql(start),
        ORM: lambda: _customers_from(_closure_by_orm(start, up=False)),
        NETWORKX: lambda: _customers_from(_closure_by_networkx(start, up=False)),
        PANDAS: lambda: _customers_by_pandas(start),
    }


def _customers_by_sql(start: int) -> dict[int, int]:
    with connection.cursor() as cursor:
        cursor.execute(
            _recursion(up=False) + "SELECT s.customer_id, SUM(l.quantity) FROM reached r "
            "JOIN brewlog_shipmentline l ON l.lot_id = r.id AND l.voided_at IS NULL "
            "JOIN brewlog_shipment s ON s.id = l.shipment_id GROUP BY s.customer_id",
            [start],
        )
        return {customer: int(quantity) for customer, quantity in cursor.fetchall()}


def _lines() -> list[tuple[int, int, int]]:
    lines = ShipmentLine.objects.live().order_by()
    return list(lines.values_list("lot", "shipment__customer", "quantity"))


def _customers_from(lots: set[int]) -> dict[int, int]:
    totals: dict[int, int] = defaultdict(int)
    for lot, customer, quantity in _lines():
        if lot in lots:
            totals[customer] += quantity
    return dict(totals)


def _customers_by_pandas(start: int) -> dict[int, int]:
    import pandas

    reached = pandas.DataFrame({"lot": sorted(_closure_by_pandas(start, up=False))})
    lines = pandas.DataFrame(_lines(), columns=["lot", "customer", "quantity"])
    totals = lines.merge(reached, on="lot").groupby("customer")["quantity"].sum()
    return {int(customer): int(quantity) for customer, quantity in totals.items()}


# On hand ---------------------------------------------------------------------------------


def _on_hand_ways() -> dict[str, Callable[[], dict[int, int]]]:
    return {
        OURS: lambda: ledger.on_hand(_measured_lots()),
        SQL: _on_hand_by_sql,
        ORM: _on_hand_by_orm,
        PANDAS: _on_hand_by_pandas,
    }


def _measured_lots() -> list[int]:
    measured = Lot.objects.filter(made__isnull=False).order_by()
    return list(measured.values_list("pk", flat=True))


_MOVEMENTS = (
    "SELECT id AS lot, made AS amount FROM brewlog_lot WHERE made IS NOT NULL",
    "SELECT into_id, added FROM brewlog_lotuse WHERE voided_at IS NULL AND added IS NOT NULL",
    "SELECT source_id, -quantity FROM brewlog_lotuse WHERE voided_at IS NULL",
    "SELECT lot_id, -quantity FROM brewlog_shipmentline WHERE voided_at IS NULL",
    "SELECT lot_id, change FROM brewlog_stockadjustment WHERE voided_at IS NULL",
)


def _on_hand_by_sql() -> dict[int, int]:
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT lot, SUM(amount) FROM ({' UNION ALL '.join(_MOVEMENTS)}) moved "
            "WHERE lot IN (SELECT id FROM brewlog_lot WHERE made IS NOT NULL) GROUP BY lot"
        )
        return {lot: int(amount) for lot, amount in cursor.fetchall()}


def _on_hand_by_orm() -> dict[int, int]:
    lots = Lot.objects.filter(made__isnull=False).order_by()
    amounts = {pk: made or 0 for pk, made in lots.values_list("pk", "made")}
    uses = LotUse.objects.live().order_by()
    for rows, link, column, sign in (
        (uses.filter(added__isnull=False), "into", "added", 1),
        (uses, "source", "quantity", -1),
        (ShipmentLine.objects.live().order_by(), "lot", "quantity", -1),
        (StockAdjustment.objects.live().order_by(), "lot", "change", 1),
    ):
        totals = rows.values(link).annotate(total=Sum(column)).values_list(link, "total")
        for lot, total in totals:
            if lot in amounts:
                amounts[lot] += sign * int(total)
    return amounts


def _on_hand_by_pandas() -> dict[int, int]:
    import pandas

    frames = []
    with connection.cursor() as cursor:
        for movement in _MOVEMENTS:
            cursor.execute(movement)
            frames.append(pandas.DataFrame(cursor.fetchall(), columns=["lot", "amount"]))
    totals = pandas.concat(frames).groupby("lot")["amount"].sum()
    totals = totals[totals.index.isin(frames[0]["lot"])]
    return {int(lot): int(amount) for lot, amount in totals.items()}


# Composition -----------------------------------------------------------------------------


def _composition_ways(start: int) -> dict[str, Callable[[], dict[int, Any]]]:
    lot = Lot.objects.get(pk=start)
    ways: dict[str, Callable[[], dict[int, Any]]] = {
        OURS: lambda: {part.facts.lot_id: part.entered for part in trace.composition(lot).parts}
    }
    if _ratios_hold(trace.ancestor_ids([start])):
        ways[NETWORKX] = lambda: _composition_by_networkx(start)
    return ways


def _ratios_hold(lots: set[int]) -> bool:
    """Whether ratios of what was made tell the amounts: nothing went in after a draw,
    everything was measured and nothing overdrawn."""
    uses = LotUse.objects.live().order_by()
    last_in = dict(uses.values("into").annotate(at=Max("happened_at")).values_list("into", "at"))
    first_out = uses.values("source").annotate(at=Min("happened_at")).values_list("source", "at")
    after = {lot for lot, at in first_out if lot in last_in and at < last_in[lot]}
    added = set(uses.filter(added__isnull=False).values_list("into", flat=True))
    stock = ledger.on_hand(_measured_lots())
    short = {lot for lot in lots if stock.get(lot, -1) < 0}
    return not lots & (after | added | short)


def _composition_by_networkx(start: int) -> dict[int, float]:
    """By ratios of what was made; see `_ratios_hold`."""
    import networkx

    graph = networkx.MultiDiGraph()
    uses = LotUse.objects.live().order_by()
    graph.add_weighted_edges_from(uses.values_list("source", "into", "quantity"))
    made = dict(Lot.objects.order_by().values_list("pk", "made"))
    closure = graph.subgraph({start, *networkx.ancestors(graph, start)})
    parts: dict[int, dict[int, float]] = {}
    for lot in networkx.topological_sort(closure):
        held: dict[int, float] = defaultdict(float)
        for source, _, quantity in closure.in_edges(lot, data="weight"):
            held[source] += quantity
            for ancestor, amount in parts[source].items():
                held[ancestor] += amount * quantity / made[source]
        parts[lot] = dict(held)
    return parts[start]
