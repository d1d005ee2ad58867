"""How much there is of a lot: worked out from what happened, never stored.

On hand = what it amounts to (made + what was added later) - used - shipped +/- adjusted,
over entries that are not voided, in the lot's canonical unit (mg, µL, pieces).
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db import connection
from django.db.models import BigIntegerField, Func, QuerySet, Sum
from django.db.models.expressions import RawSQL

from brewlog.models import Lot, LotUse, ShipmentLine, StockAdjustment


def ids_sql() -> str:
    """A SELECT of ids from one parameter, `ids_parameter(ids)`, however many there are.

    A parameter for each id would meet the database's limit on a whole plant.
    """
    if connection.vendor == "postgresql":
        return "SELECT unnest(%s::bigint[])"
    return "SELECT value FROM json_each(%s)"


def ids_parameter(ids: Iterable[int]) -> Any:
    """The one parameter of `ids_sql()`."""
    return list(ids) if connection.vendor == "postgresql" else json.dumps(list(ids))


def ids_in(ids: Iterable[int]) -> RawSQL:
    """For `filter(pk__in=ids_in(ids))`, however many there are."""
    return RawSQL(ids_sql(), [ids_parameter(ids)])


# What was made; where that is not measured yet, what went in of the same dimension.
_MADE = """COALESCE({made}, (
    SELECT SUM(poured.quantity) FROM brewlog_lotuse poured
    JOIN brewlog_lot poured_from ON poured_from.id = poured.source_id
    WHERE poured.into_id = {pk} AND poured.added IS NULL AND poured.voided_at IS NULL
        AND poured_from.dimension = {dimension}
), 0)"""
_BOOKS = (
    _MADE
    + """
+ COALESCE((SELECT SUM(used_in.added) FROM brewlog_lotuse used_in
    WHERE used_in.voided_at IS NULL AND used_in.into_id = {pk}), 0)
- COALESCE((SELECT SUM(used.quantity) FROM brewlog_lotuse used
    WHERE used.voided_at IS NULL AND used.source_id = {pk}), 0)
- COALESCE((SELECT SUM(sent.quantity) FROM brewlog_shipmentline sent
    WHERE sent.voided_at IS NULL AND sent.lot_id = {pk}), 0)
