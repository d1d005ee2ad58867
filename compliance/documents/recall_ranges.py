"""Which codes a recall concerns, as a person with a bottle in hand can look them up.

A range holds every code from its first to its last that there is of the product: what was made
of it and is not in the scope ends a range. A recall of thousands of lots is a few lines so, and
none of them says more than is meant.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from brewlog.models import BottlingLot
from compliance.documents.recall_sending import Recipient


@dataclass(frozen=True)
class CodeRange:
    """Every code of a product from `first` to `last`; `lots` of them were sent to somebody."""

    first: str
    last: str
    lots: int

    def __str__(self) -> str:
        if self.first == self.last:
            return self.first
        return f"{self.first}, {self.last}" if self.lots == 2 else f"{self.first} to {self.last}"


@dataclass(frozen=True)
class ConcernedProduct:
    """One product in one size: its codes in ranges, and its first and last best-before."""

    product: str
    net_contents: str
    best_before: str
    ranges: tuple[CodeRange, ...]

    @property
    def codes(self) -> str:
        return "; ".join(map(str, self.ranges))


def concerned_products(
    recipients: Iterable[Recipient], scope_codes: set[str]
) -> tuple[ConcernedProduct, ...]:
    """What was sent of a scope, product by product. One query."""
    sent: dict[tuple[str, str], dict[str, str]] = defaultdict(dict)
    for recipient in recipients:
        for lot in recipient.lots:
            sent[lot.product, lot.net_contents][lot.code] = lot.best_before
    others = _others({product for product, _ in sent}, scope_codes)
    return tuple(
        ConcernedProduct(
            product=product,
            net_contents=size,
            best_before=from_to(sent[product, size].values()),
            ranges=tuple(_ranges(sent[product, size], others.get((product, size), ()))),
        )
        for product, size in sorted(sent)
    )


def from_to(values: Iterable[str]) -> str:
    """The first and the last of some days in words; nothing where none is known."""
    known = sorted({value for value in values if value})
    if not known:
        return ""
    return known[0] if len(known) == 1 else f"{known[0]} to {known[-1]}"


def _others(products: set[str], scope_codes: set[str]) -> dict[tuple[str, str], list[str]]:
    """The codes of the same products that are not in the scope."""
    rows = BottlingLot.objects.live().filter(flavour__label_name__in=products).order_by()
    found: dict[tuple[str, str], list[str]] = defaultdict(list)
    for code, product, size in rows.values_list(
        "code", "flavour__label_name", "format__holds_text"
    ):
        if code not in scope_codes:
            found[product, size].append(code)
    return found


def _ranges(sent: Iterable[str], others: Iterable[str]) -> Iterable[CodeRange]:
    is_sent = dict.fromkeys(others, False) | dict.fromkeys(sent, True)
    run: list[str] = []
    for code in sorted(is_sent, key=_as_read):
        if is_sent[code]:
            run.append(code)
        elif run:
            yield CodeRange(run[0], run[-1], len(run))
            run = []
    if run:
        yield CodeRange(run[0], run[-1], len(run))


def _as_read(code: str) -> list[tuple[bool, int, str]]:
    """Codes in the order in which people count: L9 before L10."""
    parts = re.findall(r"\d+|\D+", code)
    return [(not part.isdecimal(), int(part) if part.isdecimal() else 0, part) for part in parts]
