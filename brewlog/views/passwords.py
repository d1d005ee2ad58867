"""Passwords entered again: one's own changed, and guesses counted as at log-in."""

from __future__ import annotations

import copy

from django import forms
from django.contrib import messages
from django.contrib.auth import authenticate, update_session_auth_hash
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from brewlog.domain.people import change_password
from brewlog.forms.fields import OwnPasswordField
from brewlog.forms.people import OwnPasswordForm
from brewlog.middleware import BreweryRequest
from brewlog.recording import Refused
from brewlog.views.entry_page import form_problems, refuse_form

_WRONG = "That is not your password. Nothing was signed."
_NO_PIN = "A PIN takes over a shared device; it signs nothing: type your password."
_TOO_MANY = (
    "Too many wrong passwords. From here your password is not taken for a quarter of an hour, "
    "neither to sign nor to log in. If it was not you who typed them, tell the manager."
)


def refuse_wrong_password(
    request: BreweryRequest, field: str, password: str, wrong: str = _WRONG
) -> None:
    """Check the password of whoever is logged in. A wrong one counts as one at log-in does.

    Raises `Refused` on the field. Call it before the recording: what is refused there is
    undone, and the count with it.
    """
    # On a copy: axes marks a request that is locked out, and its page takes the form's place.
    asked = copy.copy(request)
    if authenticate(asked, username=request.user.get_username(), password=password) is None:
        locked = getattr(asked, "axes_locked_out", False)
        if not locked and password.isdigit():
            wrong = f"{wrong} {_NO_PIN}"
        raise Refused({field: _TOO_MANY if locked else wrong})


def refuse_wrong_passwords(request: BreweryRequest, form: forms.Form) -> None:
    """The same for a form that signs with the password."""
    for name, field in form.fields.items():
        if isinstance(field, OwnPasswordField):
            refuse_wrong_password(request, name, form.cleaned_data[name])


@never_cache
@sensitive_post_parameters()
def own_password(request: BreweryRequest) -> HttpResponse:
    """Choose one's own password: asked of everyone who was given one by a manager."""
    form = OwnPasswordForm(request.POST or None, actor=request.user, brewery=request.brewery)
    if request.method == "POST" and form.is_valid():
        try:
            current = form.cleaned_data["current"]
            refuse_wrong_password(request, "current", current, "That is not your password.")
            change_password(actor=request.user, **form.cleaned_data)
        except ValidationError as error:
            refuse_form(form, error)
        else:
            update_session_auth_hash(request, request.user)
            messages.success(
                request, "Your password is changed. It also signs for you from now on."
            )
            return redirect("home")
    context = {"form": form, "problems": form_problems(form)}
    return render(request, "brewlog/own_password.html", context)
