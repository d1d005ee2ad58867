"""What a calculation is on a page: a question, inputs, the answer and all of its working."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from brewlog.forms.base import EntryForm
from brewlog.models import Lot, LotKind
from brewlog.science.results import Result

LITRE = 1_000_000  # microlitres
KILOGRAM = 1_000_000  # milligrams


class CalculationForm(EntryForm):
    """Inputs of a calculation. Nothing typed here is a record."""


@dataclass(frozen=True)
class Known:
    """An input taken from the records: the text for the field, and where it comes from."""

    text: str
    source: str


@dataclass(frozen=True)
class Table:
    """A table of the answer, such as a plan's rows."""

    title: str
    heads: Sequence[str]
    rows: Sequence[Sequence[str]]


@dataclass(frozen=True)
class Keep:
    """How the answer can be kept as a record, if the person says so: an entry, prefilled."""

    entry: str
    label: str
    fields: Mapping[str, str]


@dataclass(frozen=True)
class Answer:
    """The answer in words first, then the values it stands on.

    `verdict` is a word for the moment of decision ('close', 'below the rating by
    calculation'); `results` open to their working; `warnings` are sentences that must be
    read before acting.
    """

    headline: str
    verdict: str = ""
    results: tuple[Result, ...] = ()
    tables: tuple[Table, ...] = ()
    warnings: tuple[str, ...] = ()
    keep: Keep | None = None


def nothing_known(lot: Lot) -> dict[str, Known]:
    """For calculations that no record can prefill."""
    return {}


@dataclass(frozen=True)
class Calculation:
    """One calculation. `work` takes the cleaned form by name and returns an `Answer`.

    `work` may raise `OutOfRange` or `ValidationError`; the page shows the sentence where a
    number would stand. `about` are the kinds of lot whose records can prefill the form.
    """

    slug: str
    title: str
    group: str
    question: str
    formula: str
    form: type[CalculationForm]
    work: Callable[..., Answer]
    about: tuple[LotKind, ...] = ()
    known: Callable[[Lot], dict[str, Known]] = nothing_known
    caution: str = ""
    see_also: tuple[str, ...] = field(default=())


def litres(quantity: Any) -> float:
    """A volume `Quantity` in litres."""
    return quantity.canonical / LITRE


def kilograms(quantity: Any) -> float:
    """A mass `Quantity` in kilograms."""
    return quantity.canonical / KILOGRAM
