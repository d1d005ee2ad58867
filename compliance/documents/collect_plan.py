"""What a recipe asks for beside what was used, lot by lot."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from brewlog.domain.recipes import scale
from brewlog.models import Batch, Brew, Lot, LotKind, LotUse, RecipeLine
from brewlog.units import Dimension, Quantity
from compliance.documents.lot_packet import PlannedAmount
from compliance.documents.printing import Desk, detail_paths, what

NOT_IN_RECIPE = "not in the recipe"


@dataclass(frozen=True)
class Plan:
    """The volume aimed at, as typed, and the lines compared."""

    volume: str
    lines: tuple[PlannedAmount, ...]


@dataclass(frozen=True)
class _Taken:
    """An amount of a lot that is in the batch: taken by itself, or a share of a brew.

    `amount` is None where the brew's volume is not known. `typed` is what was written of it.
    """

    lot: Lot
    amount: int | None
    words: str
    typed: str


def planned_of(lot: Lot, uses_in: list[LotUse], at_desk: Desk) -> Plan:
    """Recipe lines times the planned volume, beside the live uses. Empty for other lots."""
    detail = lot.detail
    if not isinstance(detail, Batch | Brew):
        return Plan("", ())
    taken = _taken([use for use in uses_in if not use.is_void], at_desk)
    compared: list[PlannedAmount] = []
    if detail.recipe and detail.planned:
        volume = Quantity(detail.planned, Dimension.VOLUME, detail.planned_text)
        for scaled in scale(detail.recipe, volume):
            matching = [each for each in taken if _fits(scaled.line, each.lot)]
            taken = [each for each in taken if each not in matching]
            compared.append(_line(scaled.line, scaled.amount, matching, at_desk))
    compared += [_unplanned(each, at_desk) for each in _alike(taken)]
    return Plan(detail.planned_text, tuple(compared))


def _taken(uses: list[LotUse], at_desk: Desk) -> list[_Taken]:
    """Direct uses, and of each brew that filled the vessel its ingredients by share."""
    found, brews = [], []
    for use in uses:
        if use.source.kind == LotKind.BREW:
            brews.append(use)
        elif use.purpose != LotUse.Purpose.TRANSFER:
            typed = use.quantity_text
            found.append(_Taken(use.source, use.quantity, f"{use.source.code}: {typed}", typed))
    inside: dict[int, list[LotUse]] = defaultdict(list)
    rows = LotUse.objects.live().filter(into__in=[use.source_id for use in brews])
    for row in rows.select_related("source", *detail_paths("source")).order_by("id"):
        inside[row.into_id].append(row)
    for use in brews:
        found += [_share(use, row, at_desk) for row in inside[use.source_id]]
    return found


def _share(of_brew: LotUse, row: LotUse, at_desk: Desk) -> _Taken:
    brew = of_brew.source
    if not brew.made:
        words = f"{row.source.code}: {row.quantity_text} in brew {brew.code}, share not known"
        return _Taken(row.source, None, words, row.quantity_text)
    amount = row.quantity * of_brew.quantity // brew.made
    shown = at_desk.amount(amount, row.source.dimension, [row.quantity_text])
    return _Taken(
        row.source,
        amount,
        f"{row.source.code}: {shown} ({of_brew.quantity_text} of brew {brew.code}, "
        f"which took {row.quantity_text})",
        row.quantity_text,
    )


def _fits(line: RecipeLine, lot: Lot) -> bool:
    if line.role == RecipeLine.Role.STARTER:
        return lot.kind == LotKind.CULTURE
    if lot.kind != LotKind.INGREDIENT or line.dimension != lot.dimension:
        return False
    return lot.detail.ingredient_id == line.ingredient_id  # type: ignore[attr-defined]


def _line(line: RecipeLine, planned: int, taken: list[_Taken], at_desk: Desk) -> PlannedAmount:
    used = _sum(taken)
    typed = [line.per_litre_text, *(each.typed for each in taken)]
    return PlannedAmount(
        what=str(line.ingredient or line.get_role_display()),
        per_litre=f"{line.per_litre_text}/L",
        planned=at_desk.amount(planned, line.dimension, typed),
        used="none recorded" if not taken else _used(used, line.dimension, typed, at_desk),
        difference=f"{100 * (used - planned) / planned:+.1f} %" if used and planned else "",
        lots=tuple(each.words for each in taken),
    )


def _sum(taken: list[_Taken]) -> int | None:
    """All that was taken; None where part of it is not known."""
    amounts = [each.amount for each in taken]
    return None if None in amounts else sum(amount for amount in amounts if amount)


def _used(used: int | None, dimension: str, typed: list[str], at_desk: Desk) -> str:
    return "not known" if used is None else at_desk.amount(used, dimension, typed)


def _alike(taken: list[_Taken]) -> list[list[_Taken]]:
    """What was taken of the same in the same measure together, in the order it was first taken."""
    groups: dict[tuple[str, str], list[_Taken]] = defaultdict(list)
    for each in taken:
        groups[what(each.lot), each.lot.dimension].append(each)
    return list(groups.values())


def _unplanned(taken: list[_Taken], at_desk: Desk) -> PlannedAmount:
    lot = taken[0].lot
    return PlannedAmount(
        what=what(lot),
        per_litre="",
        planned=NOT_IN_RECIPE,
        used=_used(_sum(taken), lot.dimension, [each.typed for each in taken], at_desk),
        difference="",
        lots=tuple(each.words for each in taken),
    )
