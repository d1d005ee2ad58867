"""The brewery of each request: its clock, and its name on every page."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.core.exceptions import BadRequest
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.utils import timezone
from django_htmx.middleware import HtmxDetails

from brewlog.models import Brewery, User


class BreweryRequest(HttpRequest):
    """What a view is given: someone logged in, in the brewery (none before set-up)."""

    user: User
    brewery: Brewery | None
    htmx: HtmxDetails


class BreweryMiddleware:
    """Work in the brewery's time zone; a page before set-up works in UTC."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if "\x00" in request.path_info:
            raise BadRequest("No address holds a NUL character.")
        if "%00" in request.META.get("QUERY_STRING", ""):
            request.GET = _without_nul(request.GET)  # type: ignore[assignment]
        request.brewery = Brewery.objects.first()  # type: ignore[attr-defined]
        if request.brewery is None:  # type: ignore[attr-defined]
            return self.get_response(request)
        with timezone.override(request.brewery.zone):  # type: ignore[attr-defined]
            return self.get_response(request)


class SentFromPageMiddleware:
    """A form that a page's script sent is told where it leads, for the script to go there.

    A redirect would be followed unseen, with the next page's messages shown to nobody.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if request.headers.get("X-Sent-From") == "page" and 300 <= response.status_code < 400:
            response.status_code = 204  # with the Location it has
        return response


class FirstPasswordMiddleware:
    """Whoever comes in with a password they were given chooses their own before anything else."""

    _OPEN = frozenset({"own-password", "login", "logout"})

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Callable, args: Any, kwargs: Any
    ) -> HttpResponse | None:
        must = getattr(request.user, "must_change_password", False)
        name = request.resolver_match.url_name if request.resolver_match else ""
        return redirect("own-password") if must and name not in self._OPEN else None


def _without_nul(query: QueryDict) -> QueryDict:
    """What was asked, without the character PostgreSQL takes in no text."""
    asked = query.copy()
    for name, values in query.lists():
        asked.setlist(name, [value.replace("\x00", "") for value in values])
    return asked


def brewery_context(request: HttpRequest) -> dict:
    """`brewery` in every template; None before set-up."""
    return {"brewery": getattr(request, "brewery", None)}
