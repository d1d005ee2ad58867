"""`manage.py trace CODE`: what was made from a lot, or what it was made from."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone
from rich.console import Console
from rich.table import Table

from brewlog.management.printing import (
    FOUND,
    add_since,
    as_json,
    brewery_zone,
    console_on,
    lot_asked_for,
    suspect_since,
    when_text,
)
from brewlog.models import Lot, LotKind
from brewlog.trace import (
    Ancestry,
    Composition,
    LotFacts,
    Scope,
    WhereItWent,
    backward,
    composition,
    scope,
    where_it_went,
)
from brewlog.units import show_quantity


class Command(BaseCommand):
    help = (
        "Everything made from a lot, or with --backward everything it was made from, with the "
        "amounts. Exit code 0: found; 1: no such lot; 2: it was called wrongly."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("code", help="lot code")
        parser.add_argument("--backward", action="store_true", help="what it was made from")
        add_since(parser)
        parser.add_argument("--json", action="store_true", help="for programs")

    def handle(self, *args: Any, **options: Any) -> None:
        lot = lot_asked_for(self, options["code"])
        with timezone.override(brewery_zone()):
            if options["backward"]:
                self._backward(lot, options["json"])
            else:
                self._forward(lot, options["since"], options["json"])
        sys.exit(FOUND)

    def _forward(self, lot: Lot, since: str, for_programs: bool) -> None:
        found, went = scope(lot, since=suspect_since(since)), where_it_went(lot)
        if for_programs:
            self.stdout.write(as_json(scope=found, where_it_went=went))
            return
        print_forward(console_on(self.stdout), found, went)

    def _backward(self, lot: Lot, for_programs: bool) -> None:
        found, made_of = backward(lot), composition(lot)
        if for_programs:
            self.stdout.write(as_json(ancestry=found, composition=made_of))
            return
        print_backward(console_on(self.stdout), found, made_of)


def print_forward(console: Console, found: Scope, went: WhereItWent) -> None:
    """The scope as a table, with what each lot has of the one asked about."""
    shares = {share.facts.lot_id: share for share in went.shares}
    dimension = found.lot.dimension
    table = _table(found.lot, f"{len(found.lots) - 1} lots were made from")
    for heading in ("material in it from", "of it went in", "per bottle"):
        table.add_column(heading, justify="right")
    for each in found.lots[1:]:
        share = shares.get(each.facts.lot_id)
        table.add_row(
            *_lot_cells(each.facts, each.distance),
            when_text(each.arrived) or "drawn before",
            show_quantity(share.entered, dimension) if share else "",
            show_quantity(round(share.per_piece), dimension) if share and share.per_piece else "",
        )
    console.print(table)
    _print_earlier(console, found)
    _print_sinks(console, went)


def _print_earlier(console: Console, found: Scope) -> None:
    for each in found.drawn_before:
        for draw in each.earlier:
            came = when_text(draw.arrived)
            console.print(
                f"{each.facts.code} was drawn from {draw.source.code} {draw.drawn}, "
                + (f"before it came there {came}." if came else "which was itself drawn before.")
            )


def _print_sinks(console: Console, went: WhereItWent) -> None:
    table = Table(title=f"Where {went.lot.code} went")
    table.add_column("")
    table.add_column("amount", justify="right")
    rows = {"shipped": went.shipped, "on hand": went.on_hand, **went.gone}
    for name, amount in rows.items():
        table.add_row(name, show_quantity(amount, went.lot.dimension))
    if went.unexplained:
        table.add_row(
            "more than the books had", show_quantity(-went.unexplained, went.lot.dimension)
        )
    table.add_row("in all", show_quantity(went.amount, went.lot.dimension))
    console.print(table)


def print_backward(console: Console, found: Ancestry, made_of: Composition) -> None:
    """What the lot was made from as a table, with how much of each."""
    parts = {part.facts.lot_id: part for part in made_of.parts}
    table = _table(found.lot, f"{len(found.lots) - 1} lots went into")
    for heading in ("of it in the lot", "per bottle"):
        table.add_column(heading, justify="right")
    for each in found.lots[1:]:
        part = parts.get(each.facts.lot_id)
        dimension = each.facts.dimension
        table.add_row(
            *_lot_cells(each.facts, each.distance),
            show_quantity(part.entered, dimension) if part else "a trace",
            show_quantity(round(part.per_piece), dimension) if part and part.per_piece else "",
        )
    console.print(table)


def _table(lot: LotFacts, words: str) -> Table:
    table = Table(title=f"{words} {lot.code} ({LotKind(lot.kind).label}, {lot.when})")
    for heading in ("lot", "kind", "began"):
        table.add_column(heading)
    table.add_column("steps", justify="right")
    return table


def _lot_cells(facts: LotFacts, distance: int) -> tuple[str, str, str, str]:
    return facts.code, str(LotKind(facts.kind).label), str(facts.when), str(distance)
