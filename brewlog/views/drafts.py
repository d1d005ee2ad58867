"""Forms that take a day to fill in: what is typed is kept until it is recorded.

A form that leads back to a page of its own, as a bottling day, is shared by everyone who works
on that; any other is its person's own. Nothing of it is a record.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.http import QueryDict

from brewlog.middleware import BreweryRequest
from brewlog.models import PutAside, SubmittedForm, User
from brewlog.views.submissions import TOKEN_FIELD

# The entries that can be put aside. None of them asks for a password.
KEPT = {"bottle"}
# The button's name.
PUT_ASIDE = "put-aside"
# In an address: the form comes filled in from a calculation, whatever was put aside.
WORKED_OUT = "worked-out"
_NOT_KEPT = ("csrfmiddlewaretoken", PUT_ASIDE, "suggest", "add-rows")
_LONGEST = 400


@dataclass(frozen=True)
class Draft:
    """A form as it was left, when and by whom."""

    typed: QueryDict
    at: dt.datetime
    by: User

    @property
    def token(self) -> str:
        return self.typed.get(TOKEN_FIELD, "")


def put_aside(request: BreweryRequest, slug: str, then: str) -> None:
    """Keep what was sent, in place of what was kept of that form before."""
    if slug not in KEPT:
        return
    typed = request.POST.copy()
    for name in _NOT_KEPT:
        typed.pop(name, None)
    PutAside.objects.update_or_create(
        key=_key(request, slug, then),
        defaults={"typed": typed.urlencode(), "left_by_id": request.user.pk},
    )


def draft_of(request: BreweryRequest, slug: str, then: str) -> Draft | None:
    """What was put aside; None where nothing was, or where it was recorded since."""
    if slug not in KEPT:
        return None
    kept = PutAside.objects.filter(key=_key(request, slug, then)).select_related("left_by").first()
    if kept is None:
        return None
    found = Draft(QueryDict(kept.typed), kept.left_at, kept.left_by)
    return None if SubmittedForm.objects.filter(token=found.token).exists() else found


def drop(request: BreweryRequest, slug: str, then: str) -> None:
    """Forget what was put aside."""
    if slug in KEPT:
        PutAside.objects.filter(key=_key(request, slug, then)).delete()


def _key(request: BreweryRequest, slug: str, then: str) -> str:
    return f"{slug} {then or request.user.pk}"[:_LONGEST]
