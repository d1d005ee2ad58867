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
from django.views.decorators.http import require_http_methods, require_safe

from brewlog.ledger import ids_in
from brewlog.middleware import BreweryRequest
from brewlog.models import Checkpoint, Lot, User
from brewlog.models.lots import DESCRIBED
from brewlog.recording import Refused, reading, recording
from brewlog.views.access import READ, needs, require
from brewlog.views.access import REVIEW as MAY_REVIEW
from brewlog.views.lists import Column
from brewlog.views.passwords import refuse_wrong_password
from brewlog.views.reader import Words
from brewlog.views.submissions import earlier_sending, new_token, remember, sending_of
from compliance.assessment import assess
from compliance.domain.keeping import MOST_AT_ONCE
from compliance.domain.releases import ReviewDue, review, reviews_due, unreviewed
from compliance.domain.signing import Confirmed, confirm
from compliance.models import policy
from compliance.views.computed import download, paged
from compliance.views.wording import measured, sentence

MOST_TOGETHER = 25
MOST_READINGS = 8
# As many characters as a signature's statement holds.
MOST_WORDS = 200


@dataclass
class Waiting:
    """A lot on the page: what is due, what is out of the ordinary, and what was typed."""

    due: ReviewDue
    what: str
    readings: list[str] = field(default_factory=list)
    late: int = 0
    exceptions: list[str] = field(default_factory=list)
    ticked: bool = False
    remark: str = ""
    wrong: str = ""

    @property
    def lot(self) -> Lot:
        return self.due.lot

    @property
    def mark(self) -> str:
        """The lot with how many readings stand here: one more is not signed unseen."""
        return f"{self.lot.pk}:{len(self.readings)}"

    @property
    def shown(self) -> str:
        """Its readings, the first of them where there are many."""
        more = len(self.readings) - MOST_READINGS
        listed = ", ".join(self.readings[:MOST_READINGS])
        return f"{listed} and {more} more" if more > 0 else listed


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@sensitive_post_parameters("password")
@needs(READ)
def reviews(request: BreweryRequest) -> HttpResponse:
    """The lots whose records wait for a review, the most pressing first."""
    if request.method == "POST":
        require(request, MAY_REVIEW)
        return _sign(request)
    return _show(request, *_waiting(request))


COLUMNS = (
    Column("lot", "Lot", lambda row: row.lot.code),
    Column("what", "What", lambda row: row.what),
    Column("due", "Due", lambda row: row.due.due),
    Column("state", "Standing", lambda row: "late" if row.due.is_late else "in time"),
    Column("count", "Readings", lambda row: len(row.readings), number=True),
    Column("late", "Written late", lambda row: row.late, number=True),
    Column("readings", "What was read", lambda row: "; ".join(row.readings)),
    Column("exceptions", "Out of the ordinary", lambda row: Words("; ".join(row.exceptions))),
)


@require_safe
@needs(READ)
def reviews_download(request: BreweryRequest, ending: str) -> HttpResponse:
    """Every lot whose records wait for a review, as a file."""
    with reading():
        due = unreviewed()
        pieces = (due[at : at + MOST_AT_ONCE] for at in range(0, len(due), MOST_AT_ONCE))
        rows = [row for piece in pieces for row in _looked_through(request, piece)]
    return download(request, "Reviews due", COLUMNS, rows, ending)


def _waiting(request: BreweryRequest) -> tuple[list[Waiting], dict[str, Any]]:
    """One page of what is due, each lot with its readings and its exceptions."""
    pages = paged(request, unreviewed(), MOST_TOGETHER)
    return _looked_through(request, pages["page"]), pages


def _looked_through(request: BreweryRequest, waiting: Iterable[int]) -> list[Waiting]:
    """Those lots, each with its readings and its exceptions."""
    due = reviews_due(waiting)
    lots = Lot.objects.select_related(*DESCRIBED).in_bulk([each.lot.pk for each in due])
    rows = [
        Waiting(each, lots[each.lot.pk].detail.describe())  # type: ignore[attr-defined]
        for each in due
    ]
    _look_through(request.user, rows)
    return rows


