"""Which lots may be labelled for sale."""

from __future__ import annotations

from brewlog.domain.blocks import all_blocks
from brewlog.models import Lot, LotKind
from brewlog.recording import Refused


def refuse_unlabelled(lot: Lot) -> None:
    """Raise `Refused` for a lot that has no label, or must not have one."""
    if lot.kind != LotKind.BOTTLING:
        raise Refused(f"{lot} is a {lot.get_kind_display()}. Labels are for bottling lots.")
    found = all_blocks(lot, "labelled for sale")
    if found:
        why = "; ".join(block.text for block in found)
        raise Refused(f"{lot} must not be labelled for sale: {why}. Ask the reviewer.")
