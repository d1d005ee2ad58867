"""The demo's recall worked out from its CSV files: csv and networkx, nothing of the product.

Reads cells in its own few lines, so that a fault of the importer or of the trace cannot
hide in both answers.
"""

from __future__ import annotations

import csv
import io
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from pathlib import Path

import networkx as nx

FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "demo"


def rows(sheet: str, folder: Path = FOLDER) -> list[dict[str, str]]:
    """A sheet's rows, cells without the spaces around them; empty rows left out."""
    text = (folder / f"{sheet}.csv").read_text(encoding="utf-8-sig")
    delimiter = ";" if text.partition("\n")[0].count(";") else ","
    read = csv.DictReader(io.StringIO(text), delimiter=delimiter)
    tidied = ({name: cell.strip() for name, cell in row.items()} for row in read)
    return [row for row in tidied if any(row.values())]


def lot(cell: str) -> str:
    """A lot code as it stands on the label, however it was typed."""
    return cell.strip().upper()


def edges() -> list[tuple[str, str]]:
    """Every (source, product) the sheets name, whichever sheet says so."""
    found = [(row["Lot used"], row["Into"]) for row in rows("Uses")]
    found += [(row["Starter"], row["Batch"]) for row in rows("Starter added")]
    found += [(row["From"], row["Lot code"]) for row in rows("Cultures") if row["From"]]
    found += [(row["Batch"], row["Lot code"]) for row in rows("Bottling") if row["Batch"]]
    return [(lot(source), lot(product)) for source, product in found]


@dataclass
class Account:
    """One bottling lot in bottles."""

    made: int
    shipped: int = 0
    returned: int = 0
    gone: int = 0

    @property
    def on_hand(self) -> int:
        return max(0, self.made - self.shipped + self.returned - self.gone)


@dataclass
class RawRecall:
    """What was made from a lot, itself included, and who had the bottles."""

    lots: set[str]
    bottles: dict[str, Account] = field(default_factory=dict)
    customers: dict[str, dict[str, int]] = field(default_factory=dict)


def recall(suspect: str) -> RawRecall:
    """Everything made from the lot, its bottles, and the customers with their quantities."""
    graph = nx.DiGraph(edges())
    lots = {suspect, *nx.descendants(graph, suspect)}
    bottles = {
        lot(row["Lot code"]): Account(int(row["Filled"]))
        for row in rows("Bottling")
        if lot(row["Lot code"]) in lots
    }
    _take_off(bottles)
    return RawRecall(lots, bottles, _who_has_them(bottles))


def _take_off(bottles: dict[str, Account]) -> None:
    kept = {
        lot(row["Bottling lot"]): int(row["Bottles kept back"]) for row in rows("Bottles kept back")
    }
    gone: Counter[str] = Counter()
    for row in rows("Adjustments"):
        if lot(row["Lot"]) in bottles:
            gone[lot(row["Lot"])] += int(row["Amount gone"])
    for row in rows("Breakage"):
        gone[lot(row["Bottling lot"])] += int(row["Broken"])
    for row in rows("Bottles opened"):
        gone[lot(row["Bottling lot"])] += kept[lot(row["Bottling lot"])]
    for row in rows("Shipment lines"):
        if lot(row["Lot"]) in bottles:
            bottles[lot(row["Lot"])].shipped += int(row["Amount"])
    for row in rows("Returns"):
        if lot(row["Lot"]) in bottles:
            bottles[lot(row["Lot"])].returned += int(row["Amount brought back"])
    for code, account in bottles.items():
        account.gone = gone[code]


def _who_has_them(bottles: dict[str, Account]) -> dict[str, dict[str, int]]:
    customer_of = {row["Shipment number"]: row["Customer"] for row in rows("Shipments")}
    found: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for row in rows("Shipment lines"):
        code = lot(row["Lot"])
        if code in bottles:
            found[customer_of[row["Shipment number"]]][code] += int(row["Amount"])
    return {customer: dict(sent) for customer, sent in found.items()}


def in_the_cooler(day: str) -> set[str]:
    """The lots with bottles in the cooler on a day, by what came in and left before it."""
    there: Counter[str] = Counter()
    for row in rows("Moves"):
        if row["To"] == "Cooler" and row["When"][:10] <= day:
            there[lot(row["Lot"])] += int(row["Amount"])
    shipped_on = {row["Shipment number"]: row["When"] for row in rows("Shipments")}
    for row in rows("Shipment lines"):
        if shipped_on[row["Shipment number"]] < day:
            there[lot(row["Lot"])] -= int(row["Amount"])
    for row in rows("Adjustments"):
        if lot(row["Lot"]) in there and row["When"] < day:
            there[lot(row["Lot"])] -= int(row["Amount gone"])
    for row in rows("Bottles opened"):
        if row["When"] < day:
            there[lot(row["Bottling lot"])] -= 2
    return {code for code, bottles in there.items() if bottles > 0}