def _look_through(person: User, rows: Sequence[Waiting]) -> None:
    """Put beside each lot what was read since its last review, and what stands out."""
    by_lot = {row.lot.pk: row for row in rows}
    for finding in assess([row.lot for row in rows]).findings:
        by_lot[finding.lot.pk].exceptions.append(f"{finding.limit.title}: {sentence(finding.text)}")
    readings = Checkpoint.objects.filter(lot__in=ids_in(by_lot)).order_by("happened_at", "id")
    for each in readings:
        row = by_lot[each.lot_id]  # type: ignore[index]
        if each.recorded_at >= row.due.oldest:
            _add(row, each, person)


def _add(row: Waiting, reading: Checkpoint, person: User) -> None:
    own = "You took some of these readings"
    if reading.is_void:
        row.exceptions.append(f"Struck out: {reading.value_text}, {reading.void_reason}")
        return
    row.readings.append(f"{measured(reading.get_measurand_display())} {reading.value_text}")
    row.late += reading.is_late
    if reading.done_by_id == person.pk and own not in row.exceptions:
        row.exceptions.append(own)


def exceptions_of(person: User, lot: Lot) -> list[str]:
    """What stands out in the records of one lot that wait for a review."""
    rows = [Waiting(due, "") for due in reviews_due(unreviewed(among=[lot.pk]))]
    _look_through(person, rows)
    return [each for row in rows for each in row.exceptions]


def _show(
    request: BreweryRequest,
    rows: list[Waiting],
    pages: dict[str, Any],
    problems: Iterable[str] = (),
    token: str = "",
) -> HttpResponse:
    plain = [each for each in rows if not each.exceptions]
    context = {
        "here": "limits",
        "tab": "reviews",
        "rows": rows,
        "plain": plain,
        "plain_ticked": bool(plain) and all(each.ticked for each in plain),
        "others": [each for each in rows if each.exceptions],
        "policy": policy(),
        "problems": list(problems),
        "token": token or new_token(),
        "signs": request.user.has_perm(MAY_REVIEW),
        **pages,
    }
    return render(request, "compliance/reviews.html", context)


def _sign(request: BreweryRequest) -> HttpResponse:
    """Sign every ticked lot, or none: a lot with exceptions needs words about them."""
    sending = sending_of(request)
    rows, pages = _waiting(request)
    _read_ticks(request, rows)
    signed: list[Lot] = []
    try:
        password = request.POST.get("password", "")
        refuse_wrong_password(request, "password", password)
        confirmed = confirm(request.user, password)
        with recording(request.user):
            earlier = earlier_sending(sending)
            if earlier is None:
                signed = _sign_ticked(request, rows, confirmed)
                remember(sending, request.user, reverse("reviews"))
    except ValidationError as error:
        return _show(request, rows, pages, error.messages, sending.token)
    if earlier is not None:
        messages.info(request, "This form was sent twice. It is recorded once, as shown here.")
        return redirect(earlier.result_url)
    codes = ", ".join(lot.code for lot in signed)
    messages.success(request, f"Reviewed and signed: {codes}.")
    return redirect("reviews")


def _read_ticks(request: BreweryRequest, rows: Sequence[Waiting]) -> None:
    """What was ticked: together only lots that stood on the page as they stand now."""
    together = request.POST.getlist("together") if request.POST.get("sign-together") else []
    for each in rows:
        own = request.POST.get(f"sign-{each.lot.pk}") == "on"
        each.ticked = own if each.exceptions else each.mark in together
        each.remark = request.POST.get(f"remark-{each.lot.pk}", "").strip()


def _sign_ticked(
    request: BreweryRequest, rows: Sequence[Waiting], confirmed: Confirmed
) -> list[Lot]:
    ticked = [each for each in rows if each.ticked]
    if not ticked:
        raise Refused("Tick the lots whose records you looked at, as they stand here now.")
    for each in ticked:
        if each.exceptions and not each.remark:
            each.wrong = "Say what you make of what is out of the ordinary."
        elif len(each.remark) > MOST_WORDS:
            each.wrong = f"Write at most {MOST_WORDS} characters."
    if any(each.wrong for each in ticked):
        raise Refused("Some lots need words of their own, as marked below. Nothing was signed.")
    for each in ticked:
        try:
            review(actor=request.user, lot=each.lot, password=confirmed, remark=each.remark)
        except ValidationError as error:
            each.wrong = " ".join(error.messages)
            raise
    return [each.lot for each in ticked]
