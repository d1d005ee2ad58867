"""A culture line as a family: its starters by generation, and the batches between them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from brewlog.charts.web import MOST_BOXES, Box, Join, Web
from brewlog.ledger import ids_in
from brewlog.models import CultureLine, CultureLot, LotKind, LotUse
from brewlog.trace import generations


@dataclass(frozen=True)
class Member:
    """A starter of the line: how often it was handed on, and the batches it went into."""

    lot: CultureLot
    generation: int
    batches: tuple[str, ...]  # their codes, the oldest first


@dataclass(frozen=True)
class Descent:
    """One starter came from another: straight, or kept back from the batch of that code."""

    source: int
    into: int
    batch: str = ""


@dataclass(frozen=True)
class Family:
    """The starters of a line, the oldest first, and how they descend from each other."""

    line: CultureLine
    members: tuple[Member, ...]
    descents: tuple[Descent, ...]


def family_of(line: CultureLine, cultures: Sequence[CultureLot]) -> Family:
    """How the given starters of a line hang together. Five queries, however many."""
    ids = [each.pk for each in cultures]
    counted = generations(ids)
    uses = LotUse.objects.live().order_by("source", "into").distinct()
    given = uses.filter(source__in=ids_in(ids))
    direct: set[tuple[int, int]] = set()
    batches: dict[int, dict[int, str]] = defaultdict(dict)
    for source, into, kind, code in given.values_list("source", "into", "into__kind", "into__code"):
        if kind == LotKind.BATCH:
            batches[source][into] = code
        elif into in counted:
            direct.add((source, into))
    kept = uses.filter(into__in=ids_in(ids), source__kind=LotKind.BATCH)
    through = [
        Descent(source, into, code)
        for batch, into, code in kept.values_list("source", "into", "source__code")
        for source in ids
        if batch in batches[source] and source != into
    ]
    return Family(
        line,
        tuple(Member(lot, counted[lot.pk], tuple(batches[lot.pk].values())) for lot in cultures),
        (*(Descent(*pair) for pair in sorted(direct)), *through),
    )


def family_web(
    family: Family, states: Callable[[CultureLot], str], asked: int | None = None
) -> Web | None:
    """The family downwards, a generation at a time; None where it is too large to read."""
    if not family.members or len(family.members) > MOST_BOXES:
        return None
    boxes = tuple(
        Box(
            key=str(each.lot.pk),
            title=each.lot.code,
            what=each.lot.get_origin_display(),
            state=states(each.lot),
            is_asked=each.lot.pk == asked,
            is_faint=each.lot.retired_at is not None,
            rank=each.generation,
        )
        for each in family.members
    )
    words: dict[tuple[int, int], list[str]] = defaultdict(list)
    for descent in family.descents:
        words[descent.source, descent.into] += [descent.batch] if descent.batch else []
    joins = tuple(
        Join(str(source), str(into), ", ".join(codes), is_through=bool(codes))
        for (source, into), codes in words.items()
    )
    ranks = tuple(
        (number, generation_words(number)) for number in sorted({b.rank or 0 for b in boxes})
    )
    return Web(f"Family of {family.line}", boxes, joins, is_down=True, ranks=ranks)


def generation_words(number: int) -> str:
    """How often a starter was handed on since it was bought."""
    if number == 0:
        return "as bought"
    return f"{number} transfer{'' if number == 1 else 's'} since bought"
