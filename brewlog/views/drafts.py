"""Forms that take a day to fill in: what is typed is kept until it is recorded.

A form that leads back to a page of its own, as a bottling day, is shared by everyone who works
on that; any other is its person's own. Nothing of it is a record.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.http import QueryDict
from django.utils import timezone

from brewlog.middleware import BreweryRequest
from brewlog.models import PutAside, SubmittedForm, User
from brewlog.views.submissions import TOKEN_FIELD

# The entries that can be put aside. None of them asks for a password.
KEPT = {"bottle"}
# The button's name.
PUT_ASIDE = "put-aside"
# Hidden in the form: which leaving of it is shown.
SEEN = "put-aside-seen"
# In an address: the form comes filled in from a calculation, whatever was put aside.
WORKED_OUT = "worked-out"
_NOT_KEPT = ("csrfmiddlewaretoken", PUT_ASIDE, SEEN, "suggest", "add-rows")
# Of the page, or of whoever sends it, rather than what was planned.
_NOT_TYPED = {TOKEN_FIELD, "then", "when", "done_by"}
_ROWS = "-rows"
_LONGEST = 400
# Longer than any number of a leaving, shorter than what a database cannot hold.
_DIGITS = 18


@dataclass(frozen=True)
class Draft:
    """A form as it was left, when and by whom."""

    typed: QueryDict
    at: dt.datetime
    by: User
    version: int

    @property
    def token(self) -> str:
        return self.typed.get(TOKEN_FIELD, "")


@dataclass(frozen=True)
class Meanwhile:
    """What others wrote into a form after it was shown here, where it says otherwise.

    `wrote` has who left what of each field; `disputed` are those of them written in here too.
    `typed` is this form with what they wrote in the fields nobody wrote in here.
    """

    wrote: dict[str, Draft]
    disputed: frozenset[str]
    typed: QueryDict
    version: int

    def words(self, name: str) -> str:
        """What is to be said at the field."""
        theirs = self.wrote[name]
        value = theirs.typed.get(name, "")
        what = f"wrote “{value}”" if value else "left it empty"
        told = f"{theirs.by} {what} here at {timezone.localtime(theirs.at):%H:%M}."
        if name in self.disputed:
            return f"{told} What you wrote is kept here: send it again to put it in place of that."
        return f"{told} It stands here now: look, then send this again."


def put_aside(request: BreweryRequest, slug: str, then: str) -> Meanwhile | None:
    """Keep what was sent as the newest leaving of that form.

    Where others wrote in it since it was shown, what they wrote stays until somebody who saw it
    puts something else in its place; it is returned.
    """
    if slug not in KEPT:
        return None
    typed = request.POST.copy()
    for name in _NOT_KEPT:
        typed.pop(name, None)
    key = _key(request, slug, then)
    drafts = _drafts(key, _seen(request))
    found = _meanwhile(typed, drafts, _seen(request), request.user.pk)
    for name, theirs in found.wrote.items() if found else ():
        typed.setlist(name, theirs.typed.getlist(name))
    kept = typed.urlencode()
    is_new = not drafts or drafts[-1].typed.urlencode() != kept
    if is_new and not _is_recorded(typed.get(TOKEN_FIELD, "")):
        PutAside.objects.create(key=key, typed=kept, left_by_id=request.user.pk)
    return found


def _meanwhile(typed: QueryDict, drafts: list[Draft], seen: int, person: int) -> Meanwhile | None:
    """Of the leavings from version `seen` on, what others than the person changed."""
    shown = drafts[0].typed if drafts and drafts[0].version == seen else None
    wrote: dict[str, Draft] = {}
    before = shown
    for draft in drafts if shown is None else drafts[1:]:
        if draft.by.pk != person:
            wrote |= dict.fromkeys(_changed(before, draft.typed), draft)
        before = draft.typed
    wrote = {
        name: draft
        for name, draft in wrote.items()
        if _value(draft.typed, name) != _value(typed, name) and not name.endswith(_ROWS)
    }
    if not wrote:
        return None
    # Where nothing was put aside when the form was shown, what stands in it was written here.
    at_first = shown if shown is not None else QueryDict()
    disputed = {name for name in wrote if _value(typed, name) != _value(at_first, name)}
    merged = typed.copy()
    for name in wrote.keys() - disputed:
        merged.setlist(name, wrote[name].typed.getlist(name))
    for name in (name for name in drafts[-1].typed if name.endswith(_ROWS)):
        rows = (merged.get(name, ""), drafts[-1].typed.get(name, ""))
        merged[name] = max(rows, key=lambda each: int(each) if each.isdecimal() else 0)
    return Meanwhile(wrote, frozenset(disputed), merged, drafts[-1].version)


def _changed(before: QueryDict | None, after: QueryDict) -> set[str]:
    blank = QueryDict() if before is None else before
    names = (set(blank) | set(after)) - _NOT_TYPED
    return {name for name in names if _value(blank, name) != _value(after, name)}


def _value(typed: QueryDict, name: str) -> list[str]:
    """What was typed: a field left empty and one that is not there are the same."""
    return [each for each in typed.getlist(name) if each]


def _seen(request: BreweryRequest) -> int:
    sent = request.POST.get(SEEN, "")
    return int(sent) if sent.isascii() and sent.isdigit() and len(sent) < _DIGITS else 0


def _drafts(key: str, since: int = 0) -> list[Draft]:
    """Every leaving of a form from a version on, the oldest first."""
    rows = PutAside.objects.filter(key=key, pk__gte=since).select_related("left_by")
    return [_draft(each) for each in rows.order_by("pk")]


def _draft(kept: PutAside) -> Draft:
    return Draft(QueryDict(kept.typed), kept.left_at, kept.left_by, kept.pk)


def draft_of(request: BreweryRequest, slug: str, then: str) -> Draft | None:
    """What was put aside; None where nothing was, or where it was recorded since."""
    if slug not in KEPT:
        return None
    kept = PutAside.objects.filter(key=_key(request, slug, then)).select_related("left_by")
    newest = kept.order_by("-pk").first()
    if newest is None:
        return None
    found = _draft(newest)
    return None if _is_recorded(found.token) else found


def _is_recorded(token: str) -> bool:
    return SubmittedForm.objects.filter(token=token).exists()


def drop(request: BreweryRequest, slug: str, then: str) -> None:
    """Forget what was put aside."""
    if slug in KEPT:
        PutAside.objects.filter(key=_key(request, slug, then)).delete()


def _key(request: BreweryRequest, slug: str, then: str) -> str:
    return f"{slug} {then or request.user.pk}"[:_LONGEST]