+ COALESCE((SELECT SUM(adjusted.change) FROM brewlog_stockadjustment adjusted
    WHERE adjusted.voided_at IS NULL AND adjusted.lot_id = {pk}), 0)"""
)


class _OfLot(Func):
    """An amount of the outer lot from its own columns, by SQL written here. Subqueries put
    together by Django say the same and take longer to compile than a page of lots to read."""

    def __init__(self, template: str) -> None:
        super().__init__("pk", "made", "dimension", output_field=BigIntegerField())
        self.template = template

    def as_sql(self, compiler: Any, connection: Any, *_: Any, **__: Any) -> Any:
        pk, made, dimension = (compiler.compile(each)[0] for each in self.source_expressions)
        amount = self.template.format(pk=pk, made=made, dimension=dimension)
        # A sum of big integers is a decimal on PostgreSQL.
        return f"CAST({amount} AS bigint)", ()


def with_on_hand(lots: QuerySet[Any]) -> QuerySet[Any]:
    """The lots with `on_hand` (canonical unit) beside each, in the same query.

    Works on `Lot` and on its children (`Batch`, `BottlingLot`...). Less than nothing
    where more left than the books had. Each part is a subquery on its own covering
    index: two joins and a sum would count rows twice.
    """
    return lots.annotate(on_hand=_OfLot(_BOOKS))


# One row for each thing that changed a wanted lot's stock; each part reads its own index.
_STOCK = """
WITH wanted(id) AS ({ids})
SELECT lot, SUM(amount) FROM (
    SELECT id AS lot, COALESCE(made, 0) AS amount FROM brewlog_lot
    WHERE id IN (SELECT id FROM wanted)
    UNION ALL
    SELECT poured.into_id, poured.quantity FROM brewlog_lot product
    JOIN brewlog_lotuse poured ON poured.into_id = product.id
        AND poured.added IS NULL AND poured.voided_at IS NULL
    JOIN brewlog_lot source ON source.id = poured.source_id
        AND source.dimension = product.dimension
    WHERE product.made IS NULL AND product.id IN (SELECT id FROM wanted)
    UNION ALL
    SELECT into_id, added FROM brewlog_lotuse
    WHERE voided_at IS NULL AND added IS NOT NULL AND into_id IN (SELECT id FROM wanted)
    UNION ALL
    SELECT source_id, -quantity FROM brewlog_lotuse
    WHERE voided_at IS NULL AND source_id IN (SELECT id FROM wanted)
    UNION ALL
    SELECT lot_id, -quantity FROM brewlog_shipmentline
    WHERE voided_at IS NULL AND lot_id IN (SELECT id FROM wanted)
    UNION ALL
    SELECT lot_id, change FROM brewlog_stockadjustment
    WHERE voided_at IS NULL AND lot_id IN (SELECT id FROM wanted)
) AS moved GROUP BY lot
"""


def on_hand(lot_ids: Iterable[int]) -> dict[int, int]:
    """How much there is of each lot, in its canonical unit. One query for all of them.

    The same figures as `with_on_hand`, which is for the rows of a page; this is as quick
    for every lot there is.
    """
    with connection.cursor() as cursor:
        cursor.execute(_STOCK.format(ids=ids_sql()), [ids_parameter(lot_ids)])
        return {lot: int(amount) for lot, amount in cursor.fetchall()}


@dataclass(frozen=True)
class MassBalance:
    """Where a lot's amount went, in its canonical unit.

    made + added + unexplained + sum(adjusted) = sum(used) + shipped + on hand. `adjusted`
    has the sign of the entries: less than nothing for what is gone.
    """

    lot_id: int
    dimension: str
    made: int
    added: int
    used: dict[str, int]  # by LotUse.Purpose
    shipped: int
    adjusted: dict[str, int]  # by StockAdjustment.Reason

    @property
    def books(self) -> int:
        """What the entries leave; less than nothing where more left than was there."""
        return (
            self.made
            + self.added
            - sum(self.used.values())
            - self.shipped
            + sum(self.adjusted.values())
        )

    @property
    def on_hand(self) -> int:
        """What should be there: never less than nothing."""
        return max(0, self.books)

    @property
    def unexplained(self) -> int:
        """How much more left than the books had: the overdrawn part."""
        return max(0, -self.books)


def mass_balance(lot: Lot) -> MassBalance:
    """Made, added, used, shipped, adjusted and on hand of one lot."""
    return mass_balances([lot.pk])[lot.pk]


def mass_balances(lot_ids: Iterable[int]) -> dict[int, MassBalance]:
    """The mass balance of each lot, in five queries however many there are."""
    ids = list(lot_ids)
    lots = Lot.objects.filter(pk__in=ids_in(ids)).order_by().annotate(books_made=_OfLot(_MADE))
    uses = LotUse.objects.live().order_by()
    added = _sums(uses.filter(into__in=ids_in(ids), added__isnull=False), "into", "added")
    used = _sums_by(uses.filter(source__in=ids_in(ids)), "source", "purpose", "quantity")
    lines = ShipmentLine.objects.live().order_by().filter(lot__in=ids_in(ids))
    shipped = _sums(lines, "lot", "quantity")
    changes = StockAdjustment.objects.live().order_by().filter(lot__in=ids_in(ids))
    adjusted = _sums_by(changes, "lot", "reason", "change")
    return {
        pk: MassBalance(
            lot_id=pk,
            dimension=dimension,
            made=made,
            added=added.get(pk, 0),
            used=used.get(pk, {}),
            shipped=shipped.get(pk, 0),
            adjusted=adjusted.get(pk, {}),
        )
        for pk, dimension, made in lots.values_list("pk", "dimension", "books_made")
    }


def _sums(rows: QuerySet, link: str, field: str) -> dict[int, int]:
    totals = rows.values(link).annotate(total=Sum(field)).values_list(link, "total")
    return {lot_id: int(total) for lot_id, total in totals}


def _sums_by(rows: QuerySet, link: str, by: str, field: str) -> dict[int, dict[str, int]]:
    found: dict[int, dict[str, int]] = defaultdict(dict)
    totals = rows.values(link, by).annotate(total=Sum(field)).values_list(link, by, "total")
    for lot_id, kind, total in totals.order_by(link, by):
        found[lot_id][kind] = int(total)
    return dict(found)
