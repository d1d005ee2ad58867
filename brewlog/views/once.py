"""Carrying out what was sent, once: for an entry's page and for each row of a round."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.urls import reverse

from brewlog.domain.looking import look_at, lots_touched
from brewlog.entries.base import Entry
from brewlog.middleware import BreweryRequest
from brewlog.models import ReviewFlag, SubmittedForm
from brewlog.recording import recording
from brewlog.views.entry_page import EntryPage
from brewlog.views.links import after_url
from brewlog.views.submissions import Sending, earlier_sending, remember


@dataclass(frozen=True)
class Done:
    """What a verb wrote, the flags it raised, and in words what came of looking at its lots."""

    records: list[Any]
    address: str
    raised: list[ReviewFlag]
    seen: list[str]


def record_once(
    request: BreweryRequest, page: EntryPage[Entry], sending: Sending, then: str = ""
) -> Done | SubmittedForm:
    """Carry out a valid page's verb; the token, the verb and its flags are one transaction.

    It leads to the page of what was recorded, or to `then`. Gives back the earlier sending
    where the same form was recorded before. Raises `ValidationError` where the verb refuses;
    nothing is kept then.
    """
    # The write lock is held from here: a second sending waits, then finds the first.
    with recording(request.user):
        return earlier_sending(sending) or _carry_out(request, page, sending, then)


def _carry_out(
    request: BreweryRequest, page: EntryPage[Entry], sending: Sending, then: str
) -> Done:
    newest = ReviewFlag.objects.order_by("-id").values_list("id", flat=True).first() or 0
    arguments = page.arguments()
    result = page.entry.verb(actor=request.user, **arguments)
    records = list(result) if isinstance(result, list | tuple) else [result]
    seen = look_at(request.user, lots_touched([*arguments.values(), *records]))
    leads_to = page.entry.leads_to
    address = then or (reverse(leads_to) if leads_to else after_url(records[0]))
    remember(sending, request.user, address)
    raised = list(ReviewFlag.objects.filter(id__gt=newest).select_related("lot").order_by("id"))
    return Done(records, address, raised, seen)
