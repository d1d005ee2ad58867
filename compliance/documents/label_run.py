"""The labels of one printing: what each said and how it stood, kept as it was printed.

A printing is drawn from what is kept of it, never from the records as they are now, so that the
same labels come again after a name, an address, a recipe or a limit has changed.
"""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import asdict, dataclass, fields
from typing import Any

from brewlog.logo import logo_bytes
from brewlog.models import BottlingLot, User
from compliance.documents.ingredient_list import EMPHASIS
from compliance.documents.label_layout import Placed
from compliance.documents.label_packet import LabelPacket, case_of, collect_label
from compliance.documents.label_rules import WARNING, WARNING_LEAD
from compliance.documents.labels import DrawnSymbol, LaidLabel, draw_run, lay_label, panel_of
from compliance.label_stock import MOST_LABELS, LabelError, Sheet
from compliance.models import Labelled, LabelRun


@dataclass(frozen=True)
class PrintedLabel:
    """A label as it was printed: the stock's measures, and the label laid out on it."""

    sheet: Sheet
    laid: LaidLabel

    def to_json(self) -> str:
        """Everything of it as text: all that it takes to draw it again."""
        return json.dumps(asdict(self), ensure_ascii=False)

    @property
    def lines(self) -> list[tuple[str, str]]:
        """What it says, line by line."""
        return lines_of(self.laid.packet)

    def differs_from(self, now: LabelPacket) -> list[str]:
        """The names of the lines that a label printed now would say otherwise."""
        then, later = dict(self.lines), dict(lines_of(now))
        return [
            name for name in dict.fromkeys((*then, *later)) if then.get(name) != later.get(name)
        ]

    @classmethod
    def from_json(cls, kept: str) -> PrintedLabel:
        data = json.loads(kept)
        laid = data["laid"]
        return cls(
            _of(Sheet, data["sheet"]),
            LaidLabel(
                _of(LabelPacket, laid["packet"]),
                tuple(_of(Placed, each) for each in laid["lines"]),
                _of(DrawnSymbol, laid["drawn"]),
                _tuples(laid["logo"]),
            ),
        )


def _of(kind: type, data: dict[str, Any]) -> Any:
    """A frozen dataclass of what JSON kept of it: its lists were tuples."""
    return kind(**{each.name: _tuples(data[each.name]) for each in fields(kind)})


def _tuples(value: Any) -> Any:
    return tuple(_tuples(each) for each in value) if isinstance(value, list) else value


def as_printed(run: LabelRun, *, printed_by: User | str, printed_at: dt.datetime) -> PrintedLabel:
    """What each label of a printing says by the records as they are now, laid out.

    Raises `Refused` where the lot is kept back, `LabelError` where the text does not fit.
    """
    sheet = run.geometry
    packet = packet_of_run(run, printed_by=printed_by, printed_at=printed_at)
    if not 1 <= run.count <= MOST_LABELS:
        raise LabelError(f"{run.count} labels: ask for 1 to {MOST_LABELS} at a time.")
    return PrintedLabel(sheet, lay_label(packet, panel_of(sheet), run.symbol))


def packet_of_run(run: LabelRun, *, printed_by: User | str, printed_at: dt.datetime) -> LabelPacket:
    """What each of its labels would say now. Raises `Refused` where the lot is kept back."""
    packet = collect_label(run.lot, printed_by=printed_by, printed_at=printed_at)
    return for_run(packet, run)


def for_run(packet: LabelPacket, run: LabelRun) -> LabelPacket:
    """A bottle's label as the printing's: of a case where it was for cases."""
    if run.what == Labelled.BOTTLE:
        return packet
    return case_of(packet, BottlingLot.objects.get(pk=run.lot_id), run.per_case, run.case_gtin)


def labels_of_run(run: LabelRun) -> bytes:
    """The PDF, as it was printed. Raises `LabelError` where its logo's file is gone."""
    printed = PrintedLabel.from_json(run.printed)
    name = printed.laid.packet.logo
    if printed.laid.logo and not logo_bytes(name):
        raise LabelError(
            f"The logo these labels were printed with is gone: the file {name}. Bring it back "
            "from a back-up; without it they would not be the same labels."
        )
    return draw_run([printed.laid] * run.count, start=run.start, sheet=printed.sheet)


# What it says, line by line ----------------------------------------------------------------------


def lines_of(packet: LabelPacket) -> list[tuple[str, str]]:
    """What a label says, by the names its lines go by in messages."""
    warning = f"{WARNING_LEAD} {WARNING}" if packet.has_warning else ""
    address = ", ".join(part for part in (packet.business, *packet.address.splitlines()) if part)
    lines = [
        ("Name of the food", packet.name),
        ("Net contents", packet.net_contents),
        ("Ingredients", ", ".join(packet.ingredients).replace(EMPHASIS, "")),
        ("Contains", ", ".join(packet.allergens)),
        ("Alcohol", packet.alcohol),
        ("Warning", warning),
        ("Further text", packet.statement),
        ("Cautions", packet.cautions),
        ("Storage", packet.storage),
        ("Best before", packet.best_before),
        ("Lot", packet.lot_code),
        ("Business", address),
        ("Barcode", "".join(packet.symbol_words)),
    ]
    return [(name, words) for name, words in lines if words]
