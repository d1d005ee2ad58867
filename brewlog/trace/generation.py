"""Transfers since bought: how often a culture was kept back from a batch."""

from __future__ import annotations

from collections.abc import Iterable

from django.db import connection

from brewlog.ledger import ids_in, ids_parameter
from brewlog.models import CultureLot, Lot
from brewlog.trace.closure import up_sql, uses_sql
from brewlog.trace.order import made_order


def generation(lot: Lot) -> int:
    """Transfers since bought of one lot; see `generations`."""
    return generations([lot.pk])[lot.pk]


def generations(lot_ids: Iterable[int]) -> dict[int, int]:
    """Transfers since bought of each lot, in two queries for all of them.

    The longest way back, counting the cultures on it (the lot included) that were kept
    back from a batch. Feeding, topping up, pooling and splitting off a backup do not
    raise it; a batch has that of its oldest starter, a bought culture has 0.
    """
    wanted = list(lot_ids)
    with connection.cursor() as cursor:
        cursor.execute(uses_sql(up_sql(), "source_id, into_id", "into_id"), [ids_parameter(wanted)])
        edges = cursor.fetchall()
    lots = {*wanted, *(source for source, _ in edges)}
    kept_back = set(
        CultureLot.objects.filter(
            pk__in=ids_in(lots), origin=CultureLot.Origin.KEPT_BACK
        ).values_list("pk", flat=True)
    )
    sources: dict[int, list[int]] = {}
    for source, into in edges:
        sources.setdefault(into, []).append(source)
    counted: dict[int, int] = {}
    for lot in made_order(lots, edges):
        longest = max((counted[source] for source in sources.get(lot, ())), default=0)
        counted[lot] = longest + (lot in kept_back)
    return {lot: counted[lot] for lot in wanted}
