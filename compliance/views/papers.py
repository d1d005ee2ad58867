"""Blank papers to print in advance, and what their codes open."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_safe

from brewlog.middleware import BreweryRequest
from brewlog.views.access import READ, needs
from compliance.documents.paper_forms import (
    BY_KEY,
    CODES,
    PAPERS,
    Part,
    blank_papers,
    collect_papers,
)
from compliance.views.documents import AskedWrongly, pdf, usual_of

SET = "set"


@require_safe
@needs(READ)
def papers(request: BreweryRequest) -> HttpResponse:
    """The papers there are, each with the codes of its parts."""
    shown = [(paper, [(part, keyed_into(part)) for part in paper.parts]) for paper in PAPERS]
    context = {"here": "record", "papers": shown, "set": SET}
    return render(request, "compliance/papers.html", context)


@require_safe
@needs(READ)
def paper_pdf(request: BreweryRequest, key: str) -> HttpResponse:
    """One of the papers, or all of them as a set to keep in a drawer."""
    chosen = PAPERS if key == SET else tuple(paper for paper in PAPERS if paper.key == key)
    if not chosen:
        raise Http404(f"There is no paper '{key}'. There are: {', '.join(BY_KEY)}.")
    try:
        size = usual_of(request)
    except AskedWrongly as error:
        raise Http404(str(error)) from None
    found = request.build_absolute_uri(reverse("find"))
    made = collect_papers(
        chosen,
        url_of=lambda code: f"{found}?{urlencode({'q': code})}",
        printed_by=request.user,
        printed_at=timezone.now(),
    )
    return pdf(blank_papers(made, size), f"paper-{key}")


def to_paper_entry(code: str) -> str | None:
    """From the code on a paper to where it is keyed in."""
    part = CODES.get(code.upper())
    return keyed_into(part) if part else None


def keyed_into(part: Part) -> str:
    """The page a part is keyed into: its entry, or a round for what was read vessel by vessel."""
    if part.by_vessel:
        return f"{reverse('round')}?paper=1"
    return reverse("entry", args=[part.slug])
