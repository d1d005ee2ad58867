"""Addresses (URIs) for what the events name: lots, parties, places, documents.

A bottling lot whose flavour has a GTIN goes by its GS1 Digital Link. Everything else goes by
a tag URI (RFC 4151) in the brewery's own name, so that nothing is claimed of anybody else.
"""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any
from urllib.parse import quote

from brewlog.gs1 import Gs1Error, gtin14, lot_element
from brewlog.models import Brewery, Lot, LotKind

DIGITAL_LINK = "https://id.gs1.org/01/{gtin}/10/{lot}"


class Names:
    """The addresses one brewery gives."""

    def __init__(self, brewery: Brewery, at: dt.datetime) -> None:
        email = brewery.email if brewery.email.isascii() else ""
        # .invalid is reserved (RFC 2606): nobody else's name, where the brewery has none.
        authority = email or f"{uuid.uuid5(uuid.NAMESPACE_DNS, brewery.name).hex}.invalid"
        self.base = f"tag:{authority},{brewery.recorded_at or at:%Y-%m-%d}:"

    def of(self, kind: str, name: object) -> str:
        return f"{self.base}{kind}/{quote(str(name), safe='')}"

    @property
    def brewery(self) -> str:
        return f"{self.base}brewery"

    @property
    def vocabulary(self) -> str:
        """Opens the names of what the standard has no word for."""
        return f"{self.base}vocabulary/"

    def lot(self, lot: Lot) -> str:
        """A voided lot may have a namesake: its number is added."""
        if lot.is_void:
            return self.of("void-lot", f"{lot.code}-{lot.pk}")
        if lot.kind == LotKind.BOTTLING:
            try:
                gtin = gtin14(lot.detail.flavour.gtin)  # type: ignore[attr-defined]
                lot_element(lot.code)
                return DIGITAL_LINK.format(gtin=gtin, lot=quote(lot.code, safe=""))
            except Gs1Error:
                pass
        return self.of("lot", lot.code)

    def record(self, record: Any) -> str:
        """A supplier, a customer, a place: by its number, as a name may be corrected."""
        return self.of(record._meta.model_name, record.pk)

    def event(self, record: Any, part: str, contents: str) -> str:
        """The same event of the same record has the same id; corrected, it has another."""
        said = f"{self.base} {record._meta.label} {record.pk} {part} {contents}"
        return f"urn:uuid:{uuid.uuid5(uuid.NAMESPACE_URL, said)}"
