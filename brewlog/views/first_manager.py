"""The first manager of a new brewery, made in the browser by whoever started the server."""

from __future__ import annotations

from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from brewlog import setup_code
from brewlog.domain.people import first_manager
from brewlog.forms.people import FirstManagerForm
from brewlog.models import User
from brewlog.views.entry_page import form_problems, refuse_form

_PASSWORDS = "django.contrib.auth.backends.ModelBackend"


def may_begin() -> bool:
    """Whether nobody is there yet and this server printed a code."""
    return setup_code.is_open() and not User.objects.exists()


@never_cache
@login_not_required
@sensitive_post_parameters()
def first_manager_page(request: HttpRequest) -> HttpResponse:
    """Make the first manager and log them in. Once there is anyone, there is no such page."""
    if not may_begin():
        raise Http404("Somebody can log in already, or this server printed no set-up code.")
    form = FirstManagerForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            person = first_manager(**form.cleaned_data)
        except ValidationError as error:
            refuse_form(form, error)
        else:
            setup_code.use_up()
            login(request, person, backend=_PASSWORDS)
            return redirect("home")
    context = {"form": form, "problems": form_problems(form), "is_open": setup_code.is_open()}
    return render(request, "brewlog/first_manager.html", context)
