"""The recall question on a terminal. The command itself stands where the papers are."""

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
from brewlog.models import LotKind, StockAdjustment
from brewlog.trace import Recall, RecallLot, recall
from brewlog.units import show_quantity


class RecallCommand(BaseCommand):
    help = (
        "Everything made from a lot: bottles made, on hand, shipped, brought back, gone and "
        "unexplained, and the customers who have them. Exit code 0: found; 1: no such lot; "
        "2: it was called wrongly."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("code", help="lot code")
        add_since(parser)
        parser.add_argument("--json", action="store_true", help="for programs")

    def handle(self, *args: Any, **options: Any) -> None:
        lot = lot_asked_for(self, options["code"])
        with timezone.override(brewery_zone()):
            answer = recall(lot, since=suspect_since(options["since"]))
            self.report(answer, options)
        sys.exit(FOUND)

    def report(self, answer: Recall, options: dict[str, Any]) -> None:
        """Say the answer in each form asked for."""
        if options["json"]:
            self.stdout.write(
                as_json(
                    totals=answer.totals,
                    scope=answer.scope,
                    lots=answer.lots,
                    customers=answer.customers,
                )
            )
        else:
            print_recall(console_on(self.stdout), answer)


def print_recall(console: Console, answer: Recall) -> None:
    """Bottling lots, what else is there, and customers, as tables."""
    lot = answer.scope.lot
    title = f"Made from {lot.code} ({LotKind(lot.kind).label}, {lot.when})"
    console.print(_bottles(title, answer))
    if answer.other_stock:
        console.print(_stock(answer))
    console.print(_customers(answer))


def _bottles(title: str, answer: Recall) -> Table:
    table = Table(title=title, show_footer=True)
    totals = answer.totals
    gone = sum(totals.gone.values())
    columns = {
        "lot": f"{totals.lots} lots",
        "flavour": "",
        "format": "",
        "best before": "",
        "material in it from": "",
        "made": str(totals.made),
        "shipped": str(totals.shipped),
        "returned": str(totals.returned),
        "gone": str(gone),
        "on hand": str(totals.on_hand),
        "unexplained": str(totals.unexplained),
    }
    for number, (heading, footer) in enumerate(columns.items()):
        table.add_column(heading, footer=footer, justify="left" if number < 5 else "right")
    for each in answer.bottling_lots:
        table.add_row(
            each.code,
            each.flavour,
            each.format,
            each.best_before,
            when_text(each.scope.arrived) or "drawn before",
            str(each.made),
            str(each.shipped),
            str(each.returned),
            gone_text(each),
            str(each.on_hand),
            str(each.unexplained or ""),
        )
    return table


def gone_text(lot: RecallLot) -> str:
    """What is gone, with its reasons: `3 sample, 12 destroyed`."""
    return ", ".join(
        f"{amount} {StockAdjustment.Reason(reason).label}" for reason, amount in lot.gone.items()
    )


def _stock(answer: Recall) -> Table:
    table = Table(title="Not bottled, and still there")
    for heading in ("lot", "kind", "material in it from"):
        table.add_column(heading)
    table.add_column("on hand", justify="right")
    for each in answer.other_stock:
        table.add_row(
            each.code,
            str(LotKind(each.scope.facts.kind).label),
            when_text(each.scope.arrived) or "drawn before",
            show_quantity(each.on_hand, each.scope.facts.dimension),
        )
    return table


def _customers(answer: Recall) -> Table:
    table = Table(title=f"Who had them: {len(answer.customers)} customers")
    for heading in ("customer", "contact", "phone", "e-mail", "lot"):
        table.add_column(heading)
    table.add_column("amount", justify="right")
    table.add_column("returned", justify="right")
    for heading in ("sent", "shipments"):
        table.add_column(heading)
    for customer in answer.customers:
        who = [customer.name, customer.contact, customer.phone, customer.email]
        for sent in customer.lots:
            first, last = str(sent.first)[:10], str(sent.last)[:10]
            table.add_row(
                *who,
                sent.code + (" (drawn before)" if sent.drawn_before else ""),
                show_quantity(sent.quantity, sent.dimension),
                str(sent.returned or ""),
                first if first == last else f"{first} to {last}",
                ", ".join(sent.shipments),
            )
            who = ["", "", "", ""]
    return table
