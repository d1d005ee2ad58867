"""Calculations: tried freely, prefilled from a lot's records, never saved by themselves."""

from __future__ import annotations

from itertools import groupby
from urllib.parse import urlencode

from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from brewlog.calculations import BY_SLUG, CALCULATIONS
from brewlog.calculations.base import Answer, Calculation, Known, units_of
from brewlog.forms.base import EntryForm
from brewlog.middleware import BreweryRequest
from brewlog.models import Lot
from brewlog.science.errors import OutOfRange
from brewlog.views.access import READ, needs
from brewlog.views.drafts import WORKED_OUT
from brewlog.views.entry_page import (
    EntryPage,
    blank_page,
    longer_page,
    prefilled_page,
    sent_page,
)
from brewlog.views.offers import offers_for
from brewlog.views.reader import Reader, reader_of


@needs(READ)
@require_safe
def calculations(request: BreweryRequest) -> HttpResponse:
    """All calculations, by group; with a lot named, those its records can fill in."""
    lot = _lot(request)
    listed = [each for each in CALCULATIONS if lot is None or lot.kind in each.about]
    groups = [(group, list(each)) for group, each in groupby(listed, key=lambda c: c.group)]
    context = {"here": "calculations", "groups": groups, "lot": lot}
    return render(request, "brewlog/calculations.html", context)


@needs(READ)
@require_safe
def calculation(request: BreweryRequest, slug: str) -> HttpResponse:
    """One calculation: its inputs and, once they are there, the answer with its working."""
    found = BY_SLUG.get(slug)
    if found is None:
        raise Http404(f"There is no calculation called '{slug}'.")
    lot = _lot(request)
    page, known = _page(request, found, lot)
    answer = _answer(request, found, page) if page.form.is_bound else None
    _say_sources(page.form, known, reader_of(request))
    context = {
        "here": "calculations",
        "calculation": found,
        "lot": lot,
        "page": page,
        "form": page.form,
        "problems": page.problems,
        "answer": answer,
        "keep_url": _keep_url(request, answer),
        "offers": offers_for(page.all_forms, reader_of(request)),
        "see_also": [BY_SLUG[each] for each in found.see_also],
    }
    return render(request, "brewlog/calculation.html", context)


def _lot(request: BreweryRequest) -> Lot | None:
    code = request.GET.get("for-lot", "").strip()
    if not code:
        return None
    lot = Lot.objects.coded(code)
    if lot is None:
        raise Http404(f"No lot has the code '{code}'.")
    return lot


def _page(
    request: BreweryRequest, found: Calculation, lot: Lot | None
) -> tuple[EntryPage[Calculation], dict[str, Known]]:
    """The form with its rows: as typed, or filled from the lot's records; and what those know."""
    known = found.known(lot) if lot is not None and lot.kind in found.about else {}
    for name in request.GET.getlist("add-rows"):
        return longer_page(request, found, name), known
    if "work" in request.GET:
        return sent_page(request, found), known
    if lot is None or lot.kind not in found.about:
        return blank_page(request, found), known
    initial = {name: each.text for name, each in known.items()}
    return prefilled_page(request, found, initial, found.known_rows(lot)), known


def _say_sources(form: EntryForm, known: dict[str, Known], reader: Reader) -> None:
    """Beside each value taken from the records, where it comes from, as long as it stands."""
    for name, each in known.items():
        field = form[name]
        if field.value() == each.text:
            told = reader.words(f"From the records: {each.source}.")
            field.help_text = f"{told} {field.help_text}".strip()


def _answer(
    request: BreweryRequest, found: Calculation, page: EntryPage[Calculation]
) -> Answer | None:
    """The answer, or None with the reason on the page: a sentence where a number would be."""
    if not page.is_valid():
        return None
    try:
        return found.work(**page.arguments())
    except OutOfRange as error:
        page.refuse(ValidationError(units_of(request.user).sentence(error)))
    except ValidationError as error:
        page.refuse(error)
    return None


def _keep_url(request: BreweryRequest, answer: Answer | None) -> str:
    """The entry that would keep the answer as a record, filled in; '' where there is none."""
    if answer is None or answer.keep is None:
        return ""
    if not request.user.has_perm("brewlog.record_production"):
        return ""
    fields = {**answer.keep.fields, WORKED_OUT: "1"}
    return f"{reverse('entry', args=[answer.keep.entry])}?{urlencode(fields)}"
