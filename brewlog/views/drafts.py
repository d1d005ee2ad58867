"""Forms that take a day to fill in: what is typed is kept until it is recorded.

For each person, by the form and the page it leads back to. Nothing of it is a record.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.http import QueryDict
from django.utils import timezone

from brewlog.middleware import BreweryRequest
from brewlog.models import SubmittedForm
from brewlog.views.submissions import TOKEN_FIELD

# The entries that can be put aside. None of them asks for a password.
KEPT = {"bottle"}
# The button's name.
PUT_ASIDE = "put-aside"
_IN_SESSION = "drafts"
_NOT_KEPT = ("csrfmiddlewaretoken", PUT_ASIDE, "suggest", "add-rows")
_MOST = 10


@dataclass(frozen=True)
class Draft:
    """A form as it was left."""

    typed: QueryDict
    at: dt.datetime

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
    drafts = request.session.get(_IN_SESSION, {})
    drafts.pop(_key(slug, then), None)
    drafts[_key(slug, then)] = [typed.urlencode(), timezone.now().isoformat()]
    request.session[_IN_SESSION] = dict(list(drafts.items())[-_MOST:])


def draft_of(request: BreweryRequest, slug: str, then: str) -> Draft | None:
    """What was put aside; None where nothing was, or where it was recorded since."""
    kept = request.session.get(_IN_SESSION, {}).get(_key(slug, then))
    if kept is None:
        return None
    found = Draft(QueryDict(kept[0]), dt.datetime.fromisoformat(kept[1]))
    return None if SubmittedForm.objects.filter(token=found.token).exists() else found


def drop(request: BreweryRequest, slug: str, then: str) -> None:
    """Forget what was put aside."""
    drafts = request.session.get(_IN_SESSION, {})
    if drafts.pop(_key(slug, then), None) is not None:
        request.session[_IN_SESSION] = drafts


def _key(slug: str, then: str) -> str:
    return f"{slug} {then}"
