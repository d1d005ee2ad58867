"""The page of a person: role, and what changed about it."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from brewlog.models import Role, User
from brewlog.views.access import READ, needs
from brewlog.views.details import Link, Next, Section, next_links, tables_of
from brewlog.views.events import RecordLink
from brewlog.views.facts import Fact
from brewlog.views.lists import Column, get
from brewlog.views.reader import reader_of

_ROLE_CHANGES = Section(
    "Roles",
    (
        Column("written", "Written", lambda each: RecordLink(each.recorded_at, each)),
        Column("before", "Before", get("role_before")),
        Column("after", "After", get("role_after")),
        Column("by", "By", get("recorded_by")),
    ),
    lambda person: person.role_changes.select_related("recorded_by").order_by("-id"),
)


def _user_name(person: User) -> str:
    return person.username


_NEXT = (
    Next("password", "person", sensible=lambda person: person.is_active, value=_user_name),
    Next("role", "person", sensible=lambda person: person.is_active, value=_user_name),
    Next("deactivate", "person", sensible=lambda person: person.is_active, value=_user_name),
    Next("reactivate", "person", sensible=lambda person: not person.is_active, value=_user_name),
)


@require_safe
@needs(READ)
def person_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """A person, without anything an account keeps to itself."""
    person = get_object_or_404(User, pk=pk)
    roles = dict(Role.choices)
    is_own = person.pk == request.user.pk
    own = (
        [
            Link("Change your password", reverse("own-password")),
            Link("Choose your PIN", reverse("entry", args=["pin"])),
            Link("Choose your units and dates", reverse("entry", args=["units"])),
        ]
        if is_own
        else []
    )
    offered = [each for each in _NEXT if not (is_own and each.slug == "password")]
    context = {
        "here": "records",
        "person": person,
        "facts": [
            Fact("User name", person.username),
            Fact("Role", roles.get(person.role, "none")),
            Fact("Working here", person.is_active),
            Fact("Password", person.password_standing),
            Fact("PIN for shared devices", "chosen" if person.pin else "none yet"),
            Fact("Units", person.get_units_display()),
            Fact("Dates", person.get_date_order_display()),
            Fact("Last logged in", person.last_login),
        ],
        "tables": tables_of((_ROLE_CHANGES,), person, reader_of(request)),
        "next": [*own, *next_links(request, person, offered)],
    }
    return render(request, "brewlog/person.html", context)
