"""`manage.py recall CODE [--out DIR]`: the lots, the bottles, the customers, and the packet."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.utils import timezone

from brewlog.management.recalling import RecallCommand
from brewlog.models import Brewery, Lot
from brewlog.trace import Recall
from compliance.documents.files import usual_paper
from compliance.documents.printing import COMMAND
from compliance.documents.recall_facts import collect_recall
from compliance.documents.recall_files import packet_files


class Command(RecallCommand):
    help = f"{RecallCommand.help} With --out, the draft packet as PDF, XLSX, CSV and JSON."

    def add_arguments(self, parser: ArgumentParser) -> None:
        super().add_arguments(parser)
        parser.add_argument("--out", type=Path, help="folder to write the packet to")

    def report(self, answer: Recall, options: dict[str, Any]) -> None:
        super().report(answer, options)
        if options["out"]:
            for path in write_packet(answer, options["out"]):
                # Not among what a program reads with --json.
                self.stderr.write(f"written: {path}", ending="\n")


def write_packet(answer: Recall, folder: Path) -> list[Path]:
    """The packet in its forms; the folder is made where there is none."""
    at = timezone.now()
    lot = Lot.objects.get(pk=answer.scope.lot.lot_id)
    packet = collect_recall(lot, printed_by=COMMAND, printed_at=at, since=answer.scope.since)
    paper = usual_paper(Brewery.objects.first())
    contents = packet_files(packet, at, paper)
    for name, content in contents.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    return [folder / name for name in contents]
