"""What the records tell, beside the work: on the page of a lot, and above an entry's form."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.urls import reverse
from django.utils.http import urlencode

from brewlog.calculations.base import units_of
from brewlog.calculations.flow import BESIDE, Line, lot_lines
from brewlog.entries.base import Entry
from brewlog.middleware import BreweryRequest
from brewlog.models import Lot
from brewlog.models.lots import DESCRIBED
from brewlog.views.access import READ
from brewlog.views.entry_page import EntryPage


@dataclass(frozen=True)
class Worked:
    """A line on the page, with the way to its working ('' where there is none)."""

    text: str
    title: str
    url: str


@dataclass(frozen=True)
class WorkOut:
    """What is worked out about a lot, and what else can be."""

    told: list[Worked]
    offered: list[Worked]


@dataclass(frozen=True)
class Beside:
    """The lines about one lot beside a form."""

    lot: Lot
    lines: list[Worked]


def work_out(request: BreweryRequest, lot: Lot) -> WorkOut | None:
    """For the page of a lot; None where no calculation starts from such a lot."""
    worked = _worked(lot_lines(lot, units_of(request.user)), lot)
    if lot.is_void or not worked:
        return None
    told = [each for each in worked if each.text]
    return WorkOut(told, [each for each in worked if not each.text])


def beside(request: BreweryRequest, page: EntryPage[Entry]) -> Beside | None:
    """For an entry's form that names a lot, as opened from its page or as typed so far."""
    lines_of = BESIDE.get(page.entry.slug)
    if lines_of is None or not request.user.has_perm(READ):
        return None
    lot = lot_named(page)
    if lot is None or lot.is_void:
        return None
    worked = _worked(lines_of(lot, units_of(request.user)), lot)
    return Beside(lot, worked) if worked else None


def lot_named(page: EntryPage[Entry]) -> Lot | None:
    """The first lot in the form, else in its first row."""
    first_rows = [rows.forms[0] for rows in page.rows if rows.forms]
    for form in (page.form, *first_rows):
        for name in ("lot", "batch", "source"):
            code = str(form[name].value() or "").strip() if name in form.fields else ""
            if code:
                lots = Lot.objects.live().with_code(code)
                return lots.select_related(*DESCRIBED).first()
    return None


def _worked(lines: Iterable[Line], lot: Lot) -> list[Worked]:
    query = urlencode({"for-lot": lot.code})
    return [
        Worked(
            line.text,
            line.title,
            f"{reverse('calculation', args=[line.slug])}?{query}" if line.slug else "",
        )
        for line in lines
    ]
