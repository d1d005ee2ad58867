"""Who is at work on a shared device: changed by a tap and a PIN, and nothing typed is lost.

What stood in a form goes along from page to page as it was sent, without passwords, and is
shown in its form again under the new name.
"""

from __future__ import annotations

import copy
import json
from dataclasses import dataclass
from typing import Any

from django.contrib.auth import authenticate, login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme, urlencode
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from brewlog.models import User
from brewlog.views import chosen

_NOT_KEPT = {
    "csrfmiddlewaretoken", "password", "current", "again", "pin", "save", "back_to", "add-rows",
}  # fmt: skip
_WRONG = "That is not the PIN of {}. Try again."
_TOO_MANY = (
    "Too many wrong PINs. For a quarter of an hour {} is let in here neither by PIN nor by "
    "password. If it was not you who typed them, tell the manager."
)


@dataclass(frozen=True)
class Kept:
    """A form as it was sent: to where, what stood in it, and under whose name."""

    path: str
    fields: list[tuple[str, str]]
    by: str

    @property
    def text(self) -> str:
        return json.dumps([self.path, self.fields, self.by])

    def for_person(self, person: User) -> list[tuple[str, str]]:
        """The fields for someone else: what was filled in as done by the first is theirs now."""
        return [
            (name, person.get_username() if name == "done_by" and value == self.by else value)
            for name, value in self.fields
        ]


def _keep(request: HttpRequest, path: str, by: str) -> Kept:
    fields = [
        (name, value)
        for name, values in request.POST.lists()
        if name not in _NOT_KEPT
        for value in values
        if not name.endswith(chosen.REFERENCE)
    ]
    return Kept(path, [*fields, *chosen.carried(request)], by)


def _kept_in(text: str) -> Kept | None:
    """What an earlier page wrote; None for anything else."""
    try:
        path, fields, by = json.loads(text)
        found = Kept(str(path), [(str(name), str(value)) for name, value in fields], str(by))
    except (ValueError, TypeError):
        return None
    return found if _is_ours(found.path) else None


def _is_ours(path: str) -> bool:
    return path.startswith("/") and url_has_allowed_host_and_scheme(path, None)


class LogInMiddleware(LoginRequiredMiddleware):
    """Everyone is logged in. On a shared device nobody is sent to type a user name."""

    def handle_no_permission(  # type: ignore[override]
        self, request: Any, view_func: Any
    ) -> HttpResponse:
        if request.device is None:
            return super().handle_no_permission(request, view_func)
        path = request.get_full_path()
        if request.method == "POST":
            return _names(request, _keep(request, path, request.left_by))
        return redirect(f"{reverse('who')}?{urlencode({'next': path})}")


@login_not_required
@never_cache
@sensitive_post_parameters()
def who(request: Any) -> HttpResponse:
    """The names to tap; then the PIN; then the page, or the form as it was left."""
    if request.device is None:
        raise Http404("This device is not shared. A manager can share it.")
    if request.method != "POST":
        return _names(request, None)
    if "back_to" in request.POST:
        path = request.POST["back_to"]
        by = request.user.get_username()
        return _names(request, _keep(request, path, by) if _is_ours(path) else None)
    kept = _kept_in(request.POST.get("kept", ""))
    person = _people().filter(username=request.POST.get("person", "")).first()
    if person is None:
        return _names(request, kept)
    pin = request.POST.get("pin")
    if pin is None:
        return _ask(request, person, kept)
    return _take_over(request, person, pin, kept)


def _take_over(request: Any, person: User, pin: str, kept: Kept | None) -> HttpResponse:
    # On a copy: axes marks a request that is locked out, and its page takes the form's place.
    asked = copy.copy(request)
    found = authenticate(asked, username=person.get_username(), pin_password=pin)
    if found is None:
        locked = getattr(asked, "axes_locked_out", False)
        words = (_TOO_MANY if locked else _WRONG).format(person)
        return _ask(request, person, kept, words)
    login(request, found)
    if kept is None:
        path = request.POST.get("next", "")
        return redirect(path if _is_ours(path) else "home")
    context = {"kept": kept, "fields": kept.for_person(person)}
    return render(request, "brewlog/who_goes_on.html", context)


def _people() -> QuerySet[User]:
    """Who has a PIN and works here."""
    working = User.objects.filter(is_active=True, groups__isnull=False).exclude(pin="")
    return working.order_by("first_name", "last_name", "username")


def _names(request: Any, kept: Kept | None) -> HttpResponse:
    context = {"people": _people(), "kept": kept, "next": _next(request)}
    response = render(request, "brewlog/who.html", context)
    if request.headers.get("HX-Request"):
        # A script asked for a part of a page; nobody is there to be shown it.
        response["HX-Retarget"], response["HX-Reswap"] = "body", "innerHTML"
    return response


def _ask(request: Any, person: User, kept: Kept | None, problem: str = "") -> HttpResponse:
    context = {"person": person, "kept": kept, "next": _next(request), "problem": problem}
    return render(request, "brewlog/who_pin.html", context)


def _next(request: Any) -> str:
    asked = request.POST if request.method == "POST" else request.GET
    path = asked.get("next", "")
    return path if _is_ours(path) else ""
