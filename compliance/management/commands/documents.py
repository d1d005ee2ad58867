"""`manage.py documents CODE --out DIR`: the papers of one lot."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand
from django.utils import timezone

from brewlog.management.printing import FOUND, lot_asked_for
from brewlog.models import Brewery, Lot, LotKind
from compliance.documents.barcodes import BarcodeError
from compliance.documents.collect_lot import collect_lot
from compliance.documents.files import file_stem, usual_paper
from compliance.documents.label_packet import collect_label
from compliance.documents.label_proof import label_proof
from compliance.documents.lot_sheet import lot_sheet
from compliance.documents.page import PAPERS
from compliance.documents.printing import COMMAND
from compliance.documents.trace_packet import DIRECTIONS, collect_trace
from compliance.documents.trace_sheet import trace_sheet
from compliance.label_stock import LabelError

REFUSED = 3


class Command(BaseCommand):
    help = (
        "Write the lot sheet, the trace sheets both ways and, for a bottling lot, a proof of its "
        "label, as PDF and the facts as JSON. Exit code 0: written; 1: no such lot; 2: it was "
        "called wrongly; 3: written, but without labels, and it says why."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("code", help="lot code")
        parser.add_argument("--out", type=Path, required=True, help="folder to write to")
        parser.add_argument("--paper", choices=sorted(PAPERS), help="instead of the country's own")

    def handle(self, *args: Any, **options: Any) -> None:
        lot = lot_asked_for(self, options["code"])
        paper = options["paper"] or usual_paper(Brewery.objects.first())
        folder: Path = options["out"]
        folder.mkdir(parents=True, exist_ok=True)
        self._write(folder, papers_of(lot, paper))
        if lot.kind != LotKind.BOTTLING:
            sys.exit(FOUND)
        try:
            self._write(folder, labels_of(lot, paper))
        except (ValidationError, LabelError, BarcodeError) as error:
            words = error.messages if isinstance(error, ValidationError) else [str(error)]
            self.stderr.write("No labels: " + " ".join(words))
            sys.exit(REFUSED)
        sys.exit(FOUND)

    def _write(self, folder: Path, files: dict[str, bytes]) -> None:
        for name, content in files.items():
            (folder / name).write_bytes(content)
            self.stdout.write(str(folder / name))


def papers_of(lot: Lot, paper: str) -> dict[str, bytes]:
    """Lot sheet and trace sheets by file name."""
    at, stem = timezone.now(), file_stem(lot.code)
    packet = collect_lot(lot, printed_by=COMMAND, printed_at=at)
    files = {f"lot-{stem}.pdf": lot_sheet(packet, paper), f"lot-{stem}.json": _json(packet)}
    for direction in DIRECTIONS:
        traced = collect_trace(lot, direction, printed_by=COMMAND, printed_at=at)
        files[f"trace-{direction}-{stem}.pdf"] = trace_sheet(traced, paper)
        files[f"trace-{direction}-{stem}.json"] = _json(traced)
    return files


def labels_of(lot: Lot, paper: str) -> dict[str, bytes]:
    """The proof of the label. Raises `Refused`, `LabelError` or `BarcodeError`."""
    packet = collect_label(lot, printed_by=COMMAND, printed_at=timezone.now())
    stem = file_stem(lot.code)
    made = label_proof(packet, paper)
    return {f"labels-{stem}.pdf": made, f"labels-{stem}.json": _json(packet)}


def _json(packet: Any) -> bytes:
    return packet.to_json().encode()
