"""What each customer had of a recall's scope, lot by lot, in words.

There may be hundreds of thousands of them, of few products, amounts and times: each of these is
put into words once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from brewlog.ledger import ids_in
from brewlog.models import BottlingLot, Flavour, Format
from brewlog.trace import Recall, SentLot
from brewlog.units import CANONICAL_UNIT, Dimension, show_quantity
from brewlog.when import When
from compliance.documents.printing import Desk

PIECES = "pieces"
_UNITS = {dimension.value: CANONICAL_UNIT[dimension] or PIECES for dimension in Dimension}


@dataclass(frozen=True, slots=True)
class SentTo:
    """All of one lot that a customer had, as the notice and the spreadsheet name it."""

    code: str
    product: str
    format: str
    net_contents: str
    best_before: str
    quantity: int
    unit: str
    quantity_text: str
    returned: int
    first: str
    last: str
    shipments: str
    drawn_before: bool


@dataclass(frozen=True)
class Recipient:
    """A customer who has, or had, what is in the scope."""

    customer_id: int
    name: str
    kind: str
    is_public: bool
    contact: str
    address: str
    phone: str
    email: str
    reach: str
    lots: tuple[SentTo, ...]

    @property
    def sent(self) -> int:
        """All they had, in pieces; drink from the vessel is not counted."""
        return sum(lot.quantity for lot in self.lots if lot.unit == PIECES)

    @property
    def returned(self) -> int:
        return sum(lot.returned for lot in self.lots if lot.unit == PIECES)


def times_of(lots: Sequence[SentTo]) -> set[str]:
    """When they were sent first and last: of thousands of lots few different times."""
    return {lot.first for lot in lots} | {lot.last for lot in lots}


@dataclass(frozen=True)
class _Label:
    """What all bottling lots of one flavour in one format say."""

    product: str
    format: str
    net_contents: str
    container: str


# Drink sold from the vessel has no label.
_UNLABELLED = _Label("drink from the vessel", "", "", "")


class Sending:
    """Words for what was sent of a scope."""

    def __init__(self, found: Recall, at_desk: Desk) -> None:
        self._found, self._desk = found, at_desk
        self._best_before = {
            each.scope.facts.lot_id: each.best_before for each in found.bottling_lots
        }
        self._labels = _labels(self._best_before)
        # By the object, of which the recall has one for each shipment.
        self._times: dict[int, str] = {}
        self._amounts: dict[tuple[int, str, str], str] = {}

    def of(self, lot: SentLot) -> SentTo:
        """One lot that a customer had; it is nearly always bottled."""
        label = self._labels.get(lot.lot_id, _UNLABELLED)
        first = self._time(lot.first)
        return SentTo(
            code=lot.code,
            product=label.product,
            format=label.format,
            net_contents=label.net_contents,
            best_before=self._best_before.get(lot.lot_id, ""),
            quantity=lot.quantity,
            unit=_UNITS[lot.dimension],
            quantity_text=self._amount(lot.quantity, lot.dimension, label.container),
            returned=lot.returned,
            first=first,
            last=first if lot.last is lot.first else self._time(lot.last),
            shipments=", ".join(lot.shipments),
            drawn_before=lot.drawn_before,
        )

    def _time(self, when: When) -> str:
        if id(when) not in self._times:
            self._times[id(when)] = str(when)
        return self._times[id(when)]

    def _amount(self, quantity: int, dimension: str, container: str) -> str:
        key = (quantity, dimension, container)
        if key not in self._amounts:
            shown = show_quantity(quantity, dimension, self._desk.units)
            counted = container if quantity == 1 or not container else f"{container}s"
            self._amounts[key] = f"{shown} {counted}".rstrip()
        return self._amounts[key]


def _labels(lot_ids: dict[int, Any]) -> dict[int, _Label]:
    """By bottling lot, in three queries."""
    rows = BottlingLot.objects.filter(pk__in=ids_in(lot_ids)).order_by()
    lots = {
        pk: (flavour, form) for pk, flavour, form in rows.values_list("pk", "flavour", "format")
    }
    flavours = Flavour.objects.in_bulk({flavour for flavour, _ in lots.values()})
    formats = Format.objects.in_bulk({form for _, form in lots.values()})
    labels = {
        (flavour, form): _Label(
            product=flavours[flavour].label_name,
            format=str(formats[form]),
            net_contents=formats[form].holds_text,
            container=str(formats[form].get_container_display()),
        )
        for flavour, form in set(lots.values())
    }
    return {pk: labels[both] for pk, both in lots.items()}
