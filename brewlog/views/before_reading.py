"""What is to be known before a reading is typed: the lot, its limits, the instrument's state."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from brewlog.entries import BY_SLUG
from brewlog.entries.base import RECORD
from brewlog.forms.base import EntryForm
from brewlog.middleware import BreweryRequest
from brewlog.models import Instrument, Lot, Measurand
from brewlog.models.lots import DESCRIBED
from brewlog.views.access import needs
from brewlog.views.entry_page import blank_page
from brewlog.views.judged import HeldTo, held_to, limits_beside, typed_in
from brewlog.views.lists import Word
from brewlog.views.meters import meter_word, usual_instrument
from brewlog.views.panels import ENTRY_PANELS, Panel
from brewlog.views.reader import reader_of

TEMPLATE = "brewlog/_before_reading.html"


@dataclass(frozen=True)
class BeforeReading:
    """What stands above the form; each part is left out where it is not known yet."""

    lot: Lot | None
    what: str
    limits: list[str]
    why: list[HeldTo]
    instrument: Instrument | None
    meter: Word | None

    @property
    def is_empty(self) -> bool:
        return not (self.lot or self.instrument or self.why)


def remembered(request: BreweryRequest, slug: str) -> dict[str, str]:
    """What the form opens with because it was so the last time."""
    if slug != "reading":
        return {}
    found = usual_instrument(request, request.GET.get("measurand", Measurand.PH))
    return {"instrument": found.name} if found else {}


def reading_panel(request: BreweryRequest, form: EntryForm) -> Panel:
    """For the reading's form, as opened or as typed so far."""
    measurand = str(form["measurand"].value() or "")
    code = str(form["lot"].value() or "").strip()
    lot = Lot.objects.live().with_code(code).select_related(*DESCRIBED).first() if code else None
    name = str(form["instrument"].value() or "").strip()
    instrument = Instrument.objects.live().filter(name__iexact=name).first() if name else None
    return Panel(
        TEMPLATE,
        BeforeReading(
            lot,
            lot.detail.describe() if lot else "",  # type: ignore[attr-defined]
            limits_beside([lot], measurand)[lot.pk] if lot else [],
            held_to("reading", typed_in(form), [lot] if lot else []),
            instrument,
            meter_word(instrument, reader_of(request)) if instrument else None,
        ),
    )


@require_safe
@never_cache
@needs(RECORD)
def before_reading(request: BreweryRequest) -> HttpResponse:
    """The panel alone, for the lot, measurand and instrument that are chosen by now."""
    entry = BY_SLUG["reading"]
    panel = reading_panel(request, blank_page(request, entry, entry.about).form)
    return render(request, TEMPLATE, {"panel": panel.data})


ENTRY_PANELS["reading"] = reading_panel
