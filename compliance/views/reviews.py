"""Reviews that are due: the clock, the exceptions one by one, and signing many together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from brewlog.ledger import ids_in
from brewlog.middleware import BreweryRequest
from brewlog.models import Checkpoint, Lot, User
from brewlog.recording import Refused, recording
from brewlog.views.access import READ, needs, require
from brewlog.views.access import REVIEW as MAY_REVIEW
from brewlog.views.offers import DESCRIBED
from brewlog.views.submissions import earlier_sending, new_token, remember, sending_of
from compliance.assessment import assess
from compliance.domain.releases import ReviewDue, review, reviews_due
from compliance.models import policy
from compliance.views.computed import paged

MOST_TOGETHER = 25


@dataclass
class Waiting:
    """A lot on the page: what is due, what is out of the ordinary, and what was typed."""

    due: ReviewDue
    what: str
    exceptions: list[str] = field(default_factory=list)
    ticked: bool = False
    remark: str = ""
    wrong: str = ""

    @property
    def lot(self) -> Lot:
        return self.due.lot


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@sensitive_post_parameters("password")
@needs(READ)
def reviews(request: BreweryRequest) -> HttpResponse:
    """The lots whose records wait for a review, the most pressing first."""
    if request.method == "POST":
        require(request, MAY_REVIEW)
        return _sign(request)
    return _show(request, _waiting(request.user, reviews_due(), request))


def _waiting(
    person: User, due: Sequence[ReviewDue], request: BreweryRequest
) -> tuple[list[Waiting], dict[str, Any]]:
    """One page of what is due, each lot with its exceptions. What has none begins ticked."""
    pages = paged(request, due, MOST_TOGETHER)
    shown = list(pages["page"])
    exceptions = exceptions_of(person, [each.lot for each in shown])
    lots = Lot.objects.select_related(*DESCRIBED).in_bulk([each.lot.pk for each in shown])
    waiting = [
        Waiting(each, lots[each.lot.pk].detail.describe(), exceptions[each.lot.pk])  # type: ignore[attr-defined]
        for each in shown
    ]
    for each in waiting:
        each.ticked = not each.exceptions
    return waiting, pages


def exceptions_of(person: User, lots: Sequence[Lot]) -> dict[int, list[str]]:
    """What is out of the ordinary about each lot's records, in words."""
    found: dict[int, list[str]] = {lot.pk: [] for lot in lots}
    for finding in assess(lots).findings:
        found[finding.lot.pk].append(f"{finding.limit.title}: {finding.text}")
    late: dict[int, int] = {}
    readings = Checkpoint.objects.filter(lot__in=ids_in(found)).order_by("id")
    for reading in readings:
        key = reading.lot_id
        assert key is not None
        if reading.is_void:
            found[key].append(f"struck out: {reading.value_text}, {reading.void_reason}")
        elif reading.is_late:
            late[key] = late.get(key, 0) + 1
        if reading.done_by_id == person.pk and not reading.is_void:
            own = "you took some of these readings"
            if own not in found[key]:
                found[key].append(own)
    for key, count in late.items():
        found[key].append(f"{count} written late")
    return found


def _show(
    request: BreweryRequest,
    waiting: tuple[list[Waiting], dict[str, Any]],
    problems: Iterable[str] = (),
    token: str = "",
) -> HttpResponse:
    rows, pages = waiting
    context = {
        "here": "limits",
        "tab": "reviews",
        "rows": rows,
        "late": sum(each.due.is_late for each in rows),
        "policy": policy(),
        "problems": list(problems),
        "token": token or new_token(),
        "signs": request.user.has_perm(MAY_REVIEW),
        **pages,
    }
    return render(request, "compliance/reviews.html", context)


def _sign(request: BreweryRequest) -> HttpResponse:
    """Sign every ticked lot, or none: a lot with exceptions needs words about them."""
    rows, pages = _waiting(request.user, reviews_due(), request)
    for each in rows:
        each.ticked = request.POST.get(f"sign-{each.lot.pk}") == "on"
        each.remark = request.POST.get(f"remark-{each.lot.pk}", "").strip()
    sending = sending_of(request)
    try:
        with recording(request.user):
            earlier = earlier_sending(sending)
            if earlier is None:
                signed = _sign_ticked(request, rows)
                remember(sending, request.user, reverse("reviews"))
    except ValidationError as error:
        return _show(request, (rows, pages), error.messages, sending.token)
    if earlier is not None:
        messages.info(request, "This form was sent twice. It is recorded once, as shown here.")
        return redirect(earlier.result_url)
    codes = ", ".join(lot.code for lot in signed)
    messages.success(request, f"Reviewed and signed: {codes}.")
    return redirect("reviews")


def _sign_ticked(request: BreweryRequest, rows: Sequence[Waiting]) -> list[Lot]:
    ticked = [each for each in rows if each.ticked]
    if not ticked:
        raise Refused("Tick the lots whose records you looked at. Those signed already are gone.")
    for each in ticked:
        if each.exceptions and not each.remark:
            each.wrong = "Say what you make of what is out of the ordinary."
        elif len(each.remark) > 200:
            each.wrong = "Write at most 200 characters."
    if any(each.wrong for each in ticked):
        raise Refused("Some lots need words of their own, as marked below. Nothing was signed.")
    password = request.POST.get("password", "")
    for each in ticked:
        try:
            review(actor=request.user, lot=each.lot, password=password, remark=each.remark)
        except ValidationError as error:
            if "password" not in getattr(error, "error_dict", {}):
                each.wrong = " ".join(error.messages)
            raise
    return [each.lot for each in ticked]
