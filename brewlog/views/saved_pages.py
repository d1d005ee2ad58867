"""Keeping a view of a list, and the page where views are renamed, shared and deleted."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from brewlog.domain import saved_views
from brewlog.entries.base import MANAGE
from brewlog.forms.saved_views import SaveViewForm
from brewlog.middleware import BreweryRequest
from brewlog.models import SavedView
from brewlog.views.access import READ, needs
from brewlog.views.entry_page import Problem, form_problems
from brewlog.views.lists import Listing, asked_of
from brewlog.views.nouns import FURTHER_LISTINGS, LISTINGS
from brewlog.views.saved import view_url


def _listings() -> dict[str, Listing]:
    return {listing.noun: listing for listing in (*LISTINGS, *FURTHER_LISTINGS)}


@never_cache
@needs(READ)
@require_http_methods(["GET", "HEAD", "POST"])
def save_view(request: BreweryRequest, noun: str) -> HttpResponse:
    """A name for the list as it is narrowed and ordered in the address."""
    listing = _listings().get(noun)
    if listing is None:
        raise Http404(f"There is no list called '{noun}'.")
    query = asked_of(request, listing)
    form = SaveViewForm(
        request.POST if request.method == "POST" else None,
        actor=request.user,
        brewery=request.brewery,
    )
    if form.is_bound and form.is_valid():
        try:
            view = saved_views.save_view(
                actor=request.user, noun=noun, query=query, **form.cleaned_data
            )
        except ValidationError as error:
            form.add_error(None if not hasattr(error, "error_dict") else "name", error.messages)
        else:
            return redirect(view_url(view))
    context = {
        "here": "records",
        "listing": listing,
        "back_url": f"{reverse(f'{noun}-list')}?{query}",
        "form": form,
        "problems": form_problems(form) if form.is_bound else [],
    }
    return render(request, "brewlog/save_view.html", context)


@never_cache
@needs(READ)
@require_http_methods(["GET", "HEAD", "POST"])
def views_page(request: BreweryRequest) -> HttpResponse:
    """The person's views and those offered to everyone, each with what can be done with it."""
    problems: list[Problem] = []
    typed: tuple[int, str] | None = None
    if request.method == "POST":
        view = get_object_or_404(
            saved_views.views_for(request.user), pk=_number(request.POST.get("view", ""))
        )
        try:
            _change(request, view)
        except ValidationError as error:
            typed = view.pk, request.POST.get("name", "")
            problems = [Problem(f"name-{view.pk}", "Name", text) for text in error.messages]
        else:
            return redirect("saved-views")
    context = {
        "here": "records",
        "groups": _groups(request, typed),
        "problems": problems,
    }
    return render(request, "brewlog/saved_views.html", context)


def _number(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 12 else 0


def _change(request: BreweryRequest, view: SavedView) -> None:
    """Do what the button says. Raises `ValidationError` where it cannot be."""
    done = request.POST.get("do")
    if done == "delete":
        saved_views.delete_view(actor=request.user, view=view)
    elif done in {"share", "keep"}:
        saved_views.share_view(actor=request.user, view=view, is_shared=done == "share")
    else:
        name = request.POST.get("name", "")
        saved_views.rename_view(actor=request.user, view=view, name=name)


def _groups(request: BreweryRequest, typed: tuple[int, str] | None) -> list[dict[str, Any]]:
    """The views by list. `typed` is a name that was refused, and stays in its box."""
    listings = _listings()
    by_noun: dict[str, list[dict[str, Any]]] = {}
    manages = request.user.has_perm(MANAGE)
    for view in saved_views.views_for(request.user).order_by("name", "id"):
        if view.noun in listings:
            is_own = view.owner_id == request.user.pk
            row = {
                "view": view,
                "url": view_url(view),
                "name": typed[1] if typed and typed[0] == view.pk else view.name,
                "may_change": is_own or manages,
                "is_own": is_own,
            }
            by_noun.setdefault(view.noun, []).append(row)
    return [
        {"title": listing.title, "rows": by_noun[noun]}
        for noun, listing in listings.items()
        if noun in by_noun
    ]
