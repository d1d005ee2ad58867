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
from brewlog.calculations.base import Answer, Calculation, CalculationForm, Known
from brewlog.middleware import BreweryRequest
from brewlog.models import Lot
from brewlog.science.errors import OutOfRange
from brewlog.views.access import READ, needs
from brewlog.views.entry_page import form_problems
from brewlog.views.offers import offers_for
from brewlog.views.reader import reader_of


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
    known = found.known(lot) if lot is not None and lot.kind in found.about else {}
    form = _form(request, found, known)
    answer = _answer(found, form) if form.is_bound else None
    context = {
        "here": "calculations",
        "calculation": found,
        "lot": lot,
        "form": form,
        "problems": form_problems(form) if form.is_bound else [],
        "answer": answer,
        "keep_url": _keep_url(request, answer),
        "offers": offers_for([form], reader_of(request)),
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


def _form(request: BreweryRequest, found: Calculation, known: dict[str, Known]) -> CalculationForm:
    typed = request.GET if "work" in request.GET else None
    initial = {name: each.text for name, each in known.items()}
    brewery = getattr(request, "brewery", None)
    form = found.form(typed, initial=initial, actor=request.user, brewery=brewery)
    _say_sources(form, known)
    return form


def _say_sources(form: CalculationForm, known: dict[str, Known]) -> None:
    """Beside each value taken from the records, where it comes from, as long as it stands."""
    for name, each in known.items():
        field = form[name]
        if field.value() == each.text:
            field.help_text = f"From the records: {each.source}. {field.help_text}".strip()


def _answer(found: Calculation, form: CalculationForm) -> Answer | None:
    """The answer, or None with the reason on the form: a sentence where a number would be."""
    if not form.is_valid():
        return None
    try:
        return found.work(**form.cleaned_data)
    except OutOfRange as error:
        form.add_error(None, str(error))
    except ValidationError as error:
        form.add_error(None, error)
    return None


def _keep_url(request: BreweryRequest, answer: Answer | None) -> str:
    """The entry that would keep the answer as a record, filled in; '' where there is none."""
    if answer is None or answer.keep is None:
        return ""
    if not request.user.has_perm("brewlog.record_production"):
        return ""
    return f"{reverse('entry', args=[answer.keep.entry])}?{urlencode(answer.keep.fields)}"
